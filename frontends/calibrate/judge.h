/* How far a part's speech is from a recording's, item by item. */
#ifndef HY_JUDGE_H
#define HY_JUDGE_H

#include <stddef.h>

#include "material.h"
#include "noise_place.h"
#include "tick_bands.h"

typedef struct hy_judge hy_judge;

/* `material` must outlive the judge. Null when memory is short. */
hy_judge *hy_judge_new(const hy_material *material);
void hy_judge_free(hy_judge *judge);

/* The recording chain's response: dB to add to a model's frame, by band (all 0 at first), and the bands that tell nothing (none
 * at first; may be null). */
void hy_judge_set_channel(hy_judge *judge, const float channel_db[HY_TICK_BANDS],
                          const unsigned char deaf[HY_TICK_BANDS]);

/* Where the pitch counter stands when an item's context begins, by item (borrowed; null: 0 for all), for a pulse of `pulse_length`.
 * Where in its period a voice is cut off by a closure decides over what is heard of the cut, and so over 10 dB and more in some frames.
 * The sharpest thing in a voice is where the pulse ends: so a part whose pulse is longer starts its counter as much further on, and
 * the pulses still end where they were heard to. Otherwise no search would ever move the pulse. */
void hy_judge_set_pitch(hy_judge *judge, const uint16_t *pitch, uint32_t pulse_length);

/* Filter cycles of the voice's period when an item's context begins: what its place there is counted in. */
int hy_judge_period(const hy_judge *judge, const hyoid_part *part, size_t item);

/* Where in its cycle the noise register stood when an item began, by item (both borrowed; null: not known, it begins as at
 * power-up). */
void hy_judge_set_noise(hy_judge *judge, const hy_noise_cycle *cycle, const uint32_t *when);

/* How far the dividers stood at the beginning of the recording, filter cycles (HY_DIVIDERS of them, borrowed; HY_UNKNOWN: such a
 * one begins anew with each item's context). Only where the noise register's place is known, as it is what counts time. */
#define HY_UNKNOWN UINT32_MAX
void hy_judge_set_dividers(hy_judge *judge, const uint32_t *divider);

/* Mean squared difference, dB^2, over the frames of item `item` and the beginning of the next; each band's difference counts
 * at most 15 dB. Bands in which both lie under the recording's noise say nothing and count 0. */
double hy_judge_item(hy_judge *judge, const hyoid_part *part, size_t item);

/* How many differences an item has, and they themselves (dB, 0 where nothing is told): hy_judge_item is their mean square over
 * those that count. */
size_t hy_judge_size(const hy_judge *judge, size_t item);
void hy_judge_residual(hy_judge *judge, const hyoid_part *part, size_t item, float *residual);

/* Log-spectral distance of an item, dB: root of the mean square, over the bands that tell something, of the difference of the two
 * powers averaged over the item's frames. What a single frame of noise or half a pitch period does by chance averages out.
 * Negative: no band stands above the recording's noise. */
double hy_judge_distance(hy_judge *judge, const hyoid_part *part, size_t item);

/* How well the model's voice (without its noise) lies on the recording's waveform if it came `lag` filter cycles earlier, for lags
 * -reach..reach: sums of products of the two's slopes (caller's, 2 * reach + 1 of them), and *scale, the root of the product of the two's
 * energies at lag 0. A sum is that large if both are the same there; at another lag it can be larger. Waveforms tell where pulses lie
 * whatever the formants are; bands don't. reach: filter cycles, 0..HY_JUDGE_REACH. */
enum { HY_JUDGE_REACH = 2176 }; /* half of the longest period and some more */
void hy_judge_correlate(hy_judge *judge, const hyoid_part *part, size_t item, int reach, float *sums, float *scale);

/* Powers averaged over an item's frames, dB, channel and noise included: what hy_judge_distance compares. */
void hy_judge_spectra(hy_judge *judge, const hyoid_part *part, size_t item, float recorded_db[HY_TICK_BANDS],
                      float model_db[HY_TICK_BANDS]);

/* Adds the differences (recording - model, dB) of an item to per-band histograms, for finding the channel. */
enum { HY_SPREAD = 241 }; /* bins of 0.5 dB from -60 to 60 */
typedef struct hy_spread {
    unsigned count[HY_TICK_BANDS][HY_SPREAD];
} hy_spread;
void hy_judge_spread(hy_judge *judge, const hyoid_part *part, size_t item, hy_spread *spread);

#endif
