/* Sources: the pitch counter that steps through the stored glottal pulse, and the noise register.
 * "Sources" of docs/chip.md. */
#include "internal.h"

static uint32_t parity(uint32_t bits)
{
    bits ^= bits >> 16;
    bits ^= bits >> 8;
    bits ^= bits >> 4;
    return (0x6996u >> (bits & 15u)) & 1u;
}

/* No branch may depend on the noise: no processor guesses it. */
static double sign(uint32_t reg)
{
    return (double)((int32_t)(2u * (reg & 1u)) - 1);
}

/* `stride` is a constant in both callers: the compiler makes two machines of this. */
static inline void shift_register(hyoid_chip *chip, uint32_t count, double *noise, size_t stride)
{
    const uint32_t taps = chip->part->noise_taps;
    const uint32_t top = chip->part->noise_bits - 1;
    uint32_t reg = chip->noise_reg;
    if (taps == 3) { /* the published pair for 15 bits, without the detour over parity */
        for (uint32_t i = 0; i < count; i++) {
            reg = (reg >> 1) | (((reg ^ (reg >> 1)) & 1u) << top);
            noise[i * stride] = sign(reg);
        }
    } else {
        for (uint32_t i = 0; i < count; i++) {
            reg = (reg >> 1) | (parity(reg & taps) << top);
            noise[i * stride] = sign(reg);
        }
    }
    chip->noise_reg = reg;
}

static inline void run_sources(hyoid_chip *chip, uint32_t count, double *voice, double *noise, size_t stride)
{
    const hyoid_part *part = chip->part;
    /* Present inflection and present F1 register: high vowels speak a little higher (intrinsic pitch). */
    const uint32_t level = (chip->inflection & chip->inflection_keep) | chip->inflection_force;
    const uint32_t last = part->pitch_period[level] + ((uint32_t)chip->r_f1 >> part->pitch_f1_shift) - 1;
    const uint32_t length = part->pulse_length;
    const double voice_gain = chip->voice_gain;
    const double amplitude[2] = {chip->noise_gain_between, chip->noise_gain};
    uint32_t pitch = chip->pitch_count;

    shift_register(chip, count, noise, stride);
    for (uint32_t i = 0; i < count; i++) {
        /* >=, not ==: the period may have shrunk below the count */
        pitch = pitch >= last ? 0 : pitch + 1;
        const bool pulse = pitch < length;
        voice[i * stride] = pulse ? part->pulse[pitch] * voice_gain : 0.0;
        noise[i * stride] *= amplitude[pulse];
    }
    chip->pitch_count = pitch;
}

void hyoid_sources(hyoid_chip *chip, uint32_t count, double *voice, double *noise)
{
    run_sources(chip, count, voice, noise, 1);
}

void hyoid_sources_lane(hyoid_chip *chip, uint32_t count, double *voice, double *noise)
{
    run_sources(chip, count, voice, noise, HYOID_BATCH);
}
