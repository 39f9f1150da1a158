/* The pieces of calibration, each on material whose truth is known. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <criterion/criterion.h>

#include "../../frontends/calibrate/grid.h"
#include "../../frontends/calibrate/knobs.h"
#include "../../frontends/calibrate/moments.h"
#include "../../frontends/calibrate/noise_place.h"
#include "../../frontends/calibrate/parallel.h"
#include "../../frontends/calibrate/period.h"
#include "../../frontends/calibrate/speech.h"
#include "../../frontends/calibrate/warp.h"

enum { ROOM = 900000, ITEMS = 384 };

/* Every code behind a stop, in an order that stirs; some held on by the host. */
static size_t text(hy_said *said)
{
    size_t n = 0;
    for (unsigned i = 0; i < 128; i++) {
        uint8_t code = (uint8_t)(i * 27 % 64), level = (uint8_t)((i + i / 64) % 4); /* two levels for each code */
        said[n++] = (hy_said){0x2a, level, 1, 0};
        said[n++] = (hy_said){code, level, 1, 0};
        said[n++] = (hy_said){code, level, 1, i % 16 == 0 ? 700 : 0};
    }
    return n;
}

static float *speak(const hyoid_part *part, const hy_said *said, size_t n, size_t *count, uint32_t *onset)
{
    float *sound = malloc(ROOM * sizeof *sound);
    *count = hy_speech_render(part, (hy_start){0}, said, n, sound, ROOM, onset);
    cr_assert_lt(*count, (size_t)ROOM);
    return sound;
}

Test(calibrate, speech_lasts_what_the_sequencer_says)
{
    hy_said said[ITEMS];
    uint32_t onset[ITEMS + 1];
    size_t n = text(said), count;
    const hyoid_part *part = hyoid_part_default();
    float *sound = speak(part, said, n, &count, onset);
    uint32_t at = 0;
    for (size_t i = 0; i < n; i++) {
        cr_assert_eq(onset[i], at);
        at += part->phoneme[said[i].code].duration + said[i].ticks;
    }
    cr_assert_eq(onset[n], at);
    free(sound);
}

Test(calibrate, period_to_a_hundredth_of_a_sample)
{
    static float sound[2000];
    static const double periods[] = {121.37, 160.0, 203.81, 231.44};
    for (size_t k = 0; k < sizeof periods / sizeof periods[0]; k++) {
        for (int i = 0; i < 2000; i++) {
            double phase = fmod(i / periods[k], 1);
            sound[i] = (float)(exp(-8 * phase) * sin(60 * phase)); /* a pulse through a resonance */
        }
        double clarity, found = hy_period(sound, 2000, 300, 1024, 100, 260, &clarity);
        cr_assert_float_eq(found, periods[k], 0.02);
        cr_assert_gt(clarity, 0.95);
    }
    for (int i = 0; i < 2000; i++) {
        sound[i] = (float)((i * 7919 % 1009) / 504.5 - 1);
    }
    double clarity;
    hy_period(sound, 2000, 300, 1024, 100, 260, &clarity);
    cr_assert_lt(clarity, 0.9);
}

Test(calibrate, warp_finds_phonemes_of_other_lengths)
{
    double cost;
    hy_said said[ITEMS];
    uint32_t expected[ITEMS + 1], truth[ITEMS + 1];
    static double found[ITEMS + 1];
    size_t n = text(said), model_count, count;
    hyoid_part *other = malloc(sizeof *other);
    *other = *hyoid_part_default();
    for (unsigned c = 0; c < 64; c++) {
        other->phoneme[c].duration = (uint16_t)(other->phoneme[c].duration * (c % 3 == 0   ? 1.1
                                                                              : c % 3 == 1 ? 0.93
                                                                                           : 1.02));
    }
    float *model = speak(hyoid_part_default(), said, n, &model_count, expected);
    float *sound = speak(other, said, n, &count, truth);
    cr_assert_eq(hy_warp(model, model_count, sound, count, 0.2, expected, n + 1, found, &cost), 0);
    double sum = 0;
    for (size_t i = 0; i <= n; i++) {
        sum += (found[i] - truth[i]) * (found[i] - truth[i]);
    }
    cr_assert_lt(sqrt(sum / (double)n), 200.0); /* 10 ms */
    cr_assert_eq(hy_warp(model, 20, sound, count, 0.2, expected, n + 1, found, &cost), -1);
    free(model);
    free(sound);
    free(other);
}

