#include "noise_place.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <fftw3.h>

#include "speech.h"

enum {
    SIZE = 1 << 17, /* of the transforms: the longest period and a stretch */
    BINS = SIZE / 2 + 1,
    SETTLE = 600,   /* filter cycles until an item's registers are nearly at rest */
    SHORTEST = 400, /* of a stretch that is asked */
    LONGEST = 4096,
    WARM_UP = 4000, /* until the model's are at rest for good */
    NEAR = 200,     /* cycles by which places may differ: the clock is known to 0.01 % or so */
    FEW = 3
};
static const double CLEAR = 7; /* standard deviations: in 32767 places chance gives 4.3 */

int hy_noise_cycle_of(const hyoid_part *part, hy_noise_cycle *cycle)
{
    hyoid_chip chip;
    cycle->period = 0;
    if (part->noise_bits > 16 || hyoid_chip_init(&chip, part) != HYOID_OK) {
        return -1;
    }
    hyoid_chip_step(&chip, part->filter_clocks); /* from here on every so many clocks are one shift */
    const uint32_t first = chip.noise_reg;
    do {
        cycle->state[cycle->period++] = chip.noise_reg;
        hyoid_chip_step(&chip, part->filter_clocks);
    } while (chip.noise_reg != first && cycle->period < HY_NOISE_PERIOD_MAX);
    return chip.noise_reg == first && cycle->period > 255 ? 0 : -1;
}

/* One item's answer. */
typedef struct answer {
    size_t item;
    double offset; /* place at the recording's sample 0 */
} answer;

typedef struct work {
    const hy_material *m;
    const hy_noise_cycle *cycle;
    double *time;
    fftw_complex *spectrum, *reference;
    fftw_plan there, back;
    float *sound;
} work;

static void work_free(work *w)
{
    if (w->there != NULL) {
        fftw_destroy_plan(w->there);
    }
    if (w->back != NULL) {
        fftw_destroy_plan(w->back);
    }
    fftw_free(w->time);
    fftw_free(w->spectrum);
    fftw_free(w->reference);
    free(w->sound);
}

static int work_start(work *w)
{
    w->time = fftw_alloc_real(SIZE);
    w->spectrum = fftw_alloc_complex(BINS);
    w->reference = fftw_alloc_complex(BINS);
    w->sound = malloc((WARM_UP + SIZE) * sizeof *w->sound);
    if (w->time != NULL && w->spectrum != NULL && w->reference != NULL && w->sound != NULL) {
        w->there = fftw_plan_dft_r2c_1d(SIZE, w->time, w->spectrum, FFTW_ESTIMATE);
        w->back = fftw_plan_dft_c2r_1d(SIZE, w->spectrum, w->time, FFTW_ESTIMATE);
    }
    if (w->there == NULL || w->back == NULL) {
        work_free(w);
        return -1;
    }
    return 0;
}

/* The spectrum of a code's noise through one whole cycle of the register and a stretch of the next. */
static void refer(work *w, const hyoid_part *part, uint8_t code)
{
    hyoid_part silent = *part;
    size_t count = w->cycle->period + LONGEST;
    silent.phoneme[code].va = 0;
    hy_said said = {code, 1, 0, (uint32_t)(WARM_UP + count)};
    hy_start start = {.noise = w->cycle->state[(w->cycle->period - WARM_UP % w->cycle->period) % w->cycle->period]};
    count = hy_speech_render(&silent, start, &said, 1, w->sound, WARM_UP + count, NULL);
    memset(w->time, 0, SIZE * sizeof *w->time);
    for (size_t i = WARM_UP; i < count; i++) {
        w->time[i - WARM_UP] = (double)w->sound[i];
    }
    fftw_execute(w->there);
    memcpy(w->reference, w->spectrum, BINS * sizeof *w->reference);
}

