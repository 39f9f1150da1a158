/* The chip's own time unit in a recording. */
#ifndef HY_GRID_H
#define HY_GRID_H

#include <hyoid/hyoid.h>

#include "material.h"

/* What whole milliseconds say: a scale s such that duration[c] / s are lengths of whole milliseconds at the nominal clock, within
 * low..high. *misfit: rms distance from them, as a share of a millisecond (0.29 if there is no such grid); *next: the
 * same of the best scale elsewhere. duration and sigma in samples; sigma 0: not known. Returns s, or 0 if fewer than
 * eight durations are known. */
double hy_grid_scale(const hyoid_part *part, const double duration[HYOID_PHONEMES],
                     const double sigma[HYOID_PHONEMES], double low, double high, double *misfit, double *next);

/* What pitch says. A period is a whole number of filter cycles, and grows with the F1 register (patent): by (17 code) div 2^shift.
 * Periods are measured to a small part of a cycle, so that the codes of phonemes which rest long enough can be read off
 * them, whatever the formants are. material's onsets must be right to a few ms and part's F1 codes near. */
typedef struct hy_pitch_fit {
    double scale; /* samples per filter cycle by the pitch counter's whole numbers, or 0: not determined */
    double period
        [HYOID_LEVELS]; /* in filter cycles (if scale is 1) at F1 register 0, not whole; 0: level was not voiced */
    double sigma[HYOID_LEVELS];     /* and their standard errors */
    unsigned used[HYOID_LEVELS];    /* phonemes that went into each */
    unsigned shift;                 /* pitch_f1_shift that fits best */
    signed char f1[HYOID_PHONEMES]; /* F1 codes that the pitch tells, see below; -1: it doesn't */
    double spread;                  /* of single periods around the fit, filter cycles */
} hy_pitch_fit;

void hy_pitch_measure(const hyoid_part *part, const hy_material *material, hy_pitch_fit *fit);

#endif
