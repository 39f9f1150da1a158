/* The pitch period of a steady voice, to a fraction of a sample. */
#ifndef HY_PERIOD_H
#define HY_PERIOD_H

#include <stddef.h>

/* Period (samples) of sound[from, from + length) between `low` and `high` samples: the one whose harmonics hold most power.
 * *clarity: share of the power below 0.12 of the sample rate that they hold, 0..1. length at most 4096. */
double hy_period(const float *sound, size_t count, long from, size_t length, double low, double high,
                 double *clarity);

#endif
