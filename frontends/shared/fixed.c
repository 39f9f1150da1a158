#include "fixed.h"

#include <math.h>
#include <stddef.h>

int32_t hy_fixed(double value, unsigned bits, unsigned fraction, uint64_t *clipped)
{
    const double most = (double)((INT64_C(1) << (bits - 1)) - 1), least = -most - 1.0;
    double code = floor(value * (double)(UINT64_C(1) << fraction) + 0.5);
    if (!(code >= least && code <= most)) {
        code = code > most ? most : least;
        if (clipped != NULL) {
            ++*clipped;
        }
    }
    return (int32_t)code;
}
