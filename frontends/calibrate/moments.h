/* When things began in a recording: each change of sound put where the model's fits best, and the durations that follow. */
#ifndef HY_MOMENTS_H
#define HY_MOMENTS_H

#include <stddef.h>

#include "material.h"

/* A moment that was found in a recording: `share` of the way through item `item` (0: its beginning). */
typedef struct hy_moment {
    size_t item;
    double share;
    double at;    /* sample of the recording, one a filter cycle */
    double sigma; /* how well it is known, filter cycles; INFINITY: not at all */
} hy_moment;

/* What both searches need. onset[0..items]: where items begin, as far as is known; channel_db as for a judge. */
typedef struct hy_moment_search {
    const hyoid_part *part;
    const hy_material *material; /* its onsets are not used */
    const double *onset;
    const float *channel_db;
    int reach; /* how far a moment may lie from where it is expected, samples */
} hy_moment_search;

/* The beginning of each item: moments[0..items). 0, or -1 when memory is short. */
int hy_moments_onsets(const hy_moment_search *search, hy_moment *moments);

/* The bursts of stops, sharp to a few filter cycles: stores at most `items` moments and returns their number, or -1. */
long hy_moments_bursts(const hy_moment_search *search, hy_moment *moments);

/* Durations of the codes (filter cycles, not whole) and the start that explain the moments best: least squares with outliers
 * weighed down. duration[64]: in, what is expected; out, the estimate. sigma[64]: its standard error; 0 for codes
 * that were never said waiting for request. onset[0..items]: out, where items begin by this fit. *spread: moments'
 * deviation from it in units of their own sigma. 0, or -1. */
int hy_durations(const hy_material *material, const hy_moment *moments, size_t count, double duration[HYOID_PHONEMES],
                 double sigma[HYOID_PHONEMES], double *onset, double *spread);

#endif
