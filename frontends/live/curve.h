/* A quantity that stands still or moves from one value to another in a given time, linearly or by equal ratios. */
#ifndef HY_CURVE_H
#define HY_CURVE_H

#include <stdint.h>

typedef struct hy_curve {
    int64_t from, to; /* ps; still from `to` on */
    double from_value, to_value;
    int exponential;
} hy_curve;

hy_curve hy_curve_still(double value);

double hy_curve_at(const hy_curve *curve, int64_t ps);
int hy_curve_moves(const hy_curve *curve, int64_t ps);

/* Turns at `ps`, from the value there, to be at `value` after `span` ps (0: at once). Where a ratio makes no sense, to or
 * from 0, the way is linear. */
void hy_curve_go(hy_curve *curve, int64_t ps, int64_t span, double value, int exponential);

/* The same curve on a time line that begins `ps` later. */
void hy_curve_shift(hy_curve *curve, int64_t ps);

/* How long from `ps` until an exponential curve has moved by 1/64 of an octave; INT64_MAX for others. */
int64_t hy_curve_step(const hy_curve *curve, int64_t ps);

#endif
