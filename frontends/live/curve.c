#include "curve.h"

#include <math.h>

#define STEPS_PER_OCTAVE 64.0 /* as for scores: a chord of so little is within 1.5e-5 of the arc */

hy_curve hy_curve_still(double value)
{
    return (hy_curve){.from_value = value, .to_value = value};
}

int hy_curve_moves(const hy_curve *c, int64_t ps)
{
    return ps < c->to && c->from_value != c->to_value;
}

double hy_curve_at(const hy_curve *c, int64_t ps)
{
    if (ps >= c->to) {
        return c->to_value;
    }
    const double share = (double)(ps - c->from) / (double)(c->to - c->from);
    return c->exponential ? c->from_value * exp2(log2(c->to_value / c->from_value) * share)
                          : c->from_value + (c->to_value - c->from_value) * share;
}

void hy_curve_go(hy_curve *c, int64_t ps, int64_t span, double value, int exponential)
{
    const double now = hy_curve_at(c, ps);
    *c = (hy_curve){.from = ps,
                    .to = ps + span,
                    .from_value = now,
                    .to_value = value,
                    .exponential = exponential && now > 0.0 && value > 0.0};
}

void hy_curve_shift(hy_curve *c, int64_t ps)
{
    c->from -= ps;
    c->to -= ps;
}

int64_t hy_curve_step(const hy_curve *c, int64_t ps)
{
    if (!c->exponential || !hy_curve_moves(c, ps)) {
        return INT64_MAX;
    }
    const double steps = fabs(log2(c->to_value / c->from_value)) * STEPS_PER_OCTAVE;
    return steps > 1.0 ? (int64_t)((double)(c->to - c->from) / steps) + 1 : c->to - c->from;
}
