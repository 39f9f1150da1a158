#include "random_part.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

uint64_t random_bits(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

uint64_t random_between(uint64_t *state, uint64_t low, uint64_t high)
{
    return low + random_bits(state) % (high - low + 1);
}

uint64_t random_scale(uint64_t *state, uint64_t low, uint64_t high)
{
    uint64_t span = high - low;
    unsigned width = 0;

    while (span >> width > 0) {
        width += 1;
    }
    return low + random_between(state, 0, span >> random_between(state, 0, width));
}

static unsigned draw(uint64_t *state, unsigned low, unsigned high)
{
    return (unsigned)random_between(state, low, high);
}

static bool chance(uint64_t *state, unsigned percent)
{
    return random_between(state, 1, 100) <= percent;
}

/* In [0, 1). */
static double fraction(uint64_t *state)
{
    return (double)(random_bits(state) >> 11) * 0x1p-53;
}

/* Between low and high, both > 0, with its logarithm spread evenly. */
static double magnitude(uint64_t *state, double low, double high)
{
    return low * pow(high / low, fraction(state));
}

/* A share in 0..1 that is often one of the ends. */
static double share(uint64_t *state)
{
    switch (draw(state, 0, 5)) {
    case 0:
        return 0.0;
    case 1:
        return 1.0;
    default:
        return fraction(state);
    }
}

static void draw_phoneme(uint64_t *state, unsigned shortest, unsigned longest, hyoid_phoneme *phoneme)
{
    phoneme->f1 = (uint8_t)draw(state, 0, 15);
    phoneme->f2 = (uint8_t)draw(state, 0, 31);
    phoneme->f3 = (uint8_t)draw(state, 0, 15);
    phoneme->bw2 = (uint8_t)draw(state, 0, 15);
    phoneme->va = (uint8_t)(chance(state, 40) ? 0 : draw(state, 0, 15));
    phoneme->fa = (uint8_t)(chance(state, 30) ? 0 : draw(state, 0, 15));
    phoneme->fc = (uint8_t)draw(state, 0, 15);
    phoneme->vd = (uint8_t)(chance(state, 30) ? 0 : draw(state, 0, 15));
    phoneme->cld = (uint8_t)(chance(state, 30) ? 0 : draw(state, 0, 15));
    phoneme->closure = chance(state, 30);
    phoneme->pause = chance(state, 15);
    phoneme->duration = (uint16_t)random_scale(state, shortest, chance(state, 5) ? 65535 : longest);
}

static double damping(uint64_t *state)
{
    return chance(state, 10) ? 1e-6 : chance(state, 10) ? 1.0 : magnitude(state, 1e-4, 1.0);
}

static void draw_section(uint64_t *state, hyoid_section *section)
{
    double top = 0.001 + 1.998 * fraction(state);

    section->k0 = chance(state, 10) ? top : top * (0.001 + 0.999 * fraction(state));
    section->ks = (top - section->k0) / 255.0 * (chance(state, 80) ? 1.0 : fraction(state));
    section->k6 = damping(state);
}

void random_part(uint64_t *state, hyoid_part *part)
{
    unsigned shortest = chance(state, 50) ? 1 : draw(state, 2, 64);
    unsigned longest = shortest + (1u << draw(state, 0, 12));
    unsigned mask;
    uint64_t latest_fall;
    unsigned i;

    memset(part, 0, sizeof *part);
    for (i = 0; i < HYOID_PHONEMES; ++i) {
        draw_phoneme(state, shortest, longest, &part->phoneme[i]);
    }
    if (chance(state, 5)) {
        for (i = 0; i < HYOID_PHONEMES; ++i) {
            part->phoneme[i].pause = 0;
        }
    }
    part->phoneme[draw(state, 0, HYOID_PHONEMES - 1)].duration = (uint16_t)shortest;

    part->nominal_hz = magnitude(state, 1.0, 1e8);
    part->filter_clocks = (uint32_t)random_scale(state, 2, chance(state, 90) ? 64 : 4096);
    part->output_clocks = draw(state, 1, part->filter_clocks - 1);
    latest_fall = (uint64_t)part->filter_clocks * (shortest - 1);
    part->request_delay = (uint32_t)(chance(state, 10) ? latest_fall : random_scale(state, 0, latest_fall));
    part->burst_slot = draw(state, 1, 15);

    part->formant_cycles = (uint32_t)random_scale(state, 1, chance(state, 90) ? 100 : 4096);
    part->amplitude_cycles = (uint32_t)random_scale(state, 1, chance(state, 90) ? 100 : 4096);
    part->gate_cycles = (uint32_t)random_scale(state, 1, chance(state, 90) ? 100 : 4096);
    part->transition_shift = draw(state, 0, 7);
    part->stop_spectrum_shift = draw(state, 0, 7);
    part->gate_shift = draw(state, 0, 7);

    for (i = 0; i < HYOID_LEVELS; ++i) {
        part->pitch_period[i] = (uint32_t)random_scale(state, 16, chance(state, 90) ? 400 : 4096);
    }
    part->pitch_f1_shift = draw(state, 0, 8);
    part->pulse_length = draw(state, 1, chance(state, 30) ? 256 : 40);
    for (i = 0; i < HYOID_PULSE_MAX; ++i) {
        part->pulse[i] = (int16_t)((int)draw(state, 0, 65535) - 32768);
    }
    part->pulse_unit = magnitude(state, 1e-6, 1.0);
    part->noise_bits = draw(state, 2, 31);
    mask = (1u << part->noise_bits) - 1u;
    part->noise_taps = draw(state, 1, mask);
    part->noise_seed = chance(state, 30) ? mask : draw(state, 1, mask);
    part->noise_between_pulses = share(state);
    part->amplitude_power = draw(state, 1, 3);

    draw_section(state, &part->f1);
    draw_section(state, &part->f2);
    draw_section(state, &part->f3);
    part->f2_k6_step = chance(state, 10) ? 0.0 : magnitude(state, 1e-4, 1.0);
    part->f4_k = 0.001 + 1.998 * fraction(state);
    part->f4_k6 = damping(state);
    part->f4_feed = 3.0 * share(state);
    part->noise_f2 = 3.0 * share(state);
    part->noise_f3 = 3.0 * share(state);
    part->noise_f4 = 3.0 * share(state);
    part->noise_direct = 3.0 * share(state);
    part->lowpass_k = chance(state, 50) ? 0.0 : magnitude(state, 1e-3, 100.0);
    part->output_gain = magnitude(state, 1e-3, 10.0);
}
