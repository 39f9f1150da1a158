/* Handshakes into rows. Private to measure.c. */
#ifndef HY_TIMING_JUDGE_H
#define HY_TIMING_JUDGE_H

#include "measure.h"

/* Measures every handshake into the rows and the picture's points. 0, or -1. */
int hy_judge(hy_timing *timing, hy_shakes *shakes, hy_timebase *base, const hyoid_part *part, hy_diag *diag);

#endif
