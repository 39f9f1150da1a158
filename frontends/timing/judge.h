/* Handshakes into rows. Private to measure.c. */
#ifndef HY_TIMING_JUDGE_H
#define HY_TIMING_JUDGE_H

#include "rows.h"
#include "timebase.h"

/* Measures every handshake. 0, or -1. */
int hy_judge(hy_row *rows, hy_shakes *shakes, hy_timebase *base, const hyoid_part *part, hy_diag *diag);

#endif