/* Where in the cycle the register stood at the beginning of `length` samples; 0 if they don't tell. */
static int ask(work *w, size_t from, size_t length, uint32_t *at)
{
    memset(w->time, 0, SIZE * sizeof *w->time);
    for (size_t i = 0; i < length; i++) {
        double window = 0.5 - 0.5 * cos(2 * 3.14159265358979323846 * ((double)i + 0.5) / (double)length);
        w->time[i] = window * (double)w->m->sound[from + i];
    }
    fftw_execute(w->there);
    for (size_t k = 0; k < BINS; k++) {
        double a = w->reference[k][0], b = w->reference[k][1], c = w->spectrum[k][0], d = w->spectrum[k][1];
        w->spectrum[k][0] = a * c + b * d;
        w->spectrum[k][1] = b * c - a * d;
    }
    fftw_execute(w->back);
    double sum = 0, most = 0;
    for (uint32_t k = 0; k < w->cycle->period; k++) {
        sum += w->time[k] * w->time[k];
        if (fabs(w->time[k]) > most) { /* a recorder may turn the sign */
            most = fabs(w->time[k]);
            *at = k;
        }
    }
    return most > CLEAR * sqrt(sum / w->cycle->period);
}

static double apart(double a, double b, double period)
{
    return remainder(a - b, period);
}

static size_t gather(work *w, const hyoid_part *part, answer *answers, size_t *heard)
{
    size_t n = 0;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hyoid_phoneme *p = &part->phoneme[code];
        int referred = 0;
        for (size_t i = 0; i < w->m->items && p->fa > 0 && !p->pause && !p->closure; i++) {
            size_t begin = w->m->onset[i], end = w->m->onset[i + 1], length = end - begin;
            if (w->m->said[i].code != code || length < SETTLE + SHORTEST || end > w->m->count) {
                continue;
            }
            if (!referred) {
                refer(w, part, (uint8_t)code);
                referred = 1;
            }
            uint32_t at = 0;
            length = length - SETTLE < LONGEST ? length - SETTLE : LONGEST;
            ++*heard;
            if (ask(w, end - length, length, &at)) {
                answers[n++] = (answer){i, (double)at - (double)(end - length)};
            }
        }
    }
    return n;
}

static int by_item(const void *a, const void *b)
{
    const answer *x = a, *y = b;
    return (x->item > y->item) - (x->item < y->item);
}

/* Keeps the answers of the largest group that agrees. */
static size_t agree(answer *answers, size_t n, double period)
{
    size_t best = 0, most = 0, kept = 0;
    for (size_t i = 0; i < n; i++) {
        size_t with = 0;
        for (size_t k = 0; k < n; k++) {
            with += fabs(apart(answers[i].offset, answers[k].offset, period)) < NEAR;
        }
        if (with > most) {
            most = with;
            best = i;
        }
    }
    double middle = n > 0 ? answers[best].offset : 0;
    for (size_t i = 0; i < n; i++) {
        if (fabs(apart(answers[i].offset, middle, period)) < NEAR) {
            answers[kept++] = answers[i];
        }
    }
    qsort(answers, kept, sizeof *answers, by_item);
    return kept;
}

int hy_noise_place(const hyoid_part *part, const hy_material *m, const hy_noise_cycle *cycle, hy_noise_places *places)
{
    work w = {.m = m, .cycle = cycle};
    answer *answers = malloc((m->items + 1) * sizeof *answers);
    if (answers == NULL || work_start(&w) != 0) {
        free(answers);
        return -1;
    }
    places->heard = 0;
    size_t n = gather(&w, part, answers, &places->heard), next = 0;
    double period = cycle->period;
    places->agree = agree(answers, n, period);
    int found = places->agree >= FEW && 3 * places->agree > 2 * n;
    for (size_t i = 0; found && i < m->items; i++) {
        /* of the nearest item that tells; the next one's place comes when it is no farther than the last one's */
        while (next + 1 < places->agree && answers[next].item + answers[next + 1].item <= 2 * i) {
            next++;
        }
        double at = fmod(answers[next].offset + m->onset[i], period);
        places->when[i] = (uint32_t)(at < 0 ? at + period : at) % cycle->period;
    }
    work_free(&w);
    free(answers);
    return found;
}
