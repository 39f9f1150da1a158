/* A reference laid on a recording: at which clock and delay it fits best, and how well. */
#ifndef HY_FIT_H
#define HY_FIT_H

#include "heard.h"
#include "reference.h"

#define HY_CLOCK_REACH 0.05 /* the part's clock is sought so far from the reference's, as a ratio */

typedef struct hy_fit_setup {
    int gain_known;              /* the recording's level is calibrated: 1.0 at the pin is full scale */
    double gain_tolerance;       /* dB, where it is known */
    double colour_most;          /* dB: more of a band's own gain is not forgiven */
    const unsigned char *usable; /* HY_BANDS; null: all */
} hy_fit_setup;

typedef struct hy_fit {
    double clock;   /* ratio to the reference's */
    double delay;   /* where the input's time 0 lies in the recording, s */
    double gain_db; /* recording against the model's pin */
    double colour_db
        [HY_BANDS]; /* what recorder and amplifier add to each band, beside the gain, as it was found; NaN: not told */
    double silence_db;  /* the same mean if nothing at all had been expected */
    double spectrum_db; /* mean difference of levels over time and bands; 0: the same */
    double pitch;       /* mean difference of pitch, semitones */
    double unclaimed;   /* share of the recording's voiced time in which the reference has no voice, 0..1 */
    size_t phonemes;    /* that were compared */
    size_t pitches;     /* places where the pitch was compared */
    double likeness;    /* of the envelopes, -1..1, where the search began */
} hy_fit;

/* Looks for clock and delay by envelopes alone, roughly (half a percent, 20 ms), at clocks from low to high. Sets likeness. 0, or
 * -1 (memory). */
int hy_fit_scan(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, double low, double high,
                hy_diag *diag);

/* Looks for clock and delay within HY_CLOCK_REACH: everywhere, or, where `near` is not null, from that fit on. 0, or -1 (memory). */
int hy_fit_find(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, const hy_fit_setup *setup,
                const hy_fit *near, hy_diag *diag);

/* Judges at the clock and delay that stand in the fit: gain, colour, differences. 0, or -1. */
int hy_fit_judge(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, const hy_fit_setup *setup,
                 hy_diag *diag);

/* Whether enough of the time is the chip's own that tempo follows its clock; else only pitch does. */
int hy_fit_tempo_tells(const hy_reference *reference);

/* Where in the recording a segment begins, s. */
double hy_fit_time(const hy_fit *fit, const hy_segment *segment);

/* The recorded pitch at a time, Hz; 0 if it is not voiced there. */
double hy_fit_pitch(const hy_heard *heard, double at);

#endif
