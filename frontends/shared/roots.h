/* Roots of a polynomial: the poles of a prediction. */
#ifndef HY_ROOTS_H
#define HY_ROOTS_H

#include <complex.h>

/* All roots of z^order + a[1] z^(order-1) + ... + a[order] at once (Durand and Kerner), to 1e-12 where they are simple. a[0] is not
 * looked at; z has room for `order`. */
void hy_roots(const double *a, double complex *z, int order);

#endif
