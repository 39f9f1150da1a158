/* Pictures for the page, as SVG. */
#ifndef HY_TIMING_PICTURES_H
#define HY_TIMING_PICTURES_H

#include "measure.h"

enum { HY_TRACE_STEPS = 300 };

/* The pins within a stretch of time. */
typedef struct hy_trace {
    int64_t from, to;             /* ps since the capture's first instant */
    int64_t mark, mark_end;       /* what it is about; -1: nothing */
    int64_t allowed, allowed_end; /* where request's edge may lie; -1: nothing to show */
    char title[160];
    hy_bus_step step[HY_TRACE_STEPS];
    unsigned count;
    int cut; /* there was more than fits */
} hy_trace;

/* Reads the capture once more and fills the traces, whose from and to are set. 0, or -1. */
int hy_traces_fill(hy_trace *traces, unsigned count, FILE *in, const char *name, const char *map, double sample_hz,
                   int64_t glitch, hy_diag *diag);

/* The pins as lines over time; the caller frees it, null if memory is out. `origin`: the file's time of its first instant, ps. */
char *hy_picture_pins(const hy_trace *trace, int64_t origin);

/* Each phoneme's duration off nominal over the capture, between the limits. The same. */
char *hy_picture_durations(const hy_timing *timing, const hyoid_part *part);

#endif
