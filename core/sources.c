/* Sources: the pitch counter that steps through the stored glottal pulse, and the noise register.
 * Rule 10 of docs/chip.md. */
#include "internal.h"

static uint32_t parity(uint32_t bits)
{
    bits ^= bits >> 16;
    bits ^= bits >> 8;
    bits ^= bits >> 4;
    return (0x6996u >> (bits & 15u)) & 1u;
}

void hyoid_sources(hyoid_chip *chip, uint32_t count, double *voice, double *noise)
{
    const hyoid_part *part = chip->part;
    /* Present inflection and present F1 register: high vowels speak a little higher (intrinsic pitch). */
    const uint32_t last = part->pitch_period[chip->inflection] + (chip->r_f1 >> part->pitch_f1_shift) - 1;
    const uint32_t length = part->pulse_length;
    const uint32_t taps = part->noise_taps;
    const uint32_t top = part->noise_bits - 1;
    const double voice_gain = chip->voice_gain;
    const double inside = chip->noise_gain;
    const double outside = chip->noise_gain_between;
    uint32_t pitch = chip->pitch_count;
    uint32_t reg = chip->noise_reg;

    for (uint32_t i = 0; i < count; i++) {
        /* >=, not ==: the period may have shrunk below the count */
        pitch = pitch >= last ? 0 : pitch + 1;
        reg = (reg >> 1) | (parity(reg & taps) << top);
        bool pulse = pitch < length;
        voice[i] = pulse ? part->pulse[pitch] * voice_gain : 0.0;
        double amplitude = pulse ? inside : outside;
        noise[i] = (reg & 1u) ? amplitude : -amplitude;
    }
    chip->pitch_count = pitch;
    chip->noise_reg = reg;
}
