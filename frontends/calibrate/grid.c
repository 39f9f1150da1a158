#include "grid.h"

#include <math.h>

static double off_grid(const hyoid_part *part, const double *duration, const double *sigma, double scale)
{
    double ms = part->nominal_hz / part->filter_clocks / 1000, sum = 0, total = 0;
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        if (sigma[c] > 0) {
            double d = duration[c] / scale, whole = round(d / ms), off = (d - floor(whole * ms + 0.5)) / ms;
            double w = 1 / (1 + sigma[c] * sigma[c] / (0.04 * ms * ms));
            sum += w * off * off;
            total += w;
        }
    }
    return total > 0 ? sqrt(sum / total) : 1;
}

double hy_grid_scale(const hyoid_part *part, const double duration[HYOID_PHONEMES],
                     const double sigma[HYOID_PHONEMES], double low, double high, double *misfit, double *next)
{
    static const double STEP = 1.00001, APART = 0.0004;
    int known = 0;
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        known += sigma[c] > 0;
    }
    *misfit = *next = 1;
    if (known < 8) {
        return 0;
    }
    double best = 0;
    for (double s = low; s <= high; s *= STEP) {
        double off = off_grid(part, duration, sigma, s);
        if (off < *misfit) {
            *misfit = off;
            best = s;
        }
    }
    for (double s = low; s <= high; s *= STEP) {
        if (fabs(s / best - 1) > APART) {
            double off = off_grid(part, duration, sigma, s);
            if (off < *next) {
                *next = off;
            }
        }
    }
    return best;
}
