/* How well a reference fits where it lies. Differences are of levels in dB above a common floor, so that what is lost in noise on
 * both sides differs by nothing; large ones count for no more than MOST, so that one lost phoneme doesn't decide. */
#include "fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST 20.0      /* dB */
#define HEARD 10.0f    /* a band tells its gain where the model is so many times above the floor */
#define ALIKE_DB 6.0   /* between the bands that a recorder carries */
#define UNHEARD_DB 3.0 /* what a phoneme outside the recording costs */
#define SEMITONES_MOST 4.0
#define GAP_S 0.05

double hy_fit_time(const hy_fit *fit, const hy_segment *segment)
{
    return fit->delay + segment->host_s + segment->chip_s / fit->clock;
}

double hy_fit_pitch(const hy_heard *heard, double at)
{
    double i = floor(at * HY_PITCH_RATE + 0.5);
    return i >= 0.0 && i < (double)heard->pitches ? (double)heard->pitch[(size_t)i] : 0.0;
}

int hy_fit_tempo_tells(const hy_reference *reference)
{
    const hy_segment *end = &reference->segment[reference->segments];
    return end->chip_s > 0.2 * (end->chip_s + end->host_s);
}

static double decibels(double energy)
{
    return 10.0 * log10(energy + 1e-20);
}

static double median(double *values, size_t count)
{
    return hy_quantile(values, count, 0.5);
}

/* Gain of each band, as the median difference over slices in which the model is well above the floor. NaN: never. */
static int find_colour(hy_fit *fit, const hy_heard *heard, const hy_reference *r, double gain_db, double *colour)
{
    double *difference = malloc((r->slices + 1) * HY_BANDS * sizeof *difference);
    size_t count[HY_BANDS] = {0};
    if (difference == NULL) {
        return -1;
    }
    const double gain = pow(10.0, gain_db / 10.0);
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = hy_fit_time(fit, at), length = hy_fit_time(fit, at + 1) - from;
        for (uint32_t k = 0; k < at->slices; k++) {
            float energy[HY_BANDS];
            const float *ours = r->energy + (size_t)(at->first + k) * HY_BANDS;
            if (!hy_heard_energy(heard, from + length * k / at->slices, from + length * (k + 1) / at->slices,
                                 energy)) {
                continue;
            }
            for (size_t b = 0; b < HY_BANDS; b++) {
                const float expected = (float)gain * ours[b];
                if (expected > HEARD * heard->noise[b]) {
                    difference[b * r->slices + count[b]++] =
                        (double)(10.0f * log10f((energy[b] + 1e-20f) / expected));
                }
            }
        }
    }
    for (size_t b = 0; b < HY_BANDS; b++) {
        colour[b] = count[b] >= 8 ? median(difference + b * r->slices, count[b]) : NAN;
    }
    free(difference);
    return 0;
}

static double clamp(double value, double most)
{
    return value > most ? most : value < -most ? -most : value;
}

