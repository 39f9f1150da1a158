/* Pitch by normalised cross-correlation: the lag at which a stretch of sound resembles itself most. */
#ifndef HY_PITCH_H
#define HY_PITCH_H

#include <stddef.h>

#include "diag.h"

/* A signal and its copy at a third of the rate, in which lags are looked for before they are refined in the signal. */
typedef struct hy_pitch_signal {
    const float *x; /* the caller's, at HY_ANALYSIS_RATE */
    size_t count;
    float *low; /* owned */
    size_t low_count;
} hy_pitch_signal;

int hy_pitch_signal_make(hy_pitch_signal *signal, const float *x, size_t count, hy_diag *diag);
void hy_pitch_signal_free(hy_pitch_signal *signal);

/* f0 in Hz around time `at` (s), looked for from low_hz to high_hz (20..1000); 0 if the signal does not reach so far. *likeness
 * (may be null): the correlation there, 1 for a perfectly periodic sound; below about 0.6 it is hardly voiced. Of several
 * lags that fit nearly as well, the shortest counts. */
double hy_pitch_at(const hy_pitch_signal *signal, double at, double low_hz, double high_hz, double *likeness);

#endif
