/* The vocal tract: F1, F2, F3 and a fixed section in cascade, each a two-integrator switched-capacitor loop, then
 * output summer, gate and low-pass. Equations and their derivation: docs/chip.md, "The sections as switched
 * capacitors".
 *
 * Every line below is a charge balance in the order of the page; the order of the operations within a line is part
 * of the definition, because each rounds. */
#include "internal.h"

#if defined(__GNUC__) && !defined(__clang__)
/* gcc 12 packs the four sections' unlike states into vectors and spends its time shuffling. */
#pragma GCC optimize("no-tree-slp-vectorize")
#endif

void hyoid_tract_lowpass(hyoid_chip *chip, uint32_t count, double *levels)
{
    const double k = chip->part->lowpass_k;
    const double q = chip->lowpass_q;
    double y = chip->lowpass;
    for (uint32_t i = 0; i < count; i++) {
        y = (y + k * levels[i]) * q;
        levels[i] = y;
    }
    chip->lowpass = y;
}

void hyoid_tract(hyoid_chip *chip, uint32_t count, const double *voice, const double *noise, double *levels)
{
    const double k1 = chip->k1, k2 = chip->k2, k3 = chip->k3, k4 = chip->part->f4_k;
    const double q1 = chip->q1, q2 = chip->q2, q3 = chip->q3, q4 = chip->q4;
    const double n2 = chip->noise_to_f2, n3 = chip->noise_to_f3, n4 = chip->noise_to_f4;
    const double direct = chip->noise_to_output, feed4 = chip->feed4, out = chip->output_gain;
    double u1 = chip->u1, y1 = chip->y1, u2 = chip->u2, y2 = chip->y2;
    double u3 = chip->u3, y3 = chip->y3, u4 = chip->u4, y4 = chip->y4;
    double before = chip->noise, slope_before = chip->noise_slope;

    for (uint32_t i = 0; i < count; i++) {
        const double slope = noise[i] - before; /* unswitched capacitors pass changes only */
        const double bend = slope - slope_before;
        before = noise[i];
        slope_before = slope;

        /* phase 1: first integrators, from what the sections gave out one filter cycle ago */
        u1 = u1 - k1 * (voice[i] + y1);
        u2 = u2 - k2 * (y1 + y2) + n2 * slope;
        u3 = u3 - k3 * (y2 + y3) + n3 * slope;
        u4 = u4 + k4 * (y3 - y4);

        /* then second integrators, downstream; the fixed section also sees F3's change at once */
        y1 = (y1 + k1 * u1) * q1;
        y2 = (y2 + k2 * u2) * q2;
        const double y3_before = y3;
        y3 = (y3 + k3 * u3) * q3;
        y4 = (y4 + k4 * u4 + (n4 * slope - feed4 * (y3 - y3_before))) * q4;

        levels[i] = (y4 + direct * bend) * out;
    }
    chip->u1 = u1;
    chip->y1 = y1;
    chip->u2 = u2;
    chip->y2 = y2;
    chip->u3 = u3;
    chip->y3 = y3;
    chip->u4 = u4;
    chip->y4 = y4;
    chip->noise = before;
    chip->noise_slope = slope_before;

    if (chip->part->lowpass_k > 0.0) {
        hyoid_tract_lowpass(chip, count, levels);
    }
}
