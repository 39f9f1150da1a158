/* Formants of a long-term spectrum. */
#include <math.h>

#include "figures_private.h"
#include "lpc.h"

#define BAND_OF_CYCLE 0.25 /* four formants lie below a quarter of the filter cycles' rate */
#define POLES_HZ 0.05      /* of it: a pair of poles for each so much */
#define NEAR 0.28          /* a formant further off than this is another one */

void hy_formants_find(const hy_formant_setup *setup, double *formant)
{
    const double bin = (double)HY_ANALYSIS_RATE / HY_VIEW_FFT;
    double top = BAND_OF_CYCLE * setup->cycle_hz;
    top = top < setup->high_hz ? top : setup->high_hz;
    int bins = (int)(top / bin) + 1;
    double power[HY_VIEW_BINS];
    int low = (int)ceil(setup->low_hz / bin);
    low = low < 2 ? 2 : low;
    bins = bins < HY_VIEW_BINS ? bins : HY_VIEW_BINS;
    for (int k = 0; k < bins; k++) { /* what lies below the band says nothing */
        power[k] = setup->power[k < low ? low : k];
    }
    int order = 2 * (int)lround(top / (POLES_HZ * setup->cycle_hz));
    order = order < 4 ? 4 : order > HY_LPC_ORDER_MAX ? HY_LPC_ORDER_MAX : order;
    const hy_resonances found = hy_lpc_resonances(power, bins, bin, order);
    int taken[HY_LPC_FORMANTS_MAX] = {0};
    for (int f = 0; f < 3; f++) {
        double expected = setup->expected[f];
        int best = -1;
        for (int i = 0; expected > 0 && i < found.count; i++) {
            double off = fabs(log(found.hz[i] / expected));
            if (!taken[i] && off < NEAR && (best < 0 || off < fabs(log(found.hz[best] / expected)))) {
                best = i;
            }
        }
        formant[f] = best >= 0 && found.hz[best] > setup->low_hz ? found.hz[best] : 0.0;
        if (best >= 0) {
            taken[best] = 1;
        }
    }
}
