/* The whole numbers behind what was measured: durations in filter cycles and request's delay in clocks. Private to judge.c. */
#ifndef HY_TIMING_WHOLE_H
#define HY_TIMING_WHOLE_H

#include "measure.h"

/* What a handshake tells of them goes into timing->cycles and timing->delay. before: the handshake ahead of it, or null. */
void hy_whole_add(hy_timing *timing, const hyoid_part *part, const hy_shake *before,
                  const hy_shake_clocks *before_clocks, const hy_shake *shake, const hy_shake_clocks *clocks);

#endif
