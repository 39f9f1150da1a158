/* A reference laid on a recording: at which clock and delay it fits best, and how well. */
#ifndef HY_FIT_H
#define HY_FIT_H

#include "heard.h"
#include "reference.h"

#define HY_CLOCK_REACH 0.05 /* the part's clock may be so far from the stated one, as a ratio */

typedef struct hy_fit_setup {
    int gain_known;              /* the recording's level is calibrated: 1.0 at the pin is full scale */
    double gain_tolerance;       /* dB, where it is known */
    double colour_most;          /* dB: more of a band's own gain is not forgiven */
    const unsigned char *usable; /* HY_BANDS; null: all */
} hy_fit_setup;

typedef struct hy_fit {
    double clock;               /* ratio to the stated one */
    double delay;               /* where the input's time 0 lies in the recording, s */
    double gain_db;             /* recording against the model's pin */
    double colour_db[HY_BANDS]; /* what recorder and amplifier add to each band, beside the gain, as it was found */
    double silence_db;          /* the same mean if nothing at all had been expected */
    double spectrum_db;         /* mean difference of levels over time and bands; 0: the same */
    double pitch;               /* mean difference of pitch, semitones */
    size_t phonemes;            /* that were compared */
    size_t pitches;             /* places where the pitch was compared */
    double likeness;            /* of the envelopes, -1..1, where the search began */
} hy_fit;

/* Looks for clock and delay: everywhere, or, where `near` is not null, from that fit on. 0, or -1 (memory). */
int hy_fit_find(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, const hy_fit_setup *setup,
                const hy_fit *near, hy_diag *diag);

/* Judges at the clock and delay that stand in the fit: gain, colour, differences. 0, or -1. */
int hy_fit_judge(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, const hy_fit_setup *setup,
                 hy_diag *diag);

/* Where in the recording a segment begins, s. */
double hy_fit_time(const hy_fit *fit, const hy_segment *segment);

/* The recorded pitch at a time, Hz; 0 if it is not voiced there. */
double hy_fit_pitch(const hy_heard *heard, double at);

#endif
