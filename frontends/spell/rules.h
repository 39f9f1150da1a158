/* Phones to codes, by the rows of reference/spell/arpabet_to_codes.csv: of the rows for a phone the first that fits wins.
 *
 * Contexts are conditions that must all hold, separated by spaces; ! in front turns one around.
 *     initial, final    first, last phone of its word
 *     more              further syllables follow in the word
 *     last              in the last syllable before a mark or the end
 *     coda:vl, coda:vd  the first obstruent behind this vowel in its syllable is voiceless, voiced
 *     prev:X to prev3:X, next:X to next3:X   neighbours, word boundaries ignored
 * X is phones or classes, separated by |: V vowel, V0 unstressed, V1 stressed, C consonant, vl, vd obstruents, stop, cor made
 * with the tip of the tongue, pause. */
#ifndef HY_SPELL_RULES_H
#define HY_SPELL_RULES_H

#include "phrase.h"

typedef struct hy_rules hy_rules;

hy_rules *hy_rules_read(hy_diag *diag);
void hy_rules_free(hy_rules *rules);
size_t hy_rules_count(const hy_rules *rules);

/* Fills phrase->codes but for levels. */
int hy_rules_apply(const hy_rules *rules, hy_phrase *phrase, hy_diag *diag);

/* A code as a score writes it. */
typedef struct hy_code_text {
    char text[16];
} hy_code_text;
hy_code_text hy_code_name(unsigned code);

#endif
