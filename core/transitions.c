/* Transitions: a register per parameter moves in integer steps toward its target; what the registers select
 * (capacitor ratios, gains) is worked out here, once per move. "Transitions" and "Derived values" of docs/chip.md. */
#include "internal.h"

/* By a fixed share of the distance, rounded toward zero, but at least one step: so a register always arrives. */
static uint8_t moved(uint8_t value, uint8_t target, uint32_t shift)
{
    int distance = (int)target - (int)value;
    int step = distance / (1 << shift);
    if (step == 0) {
        step = (distance > 0) - (distance < 0);
    }
    return (uint8_t)(value + step);
}

static double gain(uint8_t value, uint32_t power)
{
    double linear = value / 255.0;
    double result = linear;
    for (uint32_t i = 1; i < power; i++) {
        result *= linear;
    }
    return result;
}

static void refresh_formants(hyoid_chip *chip)
{
    const hyoid_part *part = chip->part;
    chip->k1 = part->f1.k0 + part->f1.ks * chip->r_f1;
    chip->k2 = part->f2.k0 + part->f2.ks * chip->r_f2;
    chip->k3 = part->f3.k0 + part->f3.ks * chip->r_f3;

    /* The noise spectrum register shares the noise out: front (fixed section) over F3 to back (F2). */
    double place = chip->r_fc / 127.5;
    double front = place < 1.0 ? 1.0 - place : 0.0;
    double middle = place < 1.0 ? place : 2.0 - place;
    double back = place < 1.0 ? 0.0 : place - 1.0;
    chip->noise_to_f2 = part->noise_f2 * back * chip->k2;
    chip->noise_to_f3 = part->noise_f3 * middle * chip->k3;
    chip->noise_to_f4 = part->noise_f4 * (4.0 + 2.0 * part->f4_k6 - part->f4_k * part->f4_k) * front;
    chip->noise_to_output = part->noise_direct * front;
}

void hyoid_transitions_refresh_bandwidth(hyoid_chip *chip)
{
    chip->q2 = 1.0 / (1.0 + (chip->part->f2.k6 + chip->part->f2_k6_step * chip->bw2));
}

void hyoid_transitions_refresh_noise(hyoid_chip *chip)
{
    chip->noise_gain = gain(chip->r_fa, chip->part->amplitude_power);
    chip->noise_gain_between =
        chip->r_va > 0 ? chip->noise_gain * chip->part->noise_between_pulses : chip->noise_gain;
}

static void refresh_amplitudes(hyoid_chip *chip)
{
    chip->voice_gain = gain(chip->r_va, chip->part->amplitude_power) * chip->part->pulse_unit;
    hyoid_transitions_refresh_noise(chip);
}

void hyoid_transitions_refresh_gate(hyoid_chip *chip)
{
    chip->output_gain = chip->gate / 255.0 * chip->part->output_gain;
}

void hyoid_transitions_refresh(hyoid_chip *chip)
{
    const hyoid_part *part = chip->part;
    chip->q1 = 1.0 / (1.0 + part->f1.k6);
    chip->q3 = 1.0 / (1.0 + part->f3.k6);
    chip->q4 = 1.0 / (1.0 + part->f4_k6);
    chip->feed4 = part->f4_feed * part->f4_k * part->f4_k;
    chip->lowpass_q = 1.0 / (1.0 + part->lowpass_k);
    refresh_formants(chip);
    hyoid_transitions_refresh_bandwidth(chip);
    refresh_amplitudes(chip);
    hyoid_transitions_refresh_gate(chip);
}

void hyoid_transitions_power_up(hyoid_chip *chip)
{
    chip->gate = 255;
    chip->formant_in = chip->part->formant_cycles;
    chip->amplitude_in = chip->part->amplitude_cycles;
    chip->gate_in = chip->part->gate_cycles;
    hyoid_transitions_refresh(chip);
}

static void move_formants(hyoid_chip *chip)
{
    const hyoid_part *part = chip->part;
    uint32_t spectrum_shift =
        part->phoneme[chip->phoneme].closure ? part->stop_spectrum_shift : part->transition_shift;
    chip->r_f1 = moved(chip->r_f1, chip->t_f1, part->transition_shift);
    chip->r_f2 = moved(chip->r_f2, chip->t_f2, part->transition_shift);
    chip->r_f3 = moved(chip->r_f3, chip->t_f3, part->transition_shift);
    chip->r_fc = moved(chip->r_fc, chip->t_fc, spectrum_shift);
    refresh_formants(chip);
}

/* A charge too small for any silicon is none. Left alone, the sections would ring down for seconds
 * into numbers so small that the host's arithmetic turns slow. */
static void settle(double *charge)
{
    if (*charge < 0x1p-100 && *charge > -0x1p-100) {
        *charge = 0.0;
    }
}

static void move_amplitudes(hyoid_chip *chip)
{
    chip->r_va = moved(chip->r_va, chip->t_va, chip->part->transition_shift);
    chip->r_fa = moved(chip->r_fa, chip->t_fa, chip->part->transition_shift);
    refresh_amplitudes(chip);
    double *const charges[] = {&chip->u1, &chip->y1, &chip->u2, &chip->y2,     &chip->u3,
                               &chip->y3, &chip->u4, &chip->y4, &chip->lowpass};
    for (size_t i = 0; i < sizeof charges / sizeof charges[0]; i++) {
        settle(charges[i]);
    }
}

static void move_gate(hyoid_chip *chip)
{
    if (chip->gate_closing && chip->gate > 0) {
        uint32_t round_up = (1u << chip->part->gate_shift) - 1;
        chip->gate = (uint8_t)(chip->gate - ((chip->gate + round_up) >> chip->part->gate_shift));
        hyoid_transitions_refresh_gate(chip);
    }
}

void hyoid_transitions_tick(hyoid_chip *chip)
{
    if (--chip->formant_in == 0) {
        chip->formant_in = chip->part->formant_cycles;
        move_formants(chip);
    }
    if (--chip->amplitude_in == 0) {
        chip->amplitude_in = chip->part->amplitude_cycles;
        move_amplitudes(chip);
    }
    if (--chip->gate_in == 0) {
        chip->gate_in = chip->part->gate_cycles;
        move_gate(chip);
    }
}

uint32_t hyoid_transitions_quiet(const hyoid_chip *chip)
{
    uint32_t next = chip->formant_in;
    if (chip->amplitude_in < next) {
        next = chip->amplitude_in;
    }
    if (chip->gate_in < next) {
        next = chip->gate_in;
    }
    return next - 1;
}

void hyoid_transitions_skip(hyoid_chip *chip, uint32_t ticks)
{
    chip->formant_in -= ticks;
    chip->amplitude_in -= ticks;
    chip->gate_in -= ticks;
}
