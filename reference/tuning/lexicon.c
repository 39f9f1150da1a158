#include "lexicon.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "../../frontends/spell/spell.h"
#include "score.h"

/* The codes of a score, in order. */
static size_t codes_of(char *text, size_t size, uint8_t codes[WORD_CODES_MAX])
{
    hy_diag diag = {""};
    FILE *in = fmemopen(text, size, "r");
    hy_score *score = in != NULL ? hy_score_read(in, "a word", &diag) : NULL;
    if (score == NULL) {
        fprintf(stderr, "%s\n", diag.text);
        exit(2);
    }
    fclose(in);
    size_t count = 0;
    hy_action action;
    hy_score_rewind(score);
    while (count < WORD_CODES_MAX && hy_score_next(score, &action)) {
        if (action.kind == HY_SAY) {
            codes[count++] = (uint8_t)action.number;
        }
    }
    hy_score_free(score);
    return count;
}

size_t word_codes(const char *word, uint8_t codes[WORD_CODES_MAX])
{
    static hy_speller *speller;
    hy_diag diag = {""};
    if (speller == NULL) {
        speller = hy_speller_new(&diag);
    }
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (speller == NULL || out == NULL) {
        fprintf(stderr, "%s\n", diag.text);
        exit(2);
    }
    const hy_spell_options options = {.level = 1, .flat = 1};
    const int status = hy_spell(speller, word, strlen(word), &options, out, &diag);
    fclose(out);
    size_t count = status == 0 ? codes_of(text, size, codes) : 0;
    free(text);
    while (count > 0 && hyoid_part_default()->phoneme[codes[count - 1]].pause) {
        count--;
    }
    return count;
}
