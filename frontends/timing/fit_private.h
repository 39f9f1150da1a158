/* What the parts of the fit share: fit.c (ranges), fit_refine.c (least squares). */
#ifndef HY_TIMING_FIT_PRIVATE_H
#define HY_TIMING_FIT_PRIVATE_H

#include "timebase.h"

enum { HY_FIT_LEAST = 3 }; /* phonemes that a fit needs */

/* What one phoneme tells. */
typedef struct hy_fit_range {
    double low, high; /* Hz: where the clock can be */
    double middle;    /* ps: of the phoneme */
    double cycles;    /* filter cycles that it should last */
    int64_t strobe, rise;
} hy_fit_range;

/* Each improves hz, which is known to the share `doubt`, and makes doubt smaller; `clocks` in a filter cycle; `cross`: to how much
 * a span is known, ps. Returns the number of spans used, or 0 if they don't fit. */

/* By whole filter cycles between the rises of request, which lie on a grid if the divider runs free. */
size_t hy_fit_by_grid(const hy_fit_range *ranges, size_t n, double clocks, double cross, double *hz, double *doubt);

/* By a line through the phonemes' lengths over their filter cycles, on which they lie if the timer starts anew each time. */
size_t hy_fit_by_length(const hy_fit_range *ranges, size_t n, double clocks, double cross, double *hz, double *doubt);

#endif
