/* A capture, measured and judged. */
#ifndef HY_TIMING_MEASURE_H
#define HY_TIMING_MEASURE_H

#include <stdio.h>

#include "capture.h"
#include "rows.h"
#include "timebase.h"

typedef struct hy_timing_options {
    const char *map;       /* text or file; may be null */
    const char *limits;    /* file; may be null */
    double clock_hz;       /* 0: find it */
    double clock_ppm;      /* to how much clock_hz is known */
    int64_t glitch_ps;     /* shorter pulses are passed over; 0: none */
    int64_t skew_ps;       /* between two pins; -1: one sample */
    double sample_hz;      /* of the instrument, where the capture doesn't say; 0: not known */
    hy_progress *progress; /* may be null */
} hy_timing_options;

/* A whole number that lies behind measurements: what all of them allow. */
typedef struct hy_whole {
    unsigned long n;  /* measurements */
    long least, most; /* valid if n > 0; least above most: they contradict each other */
} hy_whole;

/* A phoneme's duration, for the picture. */
typedef struct hy_timing_point {
    double s;      /* since the capture's first instant */
    double clocks; /* off nominal: its filter cycles in full */
    int beyond;    /* its limit, by more than its uncertainty */
} hy_timing_point;

enum { HY_TIMING_POINTS = 4096 };

typedef struct hy_timing {
    hy_row rows[HY_ROWS];
    hy_clock_by clock_by;
    double clock_hz, clock_least, clock_most, clock_doubt;
    double nominal_hz; /* the part's */
    uint64_t clock_n;
    int clock_moved;  /* by more than can be an error of measuring */
    double jitter_ps; /* of the clock pin's single periods; 0: not known */
    hy_waves_form form;
    int64_t duration_ps;
    int64_t origin_ps;    /* the file's time of the capture's first instant */
    double resolution_ps; /* to how much a time is known; */
    double sample_ps;     /* and if that is a sampling instrument's, its period, else 0 */
    int sample_guessed;   /* from the grid of the edges */
    int64_t skew_ps;
    uint64_t edges, strobes, doubts;
    hy_whole cycles[HYOID_PHONEMES];       /* durations by code, filter cycles */
    hy_whole delay;                        /* request_delay, clocks */
    unsigned long spans, spans_off;        /* from one rise of request to the next; of these no whole filter cycles */
    unsigned passed, failed, inconclusive; /* rows */
    unsigned failed_host;                  /* of the failed ones */
    hy_timing_point
        points[HY_TIMING_POINTS]; /* if there are more phonemes, some of them, and of those beyond a limit as many as
                                                 there is room for */
    unsigned point_count;
    char note[4200]; /* lines for the user: what was taken for which pin, what was odd */
} hy_timing;

/* Reads, measures and judges. `in` must be seekable and stays the caller's. 0, or -1. */
int hy_timing_measure(hy_timing *timing, FILE *in, const char *name, const hy_partfile *part,
                      const hy_timing_options *options, hy_diag *diag);

/* HY_FAIL if a row fails, HY_PASS if strobes were seen and no row is inconclusive, else that. */
hy_verdict hy_timing_verdict(const hy_timing *timing);

/* Whose doing a row is: the part's, or the host's (its board's and program's). HY_SIDE_INFO: the capture can't tell, as a clock
 * that was reckoned from the part's own times may be either's. */
hy_row_side hy_timing_doing(const hy_timing *timing, const hy_row *row);

/* "CSV table of a logic analyser" and so on. */
const char *hy_timing_form(const hy_timing *timing);

#endif
