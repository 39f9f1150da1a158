#include "roots.h"

#include <math.h>

void hy_roots(const double *a, double complex *z, int order)
{
    /* none of them real, no two conjugate: from a symmetric start the search would not leave the symmetry */
    for (int i = 0; i < order; i++) {
        z[i] = 0.9 * cexp(I * (2 * 3.14159265358979323846 * i / order + 0.4));
    }
    for (int round = 0; round < 200; round++) {
        double moved = 0;
        for (int i = 0; i < order; i++) {
            double complex value = 1, apart = 1;
            for (int k = 1; k <= order; k++) {
                value = value * z[i] + a[k];
            }
            for (int k = 0; k < order; k++) {
                apart *= k != i ? z[i] - z[k] : 1;
            }
            double complex step = cabs(apart) > 1e-30 ? value / apart : 0;
            z[i] -= step;
            moved += cabs(step);
        }
        if (moved < 1e-12) {
            return;
        }
    }
}
