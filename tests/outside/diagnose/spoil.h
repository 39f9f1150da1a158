/* What a shop does to a recording: another clock, a late start, an amplifier's gain, noise, hum, a narrow line. */
#ifndef SPOIL_H
#define SPOIL_H

#include <stddef.h>
#include <stdint.h>

typedef enum spoil_condition { SPOIL_CLEAN, SPOIL_NOISY, SPOIL_NARROW, SPOIL_CONDITIONS } spoil_condition;
extern const char *const spoil_names[SPOIL_CONDITIONS];

/* SplitMix64, and a uniform number in [0, 1) from it. */
uint64_t spoil_next(uint64_t *state);
double spoil_uniform(uint64_t *state);

/* A longer copy with `before` and `after` seconds of silence around it, scaled, 16 bits; the caller frees it. Clean: a floor of
 * -75 dBFS. Noisy: white noise 20 dB below `speech_rms` (that of a healthy chip's rendering, for a fault makes no shop quieter),
 * and hum of 50 Hz with harmonics 20 dB below it. Narrow: 300 to 3400 Hz, fourth order at each side, floor of -75 dBFS. */
float *spoil(const float *in, size_t count, double rate, spoil_condition condition, double gain, double speech_rms,
             uint64_t *seed, size_t *out_count);

#endif
