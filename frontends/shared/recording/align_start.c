/* Where to look for the part's clock: the pitch that is heard, and how long it all lasts. */
#include <math.h>
#include <stdlib.h>

#include "align_private.h"

static const double ln2 = 0.693147180559945309417232;

enum { CELLS_PER_OCTAVE = 96, CELLS = 5 * CELLS_PER_OCTAVE, SHIFTS = 80, CANDIDATES_MAX = 8, PEAKS = 3 };
#define LOWEST_HZ 40.0
#define HIGHEST_HZ 330.0
#define LOOK_EVERY_S 0.02
#define GOOD_DB 2.6 /* a path this cheap needs no other candidate */
#define POOR_DB 5.0 /* the best of the candidates is so bad that the whole range is tried */
#define GRID 1.06
#define PITCH_DB 1.5

/* How often each pitch is heard, by its logarithm; smoothed by half a semitone or so. */
static int pitches_of(const float *x, size_t count, double *cell, hy_diag *diag)
{
    hy_pitch_signal signal;
    if (hy_pitch_signal_make(&signal, x, count, diag) != 0) {
        return -1;
    }
    double *raw = calloc(CELLS, sizeof *raw);
    if (raw == NULL) {
        hy_pitch_signal_free(&signal);
        return hy_fail(diag, "memory is out");
    }
    double seconds = (double)count / HY_ANALYSIS_RATE;
    double every = seconds > 40.0 ? seconds / 2000.0 : LOOK_EVERY_S;
    for (double at = 0.05; at < seconds; at += every) {
        double likeness, hz = hy_pitch_at(&signal, at, LOWEST_HZ, HIGHEST_HZ, &likeness);
        int place = hz > 0 ? (int)(log(hz / LOWEST_HZ) / ln2 * CELLS_PER_OCTAVE) : -1;
        if (likeness > 0.7 && place >= 0 && place < CELLS) {
            raw[place] += 1.0;
        }
    }
    hy_pitch_signal_free(&signal);
    for (int i = 0; i < CELLS; i++) {
        cell[i] = 0;
        for (int k = -2; k <= 2; k++) {
            cell[i] += i + k >= 0 && i + k < CELLS ? raw[i + k] * (3 - abs(k)) : 0.0;
        }
    }
    free(raw);
    return 0;
}

typedef struct candidates {
    double scale[CANDIDATES_MAX];
    int count;
    double heard[2 * SHIFTS + 1]; /* how much of the pitch supports each shift, 0..1 */
} candidates;

static void add(candidates *c, double scale)
{
    scale = scale < HY_SCALE_MIN ? HY_SCALE_MIN : scale > HY_SCALE_MAX ? HY_SCALE_MAX : scale;
    for (int i = 0; i < c->count; i++) {
        if (fabs(log(c->scale[i] / scale)) < 0.015) {
            return;
        }
    }
    if (c->count < CANDIDATES_MAX) {
        c->scale[c->count++] = scale;
    }
}

/* The shifts at which the two signals' pitches lie upon each other best. */
static void from_pitches(candidates *c, const double *model, const double *recording)
{
    double *found = c->heard, left[2 * SHIFTS + 1], most = 0;
    for (int s = -SHIFTS; s <= SHIFTS; s++) {
        double sum = 0;
        for (int i = 0; i < CELLS; i++) {
            sum += i + s >= 0 && i + s < CELLS ? model[i] * recording[i + s] : 0.0;
        }
        found[s + SHIFTS] = sum;
        most = sum > most ? sum : most;
    }
    for (int i = 0; i <= 2 * SHIFTS; i++) {
        found[i] = most > 0 ? found[i] / most : 0.0;
        left[i] = found[i];
    }
    for (int k = 0; k < PEAKS; k++) {
        int best = 0;
        for (int i = 1; i <= 2 * SHIFTS; i++) {
            best = left[i] > left[best] ? i : best;
        }
        if (left[best] <= 0) {
            return;
        }
        add(c, exp((best - SHIFTS) * ln2 / CELLS_PER_OCTAVE));
        for (int i = best - 6; i <= best + 6; i++) {
            if (i >= 0 && i <= 2 * SHIFTS) {
                left[i] = 0;
            }
        }
    }
}

