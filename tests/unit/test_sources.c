/* Pitch and noise. Published: the noise register's period, balance and runs (reference/tables/lfsr15_*.csv). */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "core_bench.h"
#include "source_dir.h"

enum { FILTER = 36, PERIOD = 32767 };

static void noise_bits(unsigned char *bits, size_t count)
{
    bench *b = bench_new();
    for (size_t i = 0; i < count; i++) {
        hyoid_chip_step(&b->chip, FILTER);
        bits[i] = b->chip.noise_reg & 1u;
    }
    free(b);
}

Test(noise, has_the_published_period_and_balance)
{
    static unsigned char bits[2 * PERIOD];
    noise_bits(bits, sizeof bits);
    cr_assert_eq(memcmp(bits, bits + PERIOD, PERIOD), 0);
    for (int shorter = 1; shorter < PERIOD; shorter++) { /* any shorter period would divide it */
        if (PERIOD % shorter == 0) {
            cr_assert_neq(memcmp(bits, bits + shorter, (size_t)(PERIOD - shorter)), 0, "repeats after %d", shorter);
        }
    }
    int ones = 0;
    for (int i = 0; i < PERIOD; i++) {
        ones += bits[i];
    }
    FILE *table = open_reference("tables/lfsr15_maximal.csv");
    char line[1000];
    int found = 0;
    while (fgets(line, sizeof line, table) != NULL) {
        int period, table_ones;
        if (sscanf(line, "15 14,XOR,%d,%d", &period, &table_ones) == 2) {
            cr_assert_eq(period, PERIOD);
            cr_assert_eq(ones, table_ones);
            found = 1;
        }
    }
    fclose(table);
    cr_assert(found, "the table must have the row 15 14,XOR");
}

Test(noise, has_the_published_runs)
{
    static unsigned char bits[2 * PERIOD];
    noise_bits(bits, sizeof bits);
    int start = 1;
    while (bits[start] == bits[start - 1]) {
        start++;
    }
    int runs[2][32] = {{0}};
    int length = 1;
    for (int i = start + 1; i <= start + PERIOD; i++) {
        if (bits[i] == bits[i - 1]) {
            length++;
        } else {
            runs[bits[i - 1]][length]++;
            length = 1;
        }
    }
    FILE *table = open_reference("tables/lfsr15_runs.csv");
    char line[1000];
    int rows = 0, k, ones, zeros;
    while (fgets(line, sizeof line, table) != NULL) {
        if (sscanf(line, "%d,%d,%d", &k, &ones, &zeros) == 3) {
            cr_assert_eq(runs[1][k], ones, "runs of %d ones", k);
            cr_assert_eq(runs[0][k], zeros, "runs of %d zeros", k);
            rows++;
        }
    }
    fclose(table);
    cr_assert_geq(rows, 15);
}

Test(noise, any_taps_give_the_parity_of_what_they_tap)
{
    bench *b = bench_new();
    b->part.noise_bits = 17;
    b->part.noise_taps = 0x1d;
    b->part.noise_seed = 0x1abcd;
    bench_power_up(b);
    uint32_t reg = 0x1abcd;
    for (int i = 0; i < 1000; i++) {
        uint32_t fed = reg & 0x1d, bit = 0;
        for (; fed != 0; fed >>= 1) {
            bit ^= fed & 1u;
        }
        reg = reg >> 1 | bit << 16;
        hyoid_chip_step(&b->chip, FILTER);
        cr_assert_eq(b->chip.noise_reg, reg);
    }
    free(b);
}

/* Filter cycles between two restarts of the pitch counter, F1 at rest. */
static uint32_t period(bench *b)
{
    while (b->chip.pitch_count != 0) {
        hyoid_chip_step(&b->chip, FILTER);
    }
    uint32_t count = 0;
    do {
        hyoid_chip_step(&b->chip, FILTER);
        count++;
    } while (b->chip.pitch_count != 0);
    return count;
}

Test(pitch, four_levels_and_the_first_formant_set_the_period)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (unsigned level = 0; level < HYOID_LEVELS; level++) {
            bench *b = bench_new();
            hyoid_chip_set_inflection(&b->chip, level);
            hyoid_chip_write(&b->chip, code);
            hyoid_chip_step(&b->chip, 720000);
            uint32_t f1 = b->part.phoneme[code].f1 * 17u;
            cr_assert_eq(period(b), 190 - 20 * level + f1 / 8, "code %02x level %u", code, level);
            free(b);
        }
    }
}

Test(pitch, inflection_is_not_latched_and_may_end_the_period_at_once)
{
    bench *b = bench_new();
    hyoid_chip_step(&b->chip, 720000);
    while (b->chip.pitch_count != 150) {
        hyoid_chip_step(&b->chip, FILTER);
    }
    hyoid_chip_set_inflection(&b->chip, 3); /* 130 + F1: already passed */
    cr_assert_eq(b->chip.pitch_count, 150);
    hyoid_chip_step(&b->chip, FILTER);
    uint32_t p = 130 + (b->chip.r_f1 >> 3);
    cr_assert_eq(b->chip.pitch_count, p <= 151 ? 0 : 151);
    cr_assert_leq(p, 145);
    while (b->chip.pitch_count != 0) {
        hyoid_chip_step(&b->chip, FILTER);
    }
    cr_assert_eq(period(b), p);
    free(b);
}

Test(pitch, the_intrinsic_pitch_of_high_vowels_has_the_published_sign_and_size)
{
    /* 1.8 semitones between the means of (iy, uw) and (ae, aa), half to one and a half times that (tables/intrinsic_f0.csv) */
    static const unsigned codes[4] = {0x2c, 0x28, 0x2e, 0x15};
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        double hz[4];
        for (int i = 0; i < 4; i++) {
            bench *b = bench_new();
            hyoid_chip_set_inflection(&b->chip, level);
            hyoid_chip_write(&b->chip, codes[i]);
            hyoid_chip_step(&b->chip, 720000);
            hz[i] = 20000.0 / period(b);
            free(b);
        }
        double ratio = (hz[0] + hz[1]) / (hz[2] + hz[3]);
        cr_assert_gt(ratio, 1.0534, "level %u", level); /* 2^(0.9/12) */
        cr_assert_lt(ratio, 1.1688, "level %u", level); /* 2^(2.7/12) */
    }
}

Test(pitch, the_pulse_is_stepped_through_once_a_period_and_sums_to_nothing)
{
    const hyoid_part *part = hyoid_part_default();
    int sum = 0, least = 0, most = 0;
    for (uint32_t i = 0; i < part->pulse_length; i++) {
        sum += part->pulse[i];
        least = part->pulse[i] < least ? part->pulse[i] : least;
        most = part->pulse[i] > most ? part->pulse[i] : most;
    }
    cr_assert_eq(least, -115);
    cr_assert_eq(most, 21);
    cr_assert(sum > -8 && sum < 8, "the flow returns to zero within rounding: %d", sum);
}
