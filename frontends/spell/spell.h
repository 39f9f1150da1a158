/* hyoid spell: English text -> a score.
 *
 *     text -> plain (characters) -> tokens (words and marks) -> front (words to phones) -> rules (phones to codes)
 *          -> tune (inflection levels) -> score
 *
 * Every table that decides something is a file in reference/spell, compiled in. docs/spell.md tells it in words. */
#ifndef HY_SPELL_H
#define HY_SPELL_H

#include <stddef.h>
#include <stdio.h>

#include "diag.h"

int hy_spell_main(int argc, char **argv);

/* Tables and lexicon, ready for any number of texts. */
typedef struct hy_speller hy_speller;

/* Null on error: the program may have been built without a lexicon. */
hy_speller *hy_speller_new(hy_diag *diag);
void hy_speller_free(hy_speller *speller); /* null is allowed */

/* Whether the program was built with a lexicon. */
int hy_speller_built_in(void);

enum { HY_SPELL_TEXT_MAX = 1 << 20 }; /* bytes */

/* One word as it will be said. The strings last until the callback returns. */
typedef struct hy_spelled {
    const char *text;            /* as it stands in the input; empty for the second and further words of one token */
    const char *said;            /* the word that was looked up; for a mark the mark itself */
    const char *arpabet;         /* phones, vowels with their stress; empty for a mark */
    const char *codes;           /* as score text, without levels */
    const unsigned short *rules; /* rows of arpabet_to_codes.csv that gave the codes, counted from 1 */
    size_t rule_count;
} hy_spelled;

typedef struct hy_spell_options {
    int level;                                           /* 0..3, from which inflection rises and falls */
    int flat;                                            /* stay there */
    void (*word)(void *user, const hy_spelled *spelled); /* or null */
    void (*note)(void *user, const char *text);          /* what could not be said; or null */
    void *user;
} hy_spell_options;

/* Writes the score of a text (UTF-8) to `score`, which may be null. 0, or -1: nothing in it can be said, or it is too long. */
int hy_spell(hy_speller *speller, const char *text, size_t size, const hy_spell_options *options, FILE *score,
             hy_diag *diag);

#endif
