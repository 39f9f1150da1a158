/* A phoneme's sound in figures: measured on what the core renders when the phoneme is held, as one would measure a chip. */
#ifndef HY_MEASURE_H
#define HY_MEASURE_H

#include <hyoid/hyoid.h>

#include "diag.h"

/* NaN: there is no such thing, as formants of silence or of a sound without voice. */
typedef struct hy_measured {
    double f1, f2,
        f3;          /* Hz; only where the voice is stronger than any noise by 20 dB and windows agree (formants.h) */
    double level_db; /* rms, against a full-scale square wave (0 dB: an rms of 1.0 at the pin) */
    int settled;     /* 0: the part is too slow to be waited for, and nothing was measured */
    double gravity_hz; /* the power spectrum's centre of gravity, up to HY_GRAVITY_RATE / 2 */
} hy_measured;

/* The band's upper edge is half of it: the rate at which the published fricatives were measured (Jongman et al. 2000). */
enum { HY_GRAVITY_RATE = 22050 };
/* Weaker is silence, dB. */
#define HY_SILENCE_DB (-100.0)

/* At inflection level 1 and the part's nominal clock. 0, or -1 with the diagnosis. */
int hy_measure(hy_measured *measured, const hyoid_part *part, unsigned code, hy_diag *diag);

#endif
