/* Duration, pitch and onset per code. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figures_private.h"

/* ---- durations ---- */

#define EDGE_DOUBT 1.6 /* edges err by more than their own curves tell: the pulses beside them fall anew */

typedef struct duration {
    double model, off, square; /* sums: s, s, s^2 of uncertainty */
    size_t count;
} duration;

static void durations(hy_figures *f, const hy_alignment *a, const int *place_of)
{
    duration of[HYOID_PHONEMES] = {{0}};
    double speed = isfinite(a->recorder.uncertainty) ? a->recorder.value : 1.0;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        const hy_edge *from = &a->edge[i], *to = from + 1;
        /* an unseen edge with a like phoneme behind it says nothing of either */
        if (!isfinite(from->uncertainty) || !isfinite(to->uncertainty) || !hy_spoken_inside(a, i)) {
            continue;
        }
        duration *d = &of[place_of[a->model->spoken[i].code]];
        double model = speed * (to->model - from->model);
        d->model += model;
        d->off += to->recording - from->recording - model;
        d->square += from->uncertainty * from->uncertainty + to->uncertainty * to->uncertainty;
        d->count++;
    }
    for (size_t k = 0; k < f->count; k++) {
        const duration *d = &of[k];
        hy_figure *figure = &f->code[k].figure[HY_M_DURATION];
        figure->known = d->count > 0 ? HY_KNOWN : f->code[k].inside == 0 ? HY_TOO_SHORT : HY_NOT_SEEN;
        if (d->count > 0) {
            double n = (double)d->count;
            figure->count = d->count;
            figure->model = 1e3 * d->model / n;
            figure->recording = 1e3 * (d->model + d->off) / n;
            figure->value = 100 * d->off / d->model;
            figure->uncertainty = 100 * (EDGE_DOUBT * sqrt(d->square) / n + 5e-4) / (d->model / n);
        }
    }
}

/* ---- pitch ---- */

enum { RATIOS_MAX = 4096, ONE_MAX = 256, ONE_LEAST = 6 };

/* Of one occurrence, and of all of a code. Pitch hangs on inflection more than on the code: the occurrence that is furthest off
 * beyond doubt is kept apart. */
typedef struct pitches {
    const int *place_of;
    const hy_alignment *a;
    double *ratio[HYOID_PHONEMES];
    double model[HYOID_PHONEMES];
    size_t count[HYOID_PHONEMES];
    hy_figure furthest[HYOID_PHONEMES];
    double one[ONE_MAX], one_model;
    size_t one_count, one_spoken;
    int failed;
} pitches;

static void judge_pitch(hy_figure *figure, double *ratio, size_t n, double model_hz, double wow)
{
    double middle = hy_quantile(ratio, n, 0.5);
    double spread = (hy_quantile(ratio, n, 0.84) - hy_quantile(ratio, n, 0.16)) / 2;
    figure->known = HY_KNOWN;
    figure->count = n;
    figure->model = model_hz;
    figure->recording = model_hz * exp(middle);
    figure->value = 100 * (exp(middle) - 1);
    /* windows of four neighbours overlap; a median is a quarter less sure than a mean */
    double alone = (double)n / 4;
    double u = 2 * 1.25 * (spread + 5e-4) / sqrt(alone > 1 ? alone : 1);
    figure->uncertainty = 100 * (u + wow);
}

static double beyond_doubt(const hy_figure *f)
{
    return f->known == HY_KNOWN ? fabs(f->value) - f->uncertainty : -INFINITY;
}

static void end_one(pitches *p)
{
    if (p->one_count >= ONE_LEAST) {
        hy_figure f = {.known = HY_NOT_SEEN};
        hy_figure *furthest = &p->furthest[p->place_of[p->a->model->spoken[p->one_spoken].code]];
        judge_pitch(&f, p->one, p->one_count, p->one_model / (double)p->one_count, p->a->wow_peak);
        f.uncertainty = 1.5 * f.uncertainty + 0.3; /* the worst of several is chosen */
        if (beyond_doubt(&f) > beyond_doubt(furthest)) {
            *furthest = f;
        }
    }
    p->one_count = 0;
    p->one_model = 0;
}

