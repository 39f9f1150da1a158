/* The part's clock: where to look for it, and what tempo and pitch say once the phonemes are laid side by side. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "align_private.h"

static const double ln2 = 0.693147180559945309417232;

/* ---- where to begin ---- */

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

/* ---- tempo ---- */

#define ODD_S 0.006    /* a phoneme whose length is off by more than this, and by more than */
#define ODD_SHARE 0.03 /* this share, has a length of its own and says nothing about tempo */

/* Sums for a slope through runs of edges, each run with a level of its own. */
typedef struct slope {
    double xx, xy, yy, n;
    size_t runs;
} slope;

static void add_run(slope *s, const double *x, const double *y, const double *w, size_t first, size_t last)
{
    double sw = 0, sx = 0, sy = 0;
    if (last < first + 1) {
        return;
    }
    for (size_t i = first; i <= last; i++) {
        sw += w[i];
        sx += w[i] * x[i];
        sy += w[i] * y[i];
    }
    for (size_t i = first; i <= last && sw > 0; i++) {
        double dx = x[i] - sx / sw, dy = y[i] - sy / sw;
        s->xx += w[i] * dx * dx;
        s->xy += w[i] * dx * dy;
        s->yy += w[i] * dy * dy;
        s->n += w[i] > 0;
    }
    s->runs++;
}

static hy_estimate slope_of(const slope *s)
{
    hy_estimate e = {.value = 0, .uncertainty = INFINITY, .count = (size_t)s->n};
    double free_values = s->n - (double)s->runs - 1;
    if (s->xx > 0 && free_values > 0) {
        e.value = s->xy / s->xx;
        double left = s->yy - e.value * s->xy;
        e.uncertainty = 2 * sqrt((left > 0 ? left : 0) / free_values / s->xx);
    }
    return e;
}

/* The usual ratio of lengths: the median, long phonemes counting more. */
static double usual_ratio(const hy_edge *edge, const size_t *seen, size_t count, hy_diag *diag)
{
    double *ratio = malloc((count > 0 ? count : 1) * sizeof *ratio);
    if (ratio == NULL) {
        hy_fail(diag, "memory is out");
        return 1.0;
    }
    size_t n = 0;
    for (size_t k = 0; k + 1 < count; k++) {
        double m = edge[seen[k + 1]].model - edge[seen[k]].model;
        double r = edge[seen[k + 1]].recording - edge[seen[k]].recording;
        if (m > 0.04) {
            ratio[n++] = r / m;
        }
    }
    double usual = n > 0 ? hy_quantile(ratio, n, 0.5) : 1.0;
    free(ratio);
    return usual;
}

typedef struct tempo {
    size_t *seen, count; /* numbers of the edges that are seen */
    double *t, *bent, *late, *weight;
    size_t n;
} tempo;

/* Runs of edges between phonemes of odd length: their slope against x. */
static hy_estimate fit(const hy_edge *edge, const tempo *t, const double *x, double usual)
{
    slope s = {0};
    size_t first = 0;
    for (size_t k = 0; k < t->count; k++) {
        int ends = k + 1 == t->count;
        if (!ends) {
            double m = edge[t->seen[k + 1]].model - edge[t->seen[k]].model;
            double off = fabs(edge[t->seen[k + 1]].recording - edge[t->seen[k]].recording - usual * m);
            double sure = edge[t->seen[k]].uncertainty + edge[t->seen[k + 1]].uncertainty;
            ends = off > ODD_S + sure && off > ODD_SHARE * m;
        }
        if (ends) {
            add_run(&s, x, t->late, t->weight, first, k);
            first = k + 1;
        }
    }
    return slope_of(&s);
}

