/* A level of the audio pin as a hardware designer's signed fixed point. */
#ifndef HY_FIXED_H
#define HY_FIXED_H

#include <stdint.h>

/* value * 2^fraction, rounded to the nearest (half of one up) and held within `bits` (2..32) bits of two's complement.
 * *clipped (if not null) counts those that did not fit. */
int32_t hy_fixed(double value, unsigned bits, unsigned fraction, uint64_t *clipped);

#endif