/* A recording in which nothing stands out was not made so quietly that all was lost: whatever sounds is supposed to have been heard. */
static double least_gain(const hy_heard *heard, const hy_reference *r)
{
    double floor = 0.0;
    for (int b = 0; b < HY_BANDS; b++) {
        floor += (double)heard->noise[b] / HY_BANDS;
    }
    return decibels(HEARD * floor) - decibels(r->loud);
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* What most bands have in common. More than half of them may lie where the recorder cuts off, each by another amount, so it is not
 * their median: it is that of the most that lie within ALIKE_DB of each other; of two crowds alike in number, the louder one. */
static double most_alike(double *values, size_t count)
{
    size_t from = 0, most = 0;
    qsort(values, count, sizeof *values, by_value);
    for (size_t i = 0, k = 0; i < count; i++) {
        while (k < count && values[k] <= values[i] + ALIKE_DB) {
            k++;
        }
        if (k - i >= most) {
            from = i;
            most = k - i;
        }
    }
    return median(values + from, most);
}

/* Sets gain and colour: the gain is what bands have in common. */
static int find_gain(hy_fit *fit, const hy_heard *heard, const hy_reference *r, const hy_fit_setup *setup)
{
    double found[HY_BANDS], sorted[HY_BANDS];
    double gain_db = setup->gain_known || !(r->loud > 0.0) ? 0.0 : decibels(heard->loud) - decibels(r->loud);
    for (int pass = 0; pass < 2; pass++) {
        size_t count = 0;
        if (find_colour(fit, heard, r, gain_db, found) != 0) {
            return -1;
        }
        for (int b = 0; b < HY_BANDS; b++) {
            if (!isnan(found[b]) && (setup->usable == NULL || setup->usable[b])) {
                sorted[count++] = found[b];
            }
        }
        const double common = count == 0              ? 0.0
                              : setup->usable == NULL ? most_alike(sorted, count)
                                                      : median(sorted, count);
        gain_db += common;
        gain_db = setup->gain_known ? clamp(gain_db, setup->gain_tolerance)
                  : r->loud > 0.0   ? fmax(gain_db, least_gain(heard, r))
                                    : gain_db;
        for (int b = 0; b < HY_BANDS; b++) {
            fit->colour_db[b] = found[b] - common;
        }
    }
    fit->gain_db = gain_db;
    return 0;
}

/* What is the same for all slices of a fit. */
typedef struct yardstick {
    const hy_heard *heard;
    int band[HY_BANDS], bands; /* those that count */
    float noise[HY_BANDS];     /* that the recording holds */
    float floor[HY_BANDS];     /* that both sides get instead, so that what is lost in noise differs by nothing */
    float gain[HY_BANDS];      /* of the reference's energies, colour included */
} yardstick;

static void set_up(yardstick *y, const hy_fit *fit, const hy_heard *heard, const hy_fit_setup *setup)
{
    *y = (yardstick){.heard = heard};
    for (int b = 0; b < HY_BANDS; b++) {
        if (setup->usable == NULL || setup->usable[b]) {
            y->band[y->bands++] = b;
        }
        y->noise[b] = heard->noise[b];
        y->floor[b] = 2.0f * heard->noise[b] + (float)(1e-6 * heard->loud);
        y->gain[b] = (float)pow(
            10.0,
            (fit->gain_db + (isnan(fit->colour_db[b]) ? 0.0 : clamp(fit->colour_db[b], setup->colour_most))) / 10.0);
    }
}

/* Difference of one stretch of the recording from what is expected there, dB. Null: silence is. */
static double difference(const yardstick *y, const float *energy, const float *ours)
{
    float sum = 0.0f;
    for (int i = 0; i < y->bands; i++) {
        const int b = y->band[i];
        float expected = y->floor[b] + (ours != NULL ? y->gain[b] * ours[b] : 0.0f);
        float found = y->floor[b] + fmaxf(energy[b] - y->noise[b], 0.0f);
        sum += fminf(fabsf(10.0f * log10f(found / expected)), MOST);
    }
    return y->bands > 0 ? (double)sum / y->bands : 0.0;
}

typedef struct total {
    double sum, seconds;
} total;

static void add(total *t, double cost, double seconds)
{
    t->sum += cost * seconds;
    t->seconds += seconds;
}

/* What is heard where the reference says nothing. */
static void add_gap(total *t, const yardstick *y, double from, double to)
{
    for (double at = from; at + GAP_S < to; at += GAP_S) {
        float energy[HY_BANDS];
        if (hy_heard_energy(y->heard, at, at + GAP_S, energy)) {
            add(t, difference(y, energy, NULL), GAP_S);
        }
    }
}

/* Where the host wrote at times of its own, tempo says nothing of the clock: pitch must. */
static int clock_from_pitch(hy_fit *fit, const hy_heard *heard, const hy_reference *r)
{
    size_t count = 0;
    if (hy_fit_tempo_tells(r)) {
        return 0;
    }
    double *ratio = malloc((r->segments + 1) * sizeof *ratio);
    if (ratio == NULL) {
        return -1;
    }
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = hy_fit_time(fit, at), length = hy_fit_time(fit, at + 1) - from;
        double hz = at->f0 > 0.0f ? hy_fit_pitch(heard, from + 0.6 * length) : 0.0;
        if (hz > 0.0) {
            ratio[count++] = hz / (double)at->f0;
        }
    }
    double found = count > 0 ? median(ratio, count) : 1.0;
    fit->clock = 1.0 + clamp(found - 1.0, HY_CLOCK_REACH);
    free(ratio);
    return 0;
}