static void see_pitch(void *user, size_t spoken, double at, double recording_hz, double model_hz)
{
    pitches *p = user;
    (void)at;
    int k = p->place_of[p->a->model->spoken[spoken].code];
    if (spoken != p->one_spoken) {
        end_one(p);
        p->one_spoken = spoken;
    }
    if (p->one_count < ONE_MAX) {
        p->one[p->one_count++] = log(recording_hz / model_hz);
        p->one_model += model_hz;
    }
    if (p->ratio[k] == NULL) {
        p->ratio[k] = malloc(RATIOS_MAX * sizeof *p->ratio[k]);
    }
    if (p->ratio[k] == NULL) {
        p->failed = 1;
    } else if (p->count[k] < RATIOS_MAX) {
        p->ratio[k][p->count[k]++] = log(recording_hz / model_hz);
        p->model[k] += model_hz;
    }
}

static int fundamentals(hy_figures *f, const hy_alignment *a, const int *place_of, hy_diag *diag)
{
    hy_pitch_signal recording = {0}, model = {0};
    pitches *p = calloc(1, sizeof *p);
    if (p == NULL) {
        return hy_fail(diag, "memory is out");
    }
    int failed = hy_pitch_signal_make(&recording, a->recording->samples, a->recording->count, diag) != 0 ||
                 hy_pitch_signal_make(&model, a->model->samples, a->model->count, diag) != 0;
    if (!failed) {
        p->place_of = place_of;
        p->a = a;
        hy_align_pitches(a, &recording, &model, see_pitch, p);
        end_one(p);
        failed = p->failed ? hy_fail(diag, "memory is out") : 0;
    }
    for (size_t k = 0; !failed && k < f->count; k++) {
        hy_code_figures *code = &f->code[k];
        hy_figure *figure = &code->figure[HY_M_F0];
        size_t n = p->count[k];
        if (!code->voiced) {
            figure->known = HY_NOT_THERE;
        } else if (n < 4) {
            figure->known = code->inside == 0 ? HY_TOO_SHORT : HY_NOT_SEEN;
        } else {
            /* a wow shifts what lasts less than its swing */
            double wow = a->wow_peak > 0.002 ? a->wow_peak / sqrt((double)code->inside) : 0.0;
            judge_pitch(figure, p->ratio[k], n, p->model[k] / (double)n, wow);
            if (code->inside > 1 && beyond_doubt(&p->furthest[k]) > beyond_doubt(figure)) {
                *figure = p->furthest[k];
            }
        }
    }
    for (size_t k = 0; k < HYOID_PHONEMES; k++) {
        free(p->ratio[k]);
    }
    free(p);
    hy_pitch_signal_free(&recording);
    hy_pitch_signal_free(&model);
    return failed ? -1 : 0;
}

/* ---- onsets ---- */

enum { BEFORE = 6, AFTER = 12, POINTS = BEFORE + AFTER + 1 }; /* frames */
#define RISE_DB 20.0
#define SLOWEST_MS 30.0   /* a slower rise of the model is no onset */
#define ONE_ONSET_MS 12.0 /* two standard deviations of one: the pulses' phase is free */

/* Levels around a place, dB, over the usable bands; 0 if they reach beyond the signal. */
static int trajectory(const hy_alignment *a, const hy_frames *f, double at, const float *noise, double gain,
                      double *level)
{
    double first = at * HY_ANALYSIS_RATE / f->hop - BEFORE;
    for (int i = 0; i < POINTS; i++) {
        double place = first + i;
        long k = (long)floor(place);
        double part = place - (double)k, sum = 0;
        if (k < 0 || k + 1 >= (long)f->count) {
            return 0;
        }
        const float *x = f->energy + (size_t)k * HY_BANDS, *y = x + HY_BANDS;
        for (int b = 0; b < HY_BANDS; b++) {
            double energy = gain * ((1 - part) * (double)x[b] + part * (double)y[b]);
            sum += a->usable[b] ? energy + (noise != NULL ? (double)noise[b] : 0.0) : 0.0;
        }
        level[i] = 10 * log10(sum + 1e-20);
    }
    return 1;
}