static int fit_tempo(hy_alignment *a, const double *bent, hy_diag *diag)
{
    const size_t count = a->model->spoken_count + 1;
    tempo t = {.seen = malloc(count * sizeof *t.seen),
               .t = malloc(count * sizeof *t.t),
               .bent = malloc(count * sizeof *t.bent),
               .late = malloc(count * sizeof *t.late),
               .weight = malloc(count * sizeof *t.weight)};
    int failed = t.seen == NULL || t.t == NULL || t.bent == NULL || t.late == NULL || t.weight == NULL;
    if (failed) {
        hy_fail(diag, "memory is out");
    } else {
        double sum_t = 0, sum_b = 0, tt = 0, bb = 0;
        for (size_t i = 0; i < count; i++) {
            const hy_edge *e = &a->edge[i];
            if (!isfinite(e->uncertainty)) {
                continue;
            }
            t.seen[t.count] = i;
            t.t[t.count] = e->model;
            t.bent[t.count] = (bent[i] - e->model) * 100.0; /* for a clock that is higher by 1, relatively */
            t.late[t.count] = e->recording - e->model;
            double u = e->uncertainty > 5e-4 ? e->uncertainty : 5e-4;
            t.weight[t.count] = 1e-6 / (u * u);
            sum_t += e->model;
            sum_b += t.bent[t.count];
            t.count++;
        }
        for (size_t k = 0; k < t.count; k++) {
            tt += pow(t.t[k] - sum_t / (double)t.count, 2);
            bb += pow(t.bent[k] - sum_b / (double)t.count, 2);
        }
        double usual = usual_ratio(a->edge, t.seen, t.count, diag);
        a->tempo_tells = t.count >= 3 && bb > 0.01 * tt; /* a tenth of the text's time moves with the clock */
        a->tempo = (hy_estimate){0, INFINITY, 0};
        a->recorder = (hy_estimate){0, INFINITY, 0};
        if (a->tempo_tells) {
            hy_estimate e = fit(a->edge, &t, t.bent, usual);
            if (isfinite(e.uncertainty)) {
                double off = e.value < -0.5 ? -0.5 : e.value > 0.5 ? 0.5 : e.value;
                a->tempo = (hy_estimate){a->model->scale * exp(off), a->model->scale * e.uncertainty, e.count};
            }
        } else {
            hy_estimate e = fit(a->edge, &t, t.t, usual);
            if (isfinite(e.uncertainty)) {
                a->recorder = (hy_estimate){1 + e.value, e.uncertainty, e.count};
            }
        }
    }
    free(t.seen);
    free(t.t);
    free(t.bent);
    free(t.late);
    free(t.weight);
    return failed ? -1 : 0;
}

/* ---- pitch ---- */

typedef struct ratios {
    double *value, *at;
    size_t count, room;
    int failed;
} ratios;

static void see_ratio(void *user, size_t spoken, double at, double recording_hz, double model_hz)
{
    ratios *r = user;
    (void)spoken;
    if (r->count == r->room) {
        size_t room = r->room > 0 ? 2 * r->room : 256;
        double *value = realloc(r->value, room * sizeof *value);
        r->value = value != NULL ? value : r->value;
        double *times = realloc(r->at, room * sizeof *times);
        r->at = times != NULL ? times : r->at;
        if (value == NULL || times == NULL) {
            r->failed = 1;
            return;
        }
        r->room = room;
    }
    r->value[r->count] = log(recording_hz / model_hz);
    r->at[r->count++] = at;
}

/* The mean of what lies near the median. */
static hy_estimate middle(const double *value, size_t count, hy_diag *diag)
{
    hy_estimate e = {0, INFINITY, count};
    double *copy = malloc((count > 0 ? count : 1) * sizeof *copy);
    if (copy == NULL) {
        hy_fail(diag, "memory is out");
        return e;
    }
    if (count >= 8) {
        memcpy(copy, value, count * sizeof *copy);
        double median = hy_quantile(copy, count, 0.5);
        for (size_t i = 0; i < count; i++) {
            copy[i] = fabs(value[i] - median);
        }
        double spread = 1.4826 * hy_quantile(copy, count, 0.5) + 1e-4;
        double sum = 0, squares = 0, n = 0;
        for (size_t i = 0; i < count; i++) {
            if (fabs(value[i] - median) <= 2.5 * spread) {
                sum += value[i] - median;
                squares += (value[i] - median) * (value[i] - median);
                n += 1;
            }
        }
        e.value = median + sum / n;
        e.uncertainty = 2 * sqrt(squares / n / (n / 4)); /* the windows of four neighbours overlap */
    }
    free(copy);
    return e;
}

enum { WOW_PIECES_MAX = 8192 };

