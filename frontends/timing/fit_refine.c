/* A clock that is known to a part in ten thousand, made better by least squares. What does not fit, such as faulty phonemes, is
 * left out, up to a fifth. */
#include <math.h>

#include "fit_private.h"

size_t hy_fit_by_grid(const hy_fit_range *r, size_t n, double clocks, double cross, double *hz, double *doubt)
{
    size_t used = 0;
    for (int round = 0; round < 3; round++) {
        double sum = 0.0;
        double square = 0.0;
        double error = 0.0;
        size_t tried = 0;
        used = 0;
        for (size_t i = 0; i + 1 < n; i++) {
            double span = (double)(r[i + 1].rise - r[i].rise) * 1e-12;
            double cycles = span * *hz / clocks;
            if (!(cycles >= 1.0) || cycles * *doubt > 0.3) {
                continue; /* their number can't be told */
            }
            double whole = floor(cycles + 0.5);
            tried++;
            if (fabs(cycles - whole) > 0.12 + cross * 1e-12 * *hz / clocks + cycles * *doubt * 0.5) {
                continue;
            }
            sum += whole * span;
            square += span * span;
            error += (cycles - whole) * (cycles - whole);
            used++;
        }
        if (used < HY_FIT_LEAST || used * 5 < tried * 4) {
            return 0;
        }
        double better = clocks * sum / square;
        if (fabs(better / *hz - 1.0) > *doubt) {
            return 0;
        }
        *hz = better;
        double rms = sqrt(error / (double)used) + cross * 1e-12 * *hz / clocks / sqrt(6.0) + 1e-3;
        double tight = 3.0 * rms * clocks / (*hz * sqrt(square));
        *doubt = tight < *doubt ? tight : *doubt;
    }
    return used;
}

size_t hy_fit_by_length(const hy_fit_range *r, size_t n, double clocks, double cross, double *hz, double *doubt)
{
    double slope = clocks / *hz; /* s a filter cycle */
    double offset = 0.0;
    double near = 1.0; /* filter cycles off the line that are still believed */
    size_t used = 0;
    for (int round = 0; round < 4; round++, near = 0.12 + 2.0 * cross * 1e-12 / slope) {
        double mean_x = 0.0;
        double mean_y = 0.0;
        double xx = 0.0;
        double xy = 0.0;
        double yy = 0.0;
        used = 0;
        for (size_t i = 0; i < n; i++) {
            double y =
                (double)(r[i].rise - r[i].strobe) * 1e-12 - slope * r[i].cycles; /* what the line so far leaves */
            if (fabs(y - offset) > near * slope) {
                continue;
            }
            used++;
            double dx = r[i].cycles - mean_x;
            double dy = y - mean_y;
            mean_x += dx / (double)used;
            mean_y += dy / (double)used;
            xx += dx * (r[i].cycles - mean_x);
            xy += dx * (y - mean_y);
            yy += dy * (y - mean_y);
        }
        if (used < (size_t)2 * HY_FIT_LEAST || used * 5 < n * 4 || !(xx > 0.0)) {
            return 0;
        }
        double turn = xy / xx;
        double left = yy - turn * xy > 0.0 ? yy - turn * xy : 0.0;
        slope += turn;
        offset = mean_y - turn * mean_x;
        double rms = sqrt(left / (double)used) + cross * 1e-12 / sqrt(6.0) + 1e-3 * slope;
        double better = clocks / slope;
        if (round == 3 && fabs(better / *hz - 1.0) <= *doubt && sqrt(left / (double)used) < 0.1 * slope) {
            double tight = 3.0 * rms / sqrt(xx) / slope;
            *hz = better;
            *doubt = tight < *doubt ? tight : *doubt;
            return used;
        }
    }
    return 0;
}
