/* What the parts of the measurement share: measure.c, measure_clock.c. */
#ifndef HY_TIMING_MEASURE_PRIVATE_H
#define HY_TIMING_MEASURE_PRIVATE_H

#include "measure.h"

typedef struct hy_timing_work {
    hy_timing *timing;
    const char *name;
    const hy_timing_options *options;
    hy_diag *diag;
    hy_waves *waves;
    hy_capture_map map;
    hy_capture_note mapped;
    hy_stated_clock stated;
    hy_bus bus;
    hy_shakes shakes;
    hy_timebase base;
} hy_timing_work;

/* Adds to the notes. */
void hy_timing_say(hy_timing *timing, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The capture has been read. 0, or -1. */
int hy_timing_find_clock(hy_timing_work *work, const hyoid_part *part);
void hy_timing_clock_row(hy_timing_work *work);

#endif
