#include "period.h"

#include <math.h>

static const double TWO_PI = 6.28318530717958647692;

enum { MOST = 4096, HARMONICS = 12 };

static double power_at(const double *x, size_t n, double w)
{
    /* Goertzel's recurrence */
    double c = 2 * cos(w), s1 = 0, s2 = 0;
    for (size_t i = 0; i < n; i++) {
        double s = x[i] + c * s1 - s2;
        s2 = s1;
        s1 = s;
    }
    return s1 * s1 + s2 * s2 - c * s1 * s2;
}

static double comb(const double *x, size_t n, double period, double *between)
{
    double sum = 0, gap = 0;
    for (int k = 1; k <= HARMONICS; k++) {
        sum += power_at(x, n, TWO_PI * k / period);
        gap += power_at(x, n, TWO_PI * (k + 0.5) / period);
    }
    *between = gap;
    return sum;
}

double hy_period(const float *sound, size_t count, long from, size_t length, double low, double high, double *clarity)
{
    double x[MOST];
    size_t n = length < MOST ? length : MOST;
    for (size_t i = 0; i < n; i++) {
        long at = from + (long)i;
        double w = 0.5 - 0.5 * cos(TWO_PI * ((double)i + 0.5) / (double)n);
        x[i] = at >= 0 && (size_t)at < count ? w * (double)sound[at] : 0;
    }
    double best = low, most = -1, gap = 0, between;
    for (double p = low; p <= high; p *= 1.004) {
        double s = comb(x, n, p, &between) - between;
        if (s > most) {
            most = s;
            best = p;
        }
    }
    double step = best * 0.004;
    while (step > best * 2e-6) {
        double a = comb(x, n, best - step, &between), b = comb(x, n, best, &between),
               c = comb(x, n, best + step, &between);
        if (a > b || c > b) {
            best += a > c ? -step : step;
            if (best < low || best > high) {
                break;
            }
        } else {
            step /= 2;
        }
    }
    most = comb(x, n, best, &gap);
    *clarity = most + gap > 0 ? (most - gap) / (most + gap) : 0;
    return best;
}
