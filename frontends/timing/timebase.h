/* From a capture's times to the chip's clocks, by the best that the capture has to say of the clock. */
#ifndef HY_TIMING_TIMEBASE_H
#define HY_TIMING_TIMEBASE_H

#include <hyoid/hyoid.h>

#include "log.h"
#include "shakes.h"

typedef enum hy_clock_by {
    HY_CLOCK_UNKNOWN, /* too few phonemes, or too odd ones: nothing can be told in clocks */
    HY_CLOCK_STATED,  /* the capture states its frequency (clock_hz) */
    HY_CLOCK_COUNTED, /* edges on its pin */
    HY_CLOCK_GIVEN,   /* the user knows it */
    HY_CLOCK_FITTED,  /* one frequency for all request intervals, by least squares */
    HY_CLOCK_FOLLOWED /* a frequency that moves slowly, from the request intervals around each phoneme */
} hy_clock_by;

/* What the fit found for the phonemes from `from` on. */
typedef struct hy_clock_piece {
    int64_t from; /* ps */
    int64_t middle;
    double hz;    /* at the middle; 0: not to be told */
    double slope; /* Hz per ps */
    double doubt; /* of hz, as a share */
} hy_clock_piece;

typedef struct hy_timebase {
    hy_clock_by by;
    double hz, least, most; /* over the capture; hz the mean */
    double doubt;           /* of hz, as a share; the instrument's own time base is not in it */
    uint64_t n;             /* edges, or request intervals, that it rests on */
    double same, cross;     /* to how much an interval is known: between edges of one pin, of two; ps */
    /* stated: the story, and how far it was followed */
    hy_log *story;
    hy_event piece, next;
    int more;
    double followed_at; /* clocks at `followed` */
    int64_t followed;
    /* followed */
    hy_clock_piece *pieces;
    size_t piece_count, at;
} hy_timebase;

/* A handshake in clocks since its strobe; NaN: did not come, or can't be told. */
typedef struct hy_shake_clocks {
    double release, fall, rise, end;
    double hz;          /* there */
    double doubt;       /* share by which each may be off, beside the edges' own uncertainty */
    double same, cross; /* the edges' own, in clocks */
} hy_shake_clocks;

/* Finds the clock in the request intervals (fit.c). by stays HY_CLOCK_UNKNOWN if that can't be done. 0, or -1. */
int hy_timebase_fit(hy_timebase *base, hy_shakes *shakes, const hyoid_part *part, hy_diag *diag);

/* The stated clock's story is complete: its mean and range up to `end`. 0, or -1. */
int hy_timebase_story(hy_timebase *base, int64_t end, hy_diag *diag);

/* Handshakes in their order, from the first after a start. 0, or -1. */
int hy_timebase_start(hy_timebase *base, hy_diag *diag);
int hy_timebase_convert(hy_timebase *base, const hy_shake *shake, hy_shake_clocks *clocks, hy_diag *diag);

void hy_timebase_free(hy_timebase *base);

/* "its pin" and so on. */
const char *hy_clock_by_text(hy_clock_by by);

#endif
