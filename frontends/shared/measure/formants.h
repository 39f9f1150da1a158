/* Formants of a steady sound as a phonetician's program finds them: linear prediction by Burg's method in Gaussian windows of
 * 25 ms every 12.5 ms, medians over the windows. */
#ifndef HY_FORMANTS_H
#define HY_FORMANTS_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

enum { HY_FORMANTS_MEASURED = 3 };

/* frames: at `rate` samples a second, which must be four times the ceiling below which four resonances are looked for.
 * hz[i] is NaN where windows disagree by more than a tenth (half of them lie further apart), or hold fewer resonances: that is
 * no formant of a steady sound. 0, or -1 (out of memory). */
int hy_formants_measure(const float *frames, size_t count, uint32_t rate, double hz[HY_FORMANTS_MEASURED],
                        hy_diag *diag);

#endif
