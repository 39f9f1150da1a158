/* What lies under the speech: hum of the mains, and noise. */
#ifndef HY_FLOOR_H
#define HY_FLOOR_H

#include "recording.h"
#include "spectrum.h"

enum { HY_HUM_LINES = 8 };

typedef struct hy_hum {
    double nominal_hz;            /* 50 or 60; 0: no hum was found */
    double mains_hz;              /* as measured */
    double line_db[HY_HUM_LINES]; /* each harmonic's level, dBFS (RMS); -INFINITY where none stands out */
    double level_db;              /* all lines together, dBFS (RMS); -INFINITY without hum */
} hy_hum;

/* Looks for lines at multiples of 50 and of 60 Hz that stand out at all times, measures them, and takes them out of the samples.
 * Speech passes: what comes and goes is not hum. Recordings shorter than a second are left as they are. */
int hy_hum_remove(hy_recording *recording, hy_hum *hum, hy_diag *diag);

typedef struct hy_noise {
    float energy[HY_BANDS]; /* density in each band, per Hz */
    double level_db;        /* 100 Hz to 10 kHz, dBFS (RMS) */
} hy_noise;

/* The floor of frames without knowing where the speech is: in each band what the quietest twentieth have. Silence that was
 * put ahead of the sound or behind it is no floor: only what lies between the first and the last loud frame counts. */
void hy_noise_guess(hy_noise *noise, const hy_frames *frames, hy_diag *diag);

/* level_db anew from the bands. */
void hy_noise_sum(hy_noise *noise);

#endif
