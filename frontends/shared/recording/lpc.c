#include "lpc.h"

#include <math.h>
#include <string.h>

#include "roots.h"

static const double pi = 3.14159265358979323846;

#define WHITE 1e-6 /* added to the power, against spectra with holes */

/* r[lag] from the even spectrum. */
static void autocorrelation(const double *power, int bins, double *r, int order)
{
    for (int lag = 0; lag <= order; lag++) {
        double sum = 0.5 * (power[0] + power[bins - 1] * (lag % 2 == 0 ? 1 : -1));
        for (int k = 1; k < bins - 1; k++) {
            sum += power[k] * cos(pi * lag * k / (bins - 1));
        }
        r[lag] = sum;
    }
    r[0] *= 1 + WHITE;
}

/* Levinson's recursion. 0 if the prediction error vanishes. */
static int predict(const double *r, double *a, int order)
{
    double error = r[0];
    a[0] = 1;
    for (int i = 1; i <= order; i++) {
        double sum = r[i];
        for (int k = 1; k < i; k++) {
            sum += a[k] * r[i - k];
        }
        if (!(error > 0)) {
            return 0;
        }
        double reflect = -sum / error;
        double before[HY_LPC_ORDER_MAX + 1];
        memcpy(before, a, sizeof before);
        a[i] = reflect;
        for (int k = 1; k < i; k++) {
            a[k] = before[k] + reflect * before[i - k];
        }
        error *= 1 - reflect * reflect;
    }
    return 1;
}

static void insert(hy_resonances *found, double hz, double bandwidth)
{
    int at = found->count;
    while (at > 0 && found->hz[at - 1] > hz) {
        found->hz[at] = found->hz[at - 1];
        found->bandwidth[at] = found->bandwidth[at - 1];
        at--;
    }
    found->hz[at] = hz;
    found->bandwidth[at] = bandwidth;
    found->count++;
}

hy_resonances hy_lpc_resonances(const double *power, int bins, double bin_hz, int order)
{
    hy_resonances found = {.count = 0};
    double r[HY_LPC_ORDER_MAX + 1] = {0}, a[HY_LPC_ORDER_MAX + 1] = {0};
    if (bins < 4 || order > HY_LPC_ORDER_MAX) {
        return found;
    }
    autocorrelation(power, bins, r, order);
    if (!(r[0] > 0) || !predict(r, a, order)) {
        return found;
    }
    double complex z[HY_LPC_ORDER_MAX];
    hy_roots(a, z, order);
    const double rate = 2 * (bins - 1) * bin_hz;
    for (int i = 0; i < order; i++) {
        double hz = carg(z[i]) * rate / (2 * pi), bandwidth = -log(cabs(z[i]) + 1e-30) * rate / pi;
        if (cimag(z[i]) > 1e-9 && hz > 0.01 * rate && hz < 0.485 * rate && bandwidth < 0.1 * rate &&
            found.count < HY_LPC_FORMANTS_MAX) {
            insert(&found, hz, bandwidth);
        }
    }
    return found;
}
