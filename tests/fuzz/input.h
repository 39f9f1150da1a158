/* What the fuzz targets of the core share: numbers out of the input's bytes, and parts that are legal but odd. */
#ifndef FUZZ_INPUT_H
#define FUZZ_INPUT_H

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

typedef struct input {
    const uint8_t *data;
    size_t left;
} input;

#define REQUIRE(condition)                                                                                           \
    do {                                                                                                             \
        if (!(condition)) {                                                                                          \
            abort();                                                                                                 \
        }                                                                                                            \
    } while (0)

/* Little-endian; zeros once the input is used up. */
static inline uint64_t take(input *in, unsigned bytes)
{
    uint64_t value = 0;
    for (unsigned i = 0; i < bytes && in->left > 0; i++, in->left--) {
        value |= (uint64_t)*in->data++ << (8 * i);
    }
    return value;
}

static inline uint32_t take_range(input *in, uint32_t low, uint32_t high)
{
    return low + (uint32_t)(take(in, 2) % (high - low + 1));
}

/* Any bits as a number: NaN, infinities and denormals too. */
static inline double take_double(input *in)
{
    union {
        uint64_t u;
        double d;
    } bits = {take(in, 8)};
    return bits.d;
}

static inline void *allocate(size_t size)
{
    void *memory = malloc(size);
    REQUIRE(memory != NULL);
    return memory;
}

static inline void odd_sequencer(hyoid_part *part, input *in, unsigned which)
{
    if (which & 1u) {
        part->filter_clocks = take_range(in, 2, 200);
        part->output_clocks = take_range(in, 1, part->filter_clocks - 1);
        part->request_delay = 0;
    }
    if (which & 2u) {
        for (size_t i = 0; i < HYOID_PHONEMES; i++) {
            part->phoneme[i].duration = (uint16_t)(1 + i % 37);
        }
        part->request_delay = 0;
    }
    if (which & 4u) {
        uint32_t shortest = UINT16_MAX;
        for (size_t i = 0; i < HYOID_PHONEMES; i++) {
            shortest = part->phoneme[i].duration < shortest ? part->phoneme[i].duration : shortest;
        }
        part->request_delay = take_range(in, 0, part->filter_clocks * (shortest - 1));
        part->burst_slot = take_range(in, 1, 15);
    }
}

/* The default part, changed as the input's next bytes say; always one that hyoid_part_check accepts. */
static inline void take_part(hyoid_part *part, input *in)
{
    *part = *hyoid_part_default();
    const unsigned which = (unsigned)take(in, 1);
    odd_sequencer(part, in, which);
    if (which & 8u) {
        part->noise_bits = take_range(in, 2, 31);
        part->noise_taps = 1 + (uint32_t)(take(in, 4) % ((1u << part->noise_bits) - 1));
        part->noise_seed = 1;
    }
    if (which & 16u) {
        part->lowpass_k = take_range(in, 0, 1000) * 0.01;
        part->amplitude_power = take_range(in, 1, 3);
    }
    if (which & 32u) {
        part->pitch_period[take(in, 1) % HYOID_LEVELS] = take_range(in, 16, 4096);
        part->pulse_length = take_range(in, 1, HYOID_PULSE_MAX);
    }
    if (which & 64u) {
        part->formant_cycles = take_range(in, 1, 100);
        part->amplitude_cycles = take_range(in, 1, 100);
        part->gate_cycles = take_range(in, 1, 100);
    }
    if (which & 128u) {
        part->transition_shift = take_range(in, 0, 7);
        part->gate_shift = take_range(in, 0, 7);
    }
    REQUIRE(hyoid_part_check(part, NULL) == HYOID_OK);
}

static inline uint32_t take_rate(input *in)
{
    const uint32_t rates[] = {48000, 0, 44100, HYOID_RATE_MIN, HYOID_RATE_MAX};
    const uint32_t which = (uint32_t)take(in, 1) % 8;
    return which < 5 ? rates[which]
                     : HYOID_RATE_MIN + (uint32_t)(take(in, 3) % (HYOID_RATE_MAX - HYOID_RATE_MIN + 1));
}

#endif
