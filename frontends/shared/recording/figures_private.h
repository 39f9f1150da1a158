/* Inside the figures: long-term spectra per code, of any signal that runs along the model's times. */
#ifndef HY_FIGURES_PRIVATE_H
#define HY_FIGURES_PRIVATE_H

#include "figures.h"

/* Windows of 12.5 ms, moved by 2.5 ms: about a pitch period, so that the mean over a phoneme shows its envelope, not its harmonics. */
enum { HY_VIEW_WINDOW = 300, HY_VIEW_FFT = 512, HY_VIEW_BINS = HY_VIEW_FFT / 2 + 1, HY_VIEW_HOP = 60 };

/* A closed stop is listened to from here up, 190 Hz: below lies what is left of hum. */
enum { HY_CLOSURE_BIN = 4 };

/* One signal, and how the model's times lie in it. */
typedef struct hy_side {
    const float *x;
    size_t count;
    const hy_alignment *map; /* null: the model's own times */
    unsigned
        jitter; /* not 0: edges are moved at random by as much as they are uncertain, differently for each number */
} hy_side;

/* Mean spectra over all occurrences of each code. */
typedef struct hy_view {
    double power[HYOID_PHONEMES][HY_VIEW_BINS]; /* of its steady part, or a stop's burst */
    double frames[HYOID_PHONEMES];
    double closed[HYOID_PHONEMES];        /* mean square while a stop is closed */
    double closed_frames[HYOID_PHONEMES]; /* 0: never seen */
} hy_view;

/* `part` tells which codes are stops and when their gates close. */
int hy_view_make(hy_view *view, const hy_side *side, const hy_alignment *alignment, const hyoid_part *part,
                 hy_diag *diag);

/* Whether the whole of a phoneme lies within the recording. */
int hy_spoken_inside(const hy_alignment *a, size_t i);

/* The good part once more, with another history and noise of this power (HY_VIEW_BINS), as loud as the model. malloc'd samples. */
float *hy_replica(const hy_figures_setup *setup, const double *noise, int number, size_t *count, hy_diag *diag);

/* The recording's noise in the bins of a view, in the model's units. */
void hy_noise_in_bins(const hy_alignment *alignment, double *power);

/* Distances from band differences (dB, NAN: not compared; the mean counts as level and is left out). */
double hy_log_spectral_distance(const double *difference);
double hy_mel_cepstral_distance(const double *difference);

/* figures_times.c: duration, f0 and onset, which need no spectra. `code_of` maps a code to its place in figures. */
int hy_figures_times(hy_figures *figures, const hy_figures_setup *setup, const int *place_of, hy_diag *diag);

/* figures_formants.c: F1, F2, F3 of one code, where they are expected; 0: not found. */
typedef struct hy_formant_setup {
    const double *power;    /* HY_VIEW_BINS, noise taken out */
    double cycle_hz;        /* the chip's filter cycles a second */
    double low_hz, high_hz; /* the recording's band */
    const double *expected; /* three frequencies */
} hy_formant_setup;
void hy_formants_find(const hy_formant_setup *setup, double *formant);

#endif
