/* Plain text -> words to look up, and marks. Abbreviations, symbols, numbers, amounts and times become words here. */
#ifndef HY_SPELL_TOKENS_H
#define HY_SPELL_TOKENS_H

#include <stddef.h>

#include "plain.h"
#include "tables.h"

enum { HY_WORD_LETTERS = 50 }; /* longer words are spelled out; the longest in dictionaries has 45 */

typedef struct hy_said {
    char text[HY_WORD_LETTERS + 14];
    int letter;      /* the name of this letter is said, not the word */
    int by_rule;     /* letter-to-sound rules pronounce it; set later */
    size_t from, to; /* the token in the plain text */
} hy_said;

typedef struct hy_token_sink {
    int (*word)(void *user, const hy_said *said); /* 0, or -1 to stop */
    int (*mark)(void *user, char mark);
    hy_note *note; /* or null */
    void *user;
} hy_token_sink;

/* 0, or -1 when the sink stopped it. */
int hy_tokens(const hy_plain *plain, const hy_spell_tables *tables, const hy_token_sink *sink);

#endif
