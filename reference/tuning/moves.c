#include "moves.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "partfile_fields.h"
#include "score.h"

uint8_t *number(hyoid_part *part, unsigned code, unsigned quantity)
{
    return (uint8_t *)&part->phoneme[code] + hy_quantities[quantity].offset;
}

int same_symbol(unsigned a, unsigned b)
{
    return strcmp(hy_symbols[a].symbol, hy_symbols[b].symbol) == 0;
}

unsigned first_of_symbol(unsigned code)
{
    unsigned first = 0;
    while (!same_symbol(first, code)) {
        first++;
    }
    return first;
}

int move_number(hyoid_part *part, unsigned code, unsigned quantity, int delta)
{
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        if (same_symbol(c, code)) {
            const int value = *number(part, c, quantity) + delta;
            if (value < 0 || value > (int)hy_quantities[quantity].most) {
                return 0;
            }
            *number(part, c, quantity) = (uint8_t)value;
        }
    }
    return 1;
}

/* A glottal pulse of `opening` and `closing` steps; the rest of its length rests. */
static int shape_pulse(hyoid_part *part, int opening, int closing)
{
    if (opening + closing + 1 > (int)part->pulse_length || opening < 20 || closing < 4) {
        return 0;
    }
    double last = 0.0;
    const double pi = 3.14159265358979323846;
    for (int i = 0; i < (int)part->pulse_length; i++) {
        const double g = i <= opening             ? 0.5 * (1.0 - cos(pi * i / opening))
                         : i <= opening + closing ? cos(0.5 * pi * (i - opening) / closing)
                                                  : 0.0;
        part->pulse[i] = (int16_t)floor(1024.0 * (g - last) + 0.5);
        last = g;
    }
    return 1;
}

static int opening_now, closing_now; /* of the part's pulse; 0: not of this shape */

void recognise_pulse(const hyoid_part *part)
{
    for (int opening = 20; opening < (int)part->pulse_length; opening++) {
        for (int closing = 4; opening + closing < (int)part->pulse_length; closing++) {
            hyoid_part trial = *part;
            if (shape_pulse(&trial, opening, closing) && memcmp(trial.pulse, part->pulse, sizeof trial.pulse) == 0) {
                opening_now = opening;
                closing_now = closing;
            }
        }
    }
}

const char *const constant_names[CONSTANTS] = {"burst_slot",
                                               "formant_cycles",
                                               "amplitude_cycles",
                                               "gate_cycles",
                                               "stop_spectrum_shift",
                                               "gate_shift",
                                               "pulse opening",
                                               "pulse closing",
                                               "noise_between_pulses",
                                               "bandwidth 1",
                                               "bandwidth 2",
                                               "bandwidth 2 step",
                                               "bandwidth 3",
                                               "f4",
                                               "bandwidth 4",
                                               "f4_feed",
                                               "noise_f2",
                                               "noise_f3",
                                               "noise_f4",
                                               "noise_direct",
                                               "pitch"};

static double rounded(double value)
{
    char text[32];
    snprintf(text, sizeof text, "%.6g", value);
    return strtod(text, NULL);
}

int move_constant(hyoid_part *p, size_t which, int sign)
{
    const double ratio = sign > 0 ? 1.25 : 0.8;
    switch (which) {
    case 0:
        p->burst_slot += (uint32_t)sign;
        return p->burst_slot >= 9 && p->burst_slot <= 15;
    case 1:
        p->formant_cycles = sign > 0 ? p->formant_cycles * 4 / 3 : p->formant_cycles * 3 / 4;
        return 1;
    case 2:
        p->amplitude_cycles = sign > 0 ? p->amplitude_cycles * 4 / 3 : p->amplitude_cycles * 3 / 4;
        return 1;
    case 3:
        p->gate_cycles = sign > 0 ? p->gate_cycles * 2 : p->gate_cycles / 2;
        return p->gate_cycles >= 4;
    case 4:
        p->stop_spectrum_shift += (uint32_t)sign;
        return p->stop_spectrum_shift <= 3;
    case 5:
        p->gate_shift += (uint32_t)sign;
        return p->gate_shift >= 1 && p->gate_shift <= 4;
    case 6:
        return shape_pulse(p, opening_now + 8 * sign, closing_now);
    case 7:
        return shape_pulse(p, opening_now, closing_now + 3 * sign);
    case 8:
        p->noise_between_pulses = rounded(p->noise_between_pulses + 0.25 * sign);
        return p->noise_between_pulses >= 0.0 && p->noise_between_pulses <= 1.0;
    case 9:
        p->f1.k6 = rounded(p->f1.k6 * ratio);
        return p->f1.k6 > 0.0125 && p->f1.k6 < 0.0385; /* 40..120 Hz */
    case 10:
        p->f2.k6 = rounded(p->f2.k6 * ratio);
        return p->f2.k6 > 0.006 && p->f2.k6 < 0.03;
    case 11:
        p->f2_k6_step = rounded(p->f2_k6_step * ratio);
        return 1;
    case 12:
        p->f3.k6 = rounded(p->f3.k6 * ratio);
        return p->f3.k6 > 0.019 && p->f3.k6 < 0.08; /* 60..250 Hz */
    case 13:
        p->f4_k = rounded(p->f4_k * (sign > 0 ? 1.04 : 0.96));
        return p->f4_k < 1.3 && p->f4_k > 0.98;
    case 14:
        p->f4_k6 = rounded(p->f4_k6 * ratio);
        return p->f4_k6 > 0.025 && p->f4_k6 < 0.15;
    case 15:
        p->f4_feed = rounded(p->f4_feed * ratio);
        return 1;
    case 16:
        p->noise_f2 = rounded(p->noise_f2 * ratio);
        return 1;
    case 17:
        p->noise_f3 = rounded(p->noise_f3 * ratio);
        return 1;
    case 18:
        p->noise_f4 = rounded(p->noise_f4 * ratio);
        return 1;
    case 19:
        p->noise_direct = rounded(p->noise_direct * ratio);
        return 1;
    default:
        for (size_t i = 0; i < HYOID_LEVELS; i++) {
            p->pitch_period[i] = (uint32_t)((int)p->pitch_period[i] + 8 * sign);
        }
        return p->pitch_period[0] >= 160 && p->pitch_period[0] <= 220;
    }
}