/* A recording that begins late and ends early is laid within the text; what it lacks has no place. */
Test(calibrate, warp_within_finds_a_part)
{
    hy_said said[ITEMS];
    uint32_t expected[ITEMS + 1], truth[ITEMS + 1];
    static double found[ITEMS + 1];
    size_t n = text(said), model_count, count;
    double whole, within;
    hyoid_part *other = malloc(sizeof *other);
    *other = *hyoid_part_default();
    for (unsigned c = 0; c < 64; c++) {
        other->phoneme[c].duration = (uint16_t)(other->phoneme[c].duration * (c % 2 == 0 ? 1.05 : 0.96));
    }
    float *model = speak(hyoid_part_default(), said, n, &model_count, expected);
    float *sound = speak(other, said, n, &count, truth);
    size_t first = n / 4, last = 3 * n / 4;
    const uint32_t from = truth[first], length = truth[last] - from;
    cr_assert_eq(hy_warp_within(model, model_count, sound + from, length, expected, n + 1, found, &within), 0);
    cr_assert_eq(hy_warp(model, model_count, sound + from, length, 0.2, expected, n + 1, found, &whole), 0);
    cr_expect_lt(within, 0.9 * whole, "%g beside %g with all of the text", within, whole);
    cr_assert_eq(hy_warp_within(model, model_count, sound + from, length, expected, n + 1, found, &within), 0);
    double sum = 0;
    for (size_t i = 0; i <= n; i++) {
        if (i + 1 < first || i > last + 1) {
            cr_expect(isnan(found[i]), "%zu of %zu..%zu: %g", i, first, last, found[i]);
        } else if (i > first && i < last) {
            double off = found[i] + from - truth[i];
            sum += off * off;
        }
    }
    cr_expect_lt(sqrt(sum / (double)(last - first)), 200.0); /* 10 ms; NaN fails */
    free(model);
    free(sound);
    free(other);
}

/* Bursts show durations to about a quarter of a millisecond (5 cycles) in this short text. */
Test(calibrate, durations_from_bursts)
{
    hy_said said[ITEMS];
    uint32_t truth[ITEMS + 1];
    static double onset[ITEMS + 1];
    static hy_moment moments[2 * ITEMS];
    static const float flat[HY_TICK_BANDS];
    size_t n = text(said), count;
    hyoid_part *part = malloc(sizeof *part);
    *part = *hyoid_part_default();
    float *sound = speak(part, said, n, &count, truth);
    hy_material material = {.sound = sound, .count = count, .said = said, .items = n};
    double duration[64], sigma[64], spread;
    for (unsigned c = 0; c < 64; c++) {
        duration[c] = part->phoneme[c].duration * (c % 2 == 0 ? 1.04 : 0.97);
    }
    for (size_t i = 0; i <= n; i++) {
        onset[i] = truth[i] + 90.0 * sin((double)i);
    }
    for (int round = 0; round < 2; round++) {
        hy_moment_search search = {part, &material, onset, flat, round == 0 ? 300 : 100};
        cr_assert_eq(hy_moments_onsets(&search, moments), 0);
        long bursts = hy_moments_bursts(&search, moments + n);
        cr_assert_gt(bursts, 40L);
        cr_assert_eq(hy_durations(&material, moments, n + (size_t)bursts, duration, sigma, onset, &spread), 0);
    }
    double sum = 0;
    for (unsigned c = 0; c < 64; c++) {
        double off = duration[c] - (double)part->phoneme[c].duration;
        cr_assert_lt(fabs(off), 15.0, "code %02x: %g for %u", c, duration[c], part->phoneme[c].duration);
        sum += off * off / 64;
    }
    cr_assert_lt(sqrt(sum), 6.0);
    free(sound);
    free(part);
}

Test(calibrate, whole_milliseconds_tell_the_clock)
{
    const hyoid_part *part = hyoid_part_default();
    double duration[64], sigma[64], misfit, next;
    for (int c = 0; c < 64; c++) {
        duration[c] = part->phoneme[c].duration * 1.0137 + 0.7 * sin(c * 2.1);
        sigma[c] = 1;
    }
    double scale = hy_grid_scale(part, duration, sigma, 0.97, 1.03, &misfit, &next);
    cr_assert_float_eq(scale, 1.0137, 0.0001);
    cr_assert_lt(misfit, 0.08);
    for (int c = 0; c < 64; c++) { /* no grid: nothing may be believed */
        duration[c] = 1000 + 37.77 * c + 5.5 * sin(c * c);
    }
    hy_grid_scale(part, duration, sigma, 0.97, 1.03, &misfit, &next);
    cr_assert_gt(misfit, 0.17);
    memset(sigma, 0, sizeof sigma);
    cr_assert_eq(hy_grid_scale(part, duration, sigma, 0.97, 1.03, &misfit, &next), 0.0);
}

