/* Symmetric equations, as they come from Gauss and Newton's method. */
#include <math.h>

#include "fit_private.h"

int hy_cholesky(double *a, int n, int stride)
{
    for (int i = 0; i < n; i++) {
        double *row = a + (ptrdiff_t)i * stride;
        for (int j = 0; j <= i; j++) {
            const double *other = a + (ptrdiff_t)j * stride;
            double sum = row[j];
            for (int k = 0; k < j; k++) {
                sum -= row[k] * other[k];
            }
            if (i == j && !(sum > 0)) {
                return 0;
            }
            row[j] = i == j ? sqrt(sum) : sum / other[j];
        }
    }
    return 1;
}

void hy_cholesky_forward(const double *l, int n, int stride, double *x)
{
    for (int i = 0; i < n; i++) {
        const double *row = l + (ptrdiff_t)i * stride;
        for (int k = 0; k < i; k++) {
            x[i] -= row[k] * x[k];
        }
        x[i] /= row[i];
    }
}
