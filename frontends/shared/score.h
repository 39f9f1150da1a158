/* The score: what a host shall say, as text (grammar: docs/formats.md). Parsing gives a list of statements; a cursor walks it
 * with repeats and babble expanded one action at a time, so that length costs no memory. */
#ifndef HY_SCORE_H
#define HY_SCORE_H

#include <stdint.h>
#include <stdio.h>

#include "diag.h"

typedef enum hy_action_kind {
    HY_SAY,        /* code */
    HY_SET_CLOCK,  /* hz */
    HY_GLIDE,      /* hz, ps, exponential */
    HY_SET_LEVEL,  /* number 0..3 */
    HY_SET_HOLD,   /* ps; 0 = off: wait for request */
    HY_SET_ANSWER, /* ps */
    HY_REST,       /* ps */
    HY_SET_MARK    /* name */
} hy_action_kind;

typedef struct hy_action {
    hy_action_kind kind;
    int number; /* code or level */
    int exponential;
    double hz;
    int64_t ps;
    const char *name; /* owned by the score */
    unsigned line, column;
} hy_action;

typedef struct hy_score hy_score;

/* Reads all of `in`; `name` (copied) is for messages. Null on error. Refuses what would expand beyond
 * 24 h of stated time (rests and holds can be summed before playing; nominal phoneme time otherwise) or 10^7 phonemes. */
hy_score *hy_score_read(FILE *in, const char *name, hy_diag *diag);
void hy_score_free(hy_score *score);
const char *hy_score_name(const hy_score *score);

/* Walking: rewind, then next until it returns 0. Always ends: the limits were checked when it was read. */
void hy_score_rewind(hy_score *score);
int hy_score_next(hy_score *score, hy_action *action);

/* Symbols of the chart (reference/chart.csv, compiled in): code -> ARPABET-like symbol, IPA, nominal ms, example. */
typedef struct hy_symbol {
    const char *symbol, *ipa, *example;
    int nominal_ms;
} hy_symbol;
extern const hy_symbol hy_symbols[64];

#endif