/* How the speed swings about its mean: ratios over a quarter of a second, what the pitch alone can tell. */
static void find_wow(hy_alignment *a, const ratios *r, double mean, hy_diag *diag)
{
    const double piece = 0.25;
    double *swing = malloc(WOW_PIECES_MAX * sizeof *swing);
    if (swing == NULL) {
        hy_fail(diag, "memory is out");
        return;
    }
    size_t crossings = 0, pieces = 0;
    double first = -1, last = -1;
    for (size_t i = 0; i < r->count && pieces < WOW_PIECES_MAX;) {
        double value[64];
        size_t n = 0, k = i;
        for (; k < r->count && r->at[k] < r->at[i] + piece; k++) {
            if (fabs(r->value[k] - mean) < 0.05 && n < 64) {
                value[n++] = r->value[k] - mean;
            }
        }
        if (n >= 8) {
            swing[pieces] = hy_quantile(value, n, 0.5);
            crossings += pieces > 0 && swing[pieces] * swing[pieces - 1] < 0;
            pieces++;
            first = first < 0 ? r->at[i] : first;
            last = r->at[i];
        }
        i = k;
    }
    a->wow_hz = pieces >= 4 && last > first ? 0.5 * (double)crossings / (last - first) : 0.0;
    /* single pieces may be wrong; a sine's middle nine tenths reach 99 % of its swing */
    a->wow_peak = pieces >= 4 ? 0.5 * (hy_quantile(swing, pieces, 0.95) - hy_quantile(swing, pieces, 0.05)) : 0.0;
    free(swing);
}

static int fit_pitch(hy_alignment *a, hy_diag *diag)
{
    hy_pitch_signal recording = {0}, model = {0};
    ratios r = {0};
    int failed = hy_pitch_signal_make(&recording, a->recording->samples, a->recording->count, diag) != 0 ||
                 hy_pitch_signal_make(&model, a->model->samples, a->model->count, diag) != 0;
    if (!failed) {
        hy_align_pitches(a, &recording, &model, see_ratio, &r);
        failed = r.failed ? hy_fail(diag, "memory is out") : 0;
    }
    a->pitch = (hy_estimate){0, INFINITY, 0};
    a->wow_peak = a->wow_hz = 0;
    if (!failed) {
        hy_estimate e = middle(r.value, r.count, diag);
        if (isfinite(e.uncertainty)) {
            a->pitch = (hy_estimate){a->model->scale * exp(e.value), a->model->scale * e.uncertainty, e.count};
            find_wow(a, &r, e.value, diag);
        }
    }
    hy_pitch_signal_free(&recording);
    hy_pitch_signal_free(&model);
    free(r.value);
    free(r.at);
    return failed ? -1 : 0;
}

/* ---- both ---- */

#define AGREE 0.004 /* what the two may differ by beyond their uncertainties: another pitch period is 0.5 % */

#define APART 0.03 /* and a timer that is off by more than this is not taken for the clock */

int hy_clock_refine(hy_alignment *a, const double *bent, hy_diag *diag)
{
    if (fit_tempo(a, bent, diag) != 0 || fit_pitch(a, diag) != 0) {
        return -1;
    }
    int has_tempo = isfinite(a->tempo.uncertainty), has_pitch = isfinite(a->pitch.uncertainty);
    a->agree = 1;
    if (has_tempo && has_pitch) {
        double apart = fabs(a->tempo.value - a->pitch.value);
        a->agree = apart <= AGREE * a->tempo.value + a->tempo.uncertainty + a->pitch.uncertainty;
    }
    if (has_tempo && has_pitch && a->agree) {
        double ut = a->tempo.uncertainty + 1e-5, up = a->pitch.uncertainty + 1e-5;
        double wt = 1 / (ut * ut), wp = 1 / (up * up);
        a->scale = (wt * a->tempo.value + wp * a->pitch.value) / (wt + wp);
    } else {
        /* formants follow the pitch, and without them nothing is found again: a tempo that is far off is not taken */
        int far = has_tempo && has_pitch && fabs(log(a->tempo.value / a->pitch.value)) > APART;
        a->scale = has_tempo && !far ? a->tempo.value : has_pitch ? a->pitch.value : a->model->scale;
    }
    a->scale = a->scale < HY_SCALE_LEAST ? HY_SCALE_LEAST : a->scale > HY_SCALE_MOST ? HY_SCALE_MOST : a->scale;
    return 0;
}
