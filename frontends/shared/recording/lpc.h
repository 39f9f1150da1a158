/* Resonances from a power spectrum: linear prediction over a part of the band (autocorrelation from the spectrum itself, Makhoul
 * 1975, "selective linear prediction"), and the poles' frequencies. */
#ifndef HY_LPC_H
#define HY_LPC_H

enum { HY_LPC_ORDER_MAX = 16, HY_LPC_FORMANTS_MAX = HY_LPC_ORDER_MAX / 2 };

typedef struct hy_resonances {
    int count;
    double hz[HY_LPC_FORMANTS_MAX], bandwidth[HY_LPC_FORMANTS_MAX]; /* ascending */
} hy_resonances;

/* power[0..bins): density at multiples of bin_hz, from 0 Hz up; the last one is the top of the band. order: even, at most
 * HY_LPC_ORDER_MAX. Poles wider than a fifth of the band are left out. */
hy_resonances hy_lpc_resonances(const double *power, int bins, double bin_hz, int order);

#endif