/* From a fifth to four fifths of the rise, ms; < 0: it does not rise by RISE_DB. */
static double rise_ms(const double *level, double floor_db, double hop_s)
{
    double top = level[BEFORE], bottom = INFINITY;
    for (int i = 0; i < POINTS; i++) {
        double x = level[i] > floor_db ? level[i] : floor_db;
        if (i >= BEFORE) {
            top = x > top ? x : top;
        }
        if (i <= BEFORE) {
            bottom = x < bottom ? x : bottom;
        }
    }
    if (top - bottom < RISE_DB) {
        return -1;
    }
    double low = bottom + 0.2 * (top - bottom), high = bottom + 0.8 * (top - bottom);
    int up = 1;
    while (up < POINTS && !(level[up] >= high && level[up - 1] < high)) {
        up++;
    }
    int down = up < POINTS ? up - 1 : 0; /* the last time that it was low: noise may reach it before */
    while (down > 0 && level[down] >= low) {
        down--;
    }
    if (down == 0) {
        return -1;
    }
    double from = down + (low - level[down]) / (level[down + 1] - level[down]);
    double to = up - 1 + (high - level[up - 1]) / (level[up] - level[up - 1]);
    return 1e3 * hop_s * (to > from ? to - from : 0.0);
}

static void onsets(hy_figures *f, const hy_alignment *a, const int *place_of)
{
    double model[HYOID_PHONEMES] = {0}, recording[HYOID_PHONEMES] = {0};
    size_t count[HYOID_PHONEMES] = {0};
    const double gain = pow(10, a->gain_db / 10), hop = (double)a->frames.hop / HY_ANALYSIS_RATE;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        double m[POINTS], r[POINTS];
        int k = place_of[a->model->spoken[i].code];
        int from_silence = i == 0 || f->code[place_of[a->model->spoken[i - 1].code]].pause;
        if (!from_silence || !hy_spoken_inside(a, i) || f->code[k].pause || f->code[k].stop ||
            !trajectory(a, &a->model_frames, a->edge[i].model, a->noise.energy, gain, m) ||
            !trajectory(a, &a->frames, a->edge[i].recording, NULL, 1.0, r)) {
            continue;
        }
        double top = m[BEFORE];
        for (int n = BEFORE; n < POINTS; n++) {
            top = m[n] > top ? m[n] : top;
        }
        double rise_m = rise_ms(m, top - 40, hop), rise_r = rise_ms(r, top - 40, hop);
        if (rise_m >= 0 && rise_m <= SLOWEST_MS && rise_r >= 0) {
            model[k] += rise_m;
            recording[k] += rise_r;
            count[k]++;
        }
    }
    for (size_t k = 0; k < f->count; k++) {
        hy_figure *figure = &f->code[k].figure[HY_M_ONSET];
        double n = (double)count[k];
        figure->known = count[k] > 0 ? HY_KNOWN : HY_NOT_THERE;
        if (count[k] > 0) {
            figure->count = count[k];
            figure->model = model[k] / n;
            figure->recording = recording[k] / n;
            figure->value = figure->recording - figure->model;
            figure->uncertainty = (ONE_ONSET_MS + 0.3 * figure->model) / sqrt(n);
        }
    }
}

int hy_figures_times(hy_figures *f, const hy_figures_setup *setup, const int *place_of, hy_diag *diag)
{
    durations(f, setup->alignment, place_of);
    onsets(f, setup->alignment, place_of);
    return fundamentals(f, setup->alignment, place_of, diag);
}
