#include "host_glide.h"

#define STEPS_PER_OCTAVE 64
#define OCTAVES_MAX 64
static const double largest_step = 1.0108892860517005; /* 2^(1/64) */

static double power(double x, int64_t n)
{
    double result = 1.0;
    for (; n > 0; n /= 2) {
        result *= n % 2 != 0 ? x : 1.0;
        x *= x;
    }
    return result;
}

/* Newton's iteration for the n-th root of a ratio in (1, largest_step^n]. From largest_step the first guess is off by a factor
 * of less than largest_step^(1/n), so that three steps would do. */
static double nth_root(double ratio, int64_t n)
{
    double x = largest_step;
    for (int i = 0; i < 5; i++) {
        double below = power(x, n - 1);
        x -= (below * x - ratio) / ((double)n * below);
    }
    return x;
}

/* The least n with 2^(n / 64) >= ratio, or -1 if that is beyond the limit. Whole octaves are exact. */
static int64_t count_pieces(double ratio)
{
    int64_t n = 0;
    while (ratio >= 2.0) {
        if (n == (int64_t)STEPS_PER_OCTAVE * OCTAVES_MAX) {
            return -1;
        }
        ratio *= 0.5;
        n += STEPS_PER_OCTAVE;
    }
    for (double reached = 1.0; reached < ratio; reached *= largest_step) {
        n++;
    }
    return n;
}

int hy_glide_start(hy_glide *g, int64_t from, int64_t to, double from_hz, double to_hz, int exponential)
{
    *g = (hy_glide){.from = from, .to = to, .to_hz = to_hz, .pieces = 1, .step = 1.0, .end = from, .end_hz = from_hz};
    if (!exponential) {
        return 0;
    }
    if (!(from_hz > 0.0) || !(to_hz > 0.0)) {
        return -1;
    }
    g->falling = to_hz < from_hz;
    double ratio = g->falling ? from_hz / to_hz : to_hz / from_hz;
    int64_t n = count_pieces(ratio);
    if (n < 0) {
        return -1;
    }
    if (n > 1) {
        g->step = nth_root(ratio, n);
        g->pieces = n < to - from ? n : to - from; /* a piece lasts a picosecond at least */
    }
    return 0;
}

int hy_glide_next(hy_glide *g)
{
    if (g->piece == g->pieces) {
        return 0;
    }
    g->piece++;
    int64_t length = g->to - g->from;
    g->end = g->from + length / g->pieces * g->piece + length % g->pieces * g->piece / g->pieces;
    g->end_hz = g->falling ? g->end_hz / g->step : g->end_hz * g->step;
    if (g->piece == g->pieces) {
        g->end_hz = g->to_hz;
    }
    return 1;
}