/* From the first to the last frame that stands 12 dB above the floor and within 35 dB of the loud ones, s. */
static double extent(const hy_frames *f, const hy_noise *noise, double loud)
{
    double first = -1, last = -1;
    double floor = 0;
    for (int b = 0; noise != NULL && b < HY_BANDS; b++) {
        floor += (double)noise->energy[b] / HY_BANDS;
    }
    for (size_t i = 0; i < f->count; i++) {
        double mean = 0;
        for (size_t b = 0; b < HY_BANDS; b++) {
            mean += (double)f->energy[i * HY_BANDS + b] / HY_BANDS;
        }
        if (mean > 16 * floor && mean > 3e-4 * loud) {
            first = first < 0 ? (double)i : first;
            last = (double)i;
        }
    }
    return (last - first) * f->hop / HY_ANALYSIS_RATE;
}

static int gather(candidates *c, const hy_alignment *a, const hy_model *model, hy_diag *diag)
{
    double *cells = calloc((size_t)2 * CELLS, sizeof *cells);
    hy_frames frames = {0};
    int failed = cells == NULL
                     ? hy_fail(diag, "memory is out")
                     : pitches_of(model->samples, model->count, cells, diag) != 0 ||
                           pitches_of(a->recording->samples, a->recording->count, cells + CELLS, diag) != 0 ||
                           hy_frames_make(&frames, model->samples, model->count, 480, diag) != 0;
    if (!failed) {
        from_pitches(c, cells, cells + CELLS);
        add(c, 1.0);
        double said = extent(&frames, NULL, hy_loud_density(&frames, diag));
        double heard = extent(&a->frames, &a->noise, hy_loud_density(&a->frames, diag));
        if (said > 0 && heard > 0) {
            add(c, said / heard);
        }
    }
    hy_frames_free(&frames);
    free(cells);
    return failed ? -1 : 0;
}

/* What the pitch says for a scale, 0..1. */
static double support(const candidates *c, double scale)
{
    int at = (int)lround(log(scale) / ln2 * CELLS_PER_OCTAVE) + SHIFTS;
    return at >= 0 && at <= 2 * SHIFTS ? c->heard[at] : 0.0;
}

/* Tries `scale`; keeps it if it is the best so far. A scale that the pitch contradicts has to be better by PITCH_DB. */
static int attempt(const hy_alignment *a, const hy_align_setup *setup, const candidates *c, double scale,
                   double *best, double *least, hy_diag *diag)
{
    double cost;
    if (hy_align_try(a, setup, scale, &cost, diag) != 0) {
        return -1;
    }
    cost += PITCH_DB * (1 - support(c, scale));
    if (cost < *least) {
        *least = cost;
        *best = scale;
    }
    return 0;
}

int hy_clock_start(const hy_alignment *a, const hy_align_setup *setup, double *scale, hy_diag *diag)
{
    hy_model_setup stated = setup->model;
    stated.scale = 1.0;
    stated.offset_ms = 0;
    hy_model *model = hy_model_render(&stated, diag);
    if (model == NULL) {
        return -1;
    }
    candidates c = {.count = 0};
    int failed = gather(&c, a, model, diag);
    hy_model_free(model);
    double least = INFINITY;
    *scale = 1.0;
    for (int i = 0; i < c.count && failed == 0 && least > GOOD_DB; i++) {
        failed = attempt(a, setup, &c, c.scale[i], scale, &least, diag);
    }
    for (double s = HY_SCALE_MIN; s <= HY_SCALE_MAX && failed == 0 && least > POOR_DB; s *= GRID) {
        failed = attempt(a, setup, &c, s, scale, &least, diag);
    }
    return failed;
}
