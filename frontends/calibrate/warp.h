/* Dynamic time warping: where in one sound each moment of another is. */
#ifndef HY_WARP_H
#define HY_WARP_H

#include <stddef.h>
#include <stdint.h>

enum { HY_WARP_HOP = 256 }; /* samples from frame to frame */

/* For each index at[0..n) (ascending, in samples of `model`), stores in found[] the sample of `recorded` that the best
 * monotonous path puts beside it. Sounds are compared by band powers in dB, each band freed of its own mean (so that
 * gain and the response of a recording chain matter little). `slack` (0..0.5): how far tempo may differ. Deterministic.
 * *cost: what is apart beside each recorded frame, dB, and what the tempo's changes cost. 0, or -1 when memory is short or a sound
 * is silent or shorter than a second's worth of frames. */
int hy_warp(const float *model, size_t model_count, const float *recorded, size_t recorded_count, double slack,
            const uint32_t *at, size_t n, double *found, double *cost);

/* The same for a recording that holds only a part of the model's speech: it may begin and end anywhere in it. found[] is NaN for what
 * it does not hold. 1: too much sound for this (over two minutes and a half of each, at the nominal clock). */
int hy_warp_within(const float *model, size_t model_count, const float *recorded, size_t recorded_count,
                   const uint32_t *at, size_t n, double *found, double *cost);

#endif
