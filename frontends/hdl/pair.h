/* The pair: a design under test and the model, clock by clock, and what both did of late.
 *
 * At each rising edge of the clock the design hands over a word (word.h): its outputs since the edge before, which the
 * model must have shown too, and the input pins that this edge sees. The rules are those of docs/chip.md; clock 1 is the
 * first edge after the design's reset. */
#ifndef HY_HDL_PAIR_H
#define HY_HDL_PAIR_H

#include <hyoid/hyoid.h>

#include "word.h"

/* One clock, or several alike: the pins that it saw and what both showed after it. */
typedef struct hy_record {
    uint64_t clock;
    uint64_t pins;      /* as in a word */
    uint64_t got, want; /* outputs, as in a word */
    uint8_t edge;       /* a rising edge of strobe was caught ahead of this clock, with edge_code */
    uint8_t edge_code;
} hy_record;

enum { HY_HISTORY = 8192 };

typedef struct hy_pair_setup {
    unsigned checks;    /* bit 1 << hy_field: what is compared */
    unsigned bits;      /* of an audio code, 2..32 */
    unsigned fraction;  /* of them behind the point, 0..31 */
    int32_t tolerance;  /* by how many steps an audio code may differ */
    uint64_t following; /* clocks that are still run and recorded after the first difference */
} hy_pair_setup;

/* What is known when the first difference appears. */
typedef struct hy_difference {
    int found;
    hy_field field;     /* HY_INPUTS: an input pin is x or z */
    uint64_t clock;     /* the clock after which it stood */
    uint64_t got, want; /* outputs, as in a word */
    uint64_t want_before;
    uint64_t strobe_high_since; /* clock since which strobe is high, 0: it is low */
    hyoid_chip chip;            /* the model as it was after that clock */
    int caught_up;              /* the design showed the model's present value later, in caught_up_at */
    uint64_t caught_up_at;
} hy_difference;

typedef struct hy_pair {
    hyoid_part part;
    hyoid_chip chip;
    hy_pair_setup setup;
    uint64_t mask;      /* of the fields that are compared */
    uint64_t clock;     /* rising edges so far */
    uint64_t word;      /* the last one handed over */
    uint64_t ahead;     /* further clocks in which the same word is right and the model has no work */
    uint64_t pins;      /* what the last edge saw, for the record */
    unsigned level;     /* inflection in force: what stood at the last filter cycle's start */
    uint8_t edge;       /* strobe rose since the last edge of the clock, */
    uint8_t edge_code;  /* with this code */
    uint8_t clock_edge; /* the same for the clock that `pins` belongs to */
    uint8_t clock_code;
    uint64_t edge_clock; /* the last clock that an edge of strobe acted in, 0: none */
    uint64_t high_since; /* clock since which strobe is high, 0: it is low */
    uint64_t edges;      /* edges of strobe so far (several within one clock count as one) */
    uint64_t rises;      /* times that the model's request rose */
    hy_record history[HY_HISTORY];
    uint64_t records; /* so far; the last HY_HISTORY of them are there */
    hy_difference difference;
} hy_pair;

/* Starts with both powered up. Errors as hyoid_chip_init. */
hyoid_status hy_pair_init(hy_pair *pair, const hyoid_part *part, const hy_pair_setup *setup);

/* Strobe rose between two clocks, with this code on the pins. */
void hy_pair_strobe(hy_pair *pair, unsigned code);

typedef enum hy_progress {
    HY_QUIET,   /* nothing happened in this clock */
    HY_WORKED,  /* something did, and the clocks that may pass quietly (`ahead`) are known anew */
    HY_DIFFERED /* the first difference and what follows it have been recorded: there is something to report */
} hy_progress;

/* A rising edge of the clock. */
hy_progress hy_pair_clock(hy_pair *pair, uint64_t word);

/* The model's outputs after the clocks so far, as in a word; fields that are not compared are 0. */
uint64_t hy_pair_want(hy_pair *pair);

/* Brings the model up to the clocks so far (it is left behind while nothing happens). */
void hy_pair_settle(hy_pair *pair);

#endif