/* Voiced time of the recording that no voiced phoneme of the reference accounts for. */
static double find_unclaimed(const hy_fit *fit, const hy_heard *heard, const hy_reference *r)
{
    size_t voiced = 0, claimed = 0;
    for (size_t i = 0; i < heard->pitches; i++) {
        voiced += heard->pitch[i] > 0.0f;
    }
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = fmax(hy_fit_time(fit, at), 0.0) * HY_PITCH_RATE, to = hy_fit_time(fit, at + 1) * HY_PITCH_RATE;
        for (size_t k = (size_t)ceil(from); at->voiced && (double)k < to && k < heard->pitches; k++) {
            claimed += heard->pitch[k] > 0.0f;
        }
    }
    return voiced > 0 ? 1.0 - (double)claimed / (double)voiced : 0.0;
}

int hy_fit_judge(hy_fit *fit, const hy_heard *heard, const hy_reference *r, const hy_fit_setup *setup, hy_diag *diag)
{
    total levels = {0, 0};
    double pitch = 0.0;
    if (clock_from_pitch(fit, heard, r) != 0 || find_gain(fit, heard, r, setup) != 0) {
        return hy_fail(diag, "memory is short for the comparison");
    }
    yardstick y;
    set_up(&y, fit, heard, setup);
    fit->phonemes = fit->pitches = 0;
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = hy_fit_time(fit, at), length = hy_fit_time(fit, at + 1) - from;
        for (uint32_t k = 0; k < at->slices; k++) {
            float energy[HY_BANDS];
            const float *ours = r->energy + (size_t)(at->first + k) * HY_BANDS;
            int there =
                hy_heard_energy(heard, from + length * k / at->slices, from + length * (k + 1) / at->slices, energy);
            add(&levels, there ? difference(&y, energy, ours) : UNHEARD_DB, length / at->slices);
        }
        fit->phonemes += at->slices > 0;
        double hz = at->f0 > 0.0f ? hy_fit_pitch(heard, from + 0.6 * length) : 0.0;
        if (hz > 0.0) {
            pitch += fmin(fabs(12.0 * log2(hz / ((double)at->f0 * fit->clock))), SEMITONES_MOST);
            fit->pitches++;
        }
    }
    if (r->segments > 0) {
        add_gap(&levels, &y, 0.0, hy_fit_time(fit, &r->segment[0]));
        add_gap(&levels, &y, fmax(hy_fit_time(fit, &r->segment[r->segments]), 0.0), heard->seconds);
    } else {
        add_gap(&levels, &y, 0.0, heard->seconds);
    }
    total silence = {0, 0};
    add_gap(&silence, &y, 0.0, heard->seconds);
    fit->silence_db = silence.seconds > 0.0 ? silence.sum / silence.seconds : 0.0;
    fit->spectrum_db = levels.seconds > 0.0 ? levels.sum / levels.seconds : (double)MOST;
    fit->unclaimed = find_unclaimed(fit, heard, r);
    fit->pitch = fit->pitches > 0 ? pitch / (double)fit->pitches : 0.0;
    return 0;
}
