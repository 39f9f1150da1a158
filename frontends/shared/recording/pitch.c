#include "pitch.h"

#include <math.h>
#include <stdlib.h>

#include "recording.h"

enum { THIRD = 3, LAGS_MAX = HY_ANALYSIS_RATE / THIRD / 20 + 2 };
#define NEARLY 0.95 /* of the best: a multiple of the period resembles it nearly as well */

int hy_pitch_signal_make(hy_pitch_signal *s, const float *x, size_t count, hy_diag *diag)
{
    s->x = x;
    s->count = count;
    s->low = hy_decimate(x, count, THIRD, &s->low_count, diag);
    return s->low != NULL ? 0 : -1;
}

void hy_pitch_signal_free(hy_pitch_signal *s)
{
    free(s->low);
    s->low = NULL;
}

/* Correlation of x[from..from+n) with what comes `lag` later, from -1 to 1. Both stretches lie around the same middle. */
static double likeness_at(const float *x, long middle, long n, long lag)
{
    const float *a = x + middle - (n + lag) / 2;
    const float *b = a + lag;
    float ab = 0, aa = 0, bb = 0;
    for (long i = 0; i < n; i++) {
        ab += a[i] * b[i];
        aa += a[i] * a[i];
        bb += b[i] * b[i];
    }
    double power = (double)aa * (double)bb;
    return power > 0 ? (double)ab / sqrt(power) : 0.0;
}

/* Where the parabola through three equidistant points has its top, -0.5..0.5 of a step from the middle one. */
static double top_of(double a, double b, double c)
{
    double bend = a - 2 * b + c;
    double at = bend < 0 ? 0.5 * (a - c) / bend : 0.0;
    return at < -0.5 ? -0.5 : at > 0.5 ? 0.5 : at;
}

static long coarse_lag(const hy_pitch_signal *s, long middle, long n, long low, long high)
{
    double found[LAGS_MAX] = {0};
    double best = -2;
    for (long lag = low; lag <= high; lag++) {
        found[lag - low] = likeness_at(s->low, middle, n, lag);
        best = found[lag - low] > best ? found[lag - low] : best;
    }
    for (long i = 1; i < high - low; i++) {
        if (found[i] >= NEARLY * best && found[i] >= found[i - 1] && found[i] >= found[i + 1]) {
            return low + i;
        }
    }
    for (long i = 0; i <= high - low; i++) {
        if (found[i] >= best) {
            return low + i;
        }
    }
    return low;
}

double hy_pitch_at(const hy_pitch_signal *s, double at, double low_hz, double high_hz, double *likeness)
{
    const double low_rate = (double)HY_ANALYSIS_RATE / THIRD;
    if (likeness != NULL) {
        *likeness = 0.0;
    }
    long low = (long)(low_rate / high_hz), high = (long)ceil(low_rate / low_hz);
    low = low < 4 ? 4 : low;
    high = high >= low + LAGS_MAX ? low + LAGS_MAX - 1 : high < low + 2 ? low + 2 : high;
    long n = 2 * high * 4 / 5; /* two of the longest periods, nearly */
    long middle = (long)(at * low_rate + 0.5);
    long reach = (n + high) / 2 + 8;
    if (middle - reach < 0 || middle + reach >= (long)s->low_count || (middle + reach) * THIRD >= (long)s->count) {
        return 0.0;
    }
    long lag = coarse_lag(s, middle, n, low, high) * THIRD;
    /* now in the signal itself, where the lag is known to a third of a sample at best */
    long full = (long)(at * HY_ANALYSIS_RATE + 0.5), full_n = n * THIRD;
    double near[2 * THIRD + 3];
    int best = 1;
    for (int i = 0; i < 2 * THIRD + 3; i++) {
        near[i] = likeness_at(s->x, full, full_n, lag - THIRD - 1 + i);
        best = i > 0 && i < 2 * THIRD + 2 && near[i] > near[best] ? i : best;
    }
    double exact = (double)(lag - THIRD - 1 + best) + top_of(near[best - 1], near[best], near[best + 1]);
    if (likeness != NULL) {
        *likeness = near[best];
    }
    return HY_ANALYSIS_RATE / exact;
}
