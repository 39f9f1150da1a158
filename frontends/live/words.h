/* A command's line as words, and what words can mean. Errors are told as "found X; expected Y". */
#ifndef HY_WORDS_H
#define HY_WORDS_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

typedef struct hy_words {
    const char *rest; /* what follows the words taken so far */
    const char *word; /* the one taken last */
    size_t length;
    hy_diag *diag;
} hy_words;

int hy_words_next(hy_words *w); /* 0: there is none */
int hy_words_is(const hy_words *w, const char *name);
int hy_words_expected(hy_words *w, const char *what); /* fails: -1 */
int hy_words_end(hy_words *w);                        /* nothing more may stand there */

/* Each takes the next word: 0, or -1. Times of at least `least` ps; "over" and a time above 0; a clock in Hz; on, off or
 * nothing (HY_TOGGLED). */
int hy_words_span(hy_words *w, int64_t least, int64_t *ps);
int hy_words_over(hy_words *w, int64_t *ps);
int hy_words_hz(hy_words *w, double *hz);
int hy_words_switch(hy_words *w, int *on);

/* Whether the word taken last is a signed decimal with this unit behind it. */
int hy_words_signed(const hy_words *w, const char *unit, double *value);

#endif