/* Periods and F1 codes are read off the sound although the part that is assumed has other ones. */
Test(calibrate, pitch_tells_periods_and_first_formants)
{
    hy_said said[ITEMS];
    uint32_t onset[ITEMS + 1];
    size_t n = text(said), count;
    hyoid_part *part = malloc(sizeof *part);
    *part = *hyoid_part_default();
    for (unsigned l = 0; l < 4; l++) {
        part->pitch_period[l] += 5 - 3 * l;
    }
    float *sound = speak(part, said, n, &count, onset);
    hy_material material = {.sound = sound, .count = count, .said = said, .items = n, .onset = onset};
    hyoid_part *assumed = malloc(sizeof *assumed);
    *assumed = *hyoid_part_default();
    for (unsigned c = 0; c < 64; c++) {
        assumed->phoneme[c].f1 = (uint8_t)(assumed->phoneme[c].f1 < 15 && c % 2 == 0 ? assumed->phoneme[c].f1 + 1
                                                                                     : assumed->phoneme[c].f1);
    }
    hy_pitch_fit fit;
    hy_pitch_measure(assumed, &material, &fit);
    for (unsigned l = 0; l < 4; l++) {
        cr_assert_float_eq(fit.period[l], (double)part->pitch_period[l], 0.3, "level %u: %g", l, fit.period[l]);
    }
    int told = 0;
    for (unsigned c = 0; c < 64; c++) {
        if (fit.f1[c] >= 0) {
            told++;
            cr_assert_eq(fit.f1[c], part->phoneme[c].f1, "code %02x", c);
        }
    }
    cr_assert_gt(told, 20);
    free(sound);
    free(part);
    free(assumed);
}

Test(calibrate, knobs_turn_back)
{
    hyoid_part part = *hyoid_part_default();
    for (unsigned i = 0; i < HY_REAL_KNOBS; i++) {
        hyoid_part turned = part;
        cr_assert_eq(hy_knob_turn(&turned, i, 0.01), 1);
        cr_assert_neq(hyoid_part_hash(&turned), hyoid_part_hash(&part), "knob %u", i);
    }
    for (unsigned i = 0; i < HY_COUNT_KNOBS; i++) {
        hyoid_part turned = part;
        cr_assert_eq(hy_knob_count(&turned, i, 1) && hy_knob_count(&turned, i, -1), 1);
        cr_assert_eq(hyoid_part_hash(&turned), hyoid_part_hash(&part));
        cr_assert_eq(hy_knob_count(&turned, i, -100000), 0);
    }
    double opening, closing;
    hy_pulse_shape(&part, 71, 26);
    hy_pulse_times(&part, &opening, &closing);
    cr_assert_float_eq(opening, 71.0, 1.1);
    cr_assert_float_eq(closing, 26.0, 1.5);
}

static void count_one(void *user, unsigned thread, size_t index)
{
    (void)thread;
    ((unsigned char *)user)[index]++;
}

Test(calibrate, parallel_work_is_done_once_each)
{
    static unsigned char done[1000];
    hy_parallel(5, 1000, count_one, done);
    for (int i = 0; i < 1000; i++) {
        cr_assert_eq(done[i], 1);
    }
}

/* Noises and vowels in turn, after the register has run for `late` cycles; `other` noise hides it. */
static int find_noise(uint32_t late, float other, hy_noise_places *places, uint32_t *onset)
{
    static const uint8_t codes[] = {0x1f, 0x24, 0x11, 0x1d, 0x18, 0x1f, 0x11, 0x15, 0x1f, 0x11};
    enum { N = sizeof codes };
    hy_said said[2 * N];
    size_t count, n = 0;
    hy_noise_cycle *cycle = malloc(sizeof *cycle);
    cr_assert_eq(hy_noise_cycle_of(hyoid_part_default(), cycle), 0);
    cr_assert_eq(cycle->period, 32767u);
    for (size_t i = 0; i < N; i++) {
        said[n++] = (hy_said){codes[i], 1, 1, 0};
        said[n++] = (hy_said){codes[i], 1, 1, 0};
    }
    float *sound = malloc(ROOM * sizeof *sound);
    hy_start start = {.noise = cycle->state[late]};
    count = hy_speech_render(hyoid_part_default(), start, said, n, sound, ROOM, onset);
    uint32_t seed = 1;
    for (size_t i = 0; i < count; i++) {
        seed = seed * 1664525u + 1013904223u;
        sound[i] = other > 0 ? other * ((float)(seed >> 8) / 8388608.0f - 1) : sound[i];
    }
    hy_material material = {.sound = sound, .count = count, .said = said, .items = n, .onset = onset};
    int found = hy_noise_place(hyoid_part_default(), &material, cycle, places);
    free(sound);
    free(cycle);
    return found;
}

Test(calibrate, noise_register_is_found_in_the_sound)
{
    uint32_t when[20], onset[21];
    hy_noise_places places = {.when = when};
    cr_assert_eq(find_noise(20000, 0, &places, onset), 1);
    cr_assert_geq(places.agree, 4u);
    for (size_t i = 0; i < 20; i++) {
        double off = remainder((double)when[i] - 20000.0 - onset[i], 32767);
        cr_assert(fabs(off) <= 2, "item %zu: off by %g cycles", i, off);
    }
}

Test(calibrate, other_noise_tells_no_register)
{
    uint32_t when[20], onset[21];
    hy_noise_places places = {.when = when};
    cr_assert_eq(find_noise(0, 0.1f, &places, onset), 0);
}
