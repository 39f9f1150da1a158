/* The order of the alignment. */
#include "align.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "align_private.h"

enum { HOP = HY_ANALYSIS_RATE / 200, TRY_HOP = 2 * HOP, COARSE = 4, FEW_CELLS = 12000000, ROUNDS = 5 };
#define SETTLED 2e-4 /* relative: a clock that moves less has been found */
#define OTHER_TEXT 0.45
#define LEAST_SNR_DB 3.0

static void tell(const hy_align_setup *setup, double done)
{
    if (setup->progress != NULL) {
        setup->progress(setup->user, done);
    }
}

void hy_alignment_free(hy_alignment *a)
{
    hy_model_free(a->model);
    hy_frames_free(&a->frames);
    hy_frames_free(&a->model_frames);
    free(a->edge);
    a->model = NULL;
    a->edge = NULL;
}

/* ---- two signals as levels ---- */

typedef struct pair {
    hy_levels model, recording;
} pair;

static void free_pair(pair *p)
{
    hy_levels_free(&p->model);
    hy_levels_free(&p->recording);
}

/* The model gets the recording's noise, so that what the noise covers is missing in both. */
static int make_pair(pair *p, const hy_alignment *a, const hy_frames *model, int model_every, int every,
                     hy_diag *diag)
{
    *p = (pair){{0}, {0}};
    double loud = hy_loud_density(&a->frames, diag), model_loud = hy_loud_density(model, diag);
    if (!(model_loud > 0)) {
        return hy_fail(diag, "the model says nothing that can be heard: there is nothing to compare");
    }
    float noise[HY_BANDS];
    for (int b = 0; b < HY_BANDS; b++) {
        noise[b] = (float)((double)a->noise.energy[b] * model_loud / (loud > 0 ? loud : 1e-20));
    }
    const hy_level_setup m = {model, model_every, noise, model_loud};
    const hy_level_setup r = {&a->frames, every, NULL, loud};
    if (hy_levels_make(&p->model, &m, diag) != 0 || hy_levels_make(&p->recording, &r, diag) != 0) {
        free_pair(p);
        return -1;
    }
    hy_levels_match(&p->model, &p->recording);
    hy_levels_mute(&p->model, a->usable);
    hy_levels_mute(&p->recording, a->usable);
    return 0;
}

/* How many frames become one, so that every path can be looked at. */
static int coarse_every(size_t a, size_t b)
{
    int every = COARSE;
    while ((double)a * (double)b / ((double)every * every) > FEW_CELLS) {
        every *= 2;
    }
    return every;
}

int hy_align_try(const hy_alignment *a, const hy_align_setup *setup, double scale, double *cost, hy_diag *diag)
{
    hy_model_setup at = setup->model;
    at.scale = scale;
    at.offset_ms = 0;
    hy_model *model = hy_model_render(&at, diag);
    if (model == NULL) {
        return -1;
    }
    hy_frames frames = {0};
    pair p = {{0}, {0}};
    hy_path path = {0};
    int every = coarse_every(model->count / HOP + 1, a->frames.count);
    int failed = hy_frames_make(&frames, model->samples, model->count, TRY_HOP, diag) != 0 ||
                 make_pair(&p, a, &frames, every / 2, every, diag) != 0 ||
                 hy_path_find(&path, &p.model, &p.recording, NULL, 0, diag) != 0;
    *cost = failed ? INFINITY : path.cost;
    hy_path_free(&path);
    free_pair(&p);
    hy_frames_free(&frames);
    hy_model_free(model);
    return failed ? -1 : 0;
}

/* A path through coarse frames, then one through all of them beside it. */
static int find_path(hy_path *path, const hy_alignment *a, const pair *fine, hy_diag *diag)
{
    int every = coarse_every(fine->model.count, fine->recording.count);
    pair coarse;
    if (make_pair(&coarse, a, &a->model_frames, every, every, diag) != 0) {
        return -1;
    }
    hy_path rough = {0};
    int *near = malloc((fine->model.count + 1) * sizeof *near);
    int failed = near == NULL ? hy_fail(diag, "memory is out")
                              : hy_path_find(&rough, &coarse.model, &coarse.recording, NULL, 0, diag);
    if (!failed && near != NULL && rough.at != NULL) {
        /* straight between the coarse frames' middles; never backwards, and steady at both ends */
        for (size_t i = 0; i < fine->model.count; i++) {
            size_t k = i / (size_t)every, next = k + 1 < rough.count ? k + 1 : k;
            int within = (int)(i % (size_t)every);
            near[i] = rough.at[k] * every + (rough.at[next] - rough.at[k]) * within;
        }
        failed = hy_path_find(path, &fine->model, &fine->recording, near, 3 * every + 12, diag);
    }
    free(near);
    hy_path_free(&rough);
    free_pair(&coarse);
    return failed;
}

/* How well the ups and downs of the usable bands go together when each frame of the model is laid where the edges say. Frames
 * that lie outside the recording count as if nothing went together there. */
static double likeness_of(const hy_alignment *a, const pair *p)
{
    double total = 0, bands = 0, inside = 0;
    for (size_t b = 0; b < HY_BANDS; b++) {
        double n = 0, x = 0, y = 0, xx = 0, yy = 0, xy = 0;
        for (size_t i = 0; a->usable[b] && i < p->model.count; i++) {
            double at = hy_align_recording_time(a, (double)i * p->model.hop) / p->recording.hop;
            long j = lround(at);
            if (j < 0 || j >= (long)p->recording.count) {
                continue;
            }
            double m = p->model.level[i * HY_BANDS + b], r = p->recording.level[(size_t)j * HY_BANDS + b];
            n += 1;
            x += m;
            y += r;
            xx += m * m;
            yy += r * r;
            xy += m * r;
        }
        double vx = n * xx - x * x, vy = n * yy - y * y;
        if (n > 1 && vx > 0) {
            total += vy > 0 ? (n * xy - x * y) / sqrt(vx * vy) : 0.0;
            bands += 1;
            inside = n / (double)p->model.count;
        }
    }
    return bands > 0 && total > 0 ? inside * total / bands : 0.0;
}

int hy_align_at(hy_alignment *a, const hy_align_setup *setup, double scale, hy_diag *diag)
{
    hy_model_setup at = setup->model;
    at.scale = scale;
    at.offset_ms = 0;
    hy_model_free(a->model);
    hy_frames_free(&a->model_frames);
    a->model = hy_model_render(&at, diag);
    if (a->model == NULL || hy_frames_make(&a->model_frames, a->model->samples, a->model->count, HOP, diag) != 0) {
        return -1;
    }
    pair fine;
    if (make_pair(&fine, a, &a->model_frames, 1, 1, diag) != 0) {
        return -1;
    }
    hy_path path = {0};
    int failed = find_path(&path, a, &fine, diag);
    if (!failed) {
        failed = hy_edges_find(a, &fine.model, &fine.recording, &path, diag);
        a->likeness = failed ? 0.0 : likeness_of(a, &fine);
    }
    hy_path_free(&path);
    free_pair(&fine);
    return failed;
}

/* ---- times ---- */

static double between(double x, double x0, double x1, double y0, double y1)
{
    return x1 > x0 ? y0 + (x - x0) / (x1 - x0) * (y1 - y0) : y0;
}

double hy_align_recording_time(const hy_alignment *alignment, double model_s)
{
    const hy_alignment *a = alignment;
    const double t = model_s;
    const hy_edge *e = a->edge;
    size_t last = a->model->spoken_count, low = 0, high = last;
    double speed =
        e[last].model > e[0].model ? (e[last].recording - e[0].recording) / (e[last].model - e[0].model) : 1.0;
    if (t <= e[0].model) {
        return e[0].recording + (t - e[0].model) * speed;
    }
    if (t >= e[last].model) {
        return e[last].recording + (t - e[last].model) * speed;
    }
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (e[middle].model <= t) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return between(t, e[low].model, e[high].model, e[low].recording, e[high].recording);
}

double hy_align_model_time(const hy_alignment *alignment, double recording_s)
{
    const hy_alignment *a = alignment;
    const double t = recording_s;
    const hy_edge *e = a->edge;
    size_t last = a->model->spoken_count, low = 0, high = last;
    if (t <= e[0].recording) {
        return e[0].model + (t - e[0].recording);
    }
    if (t >= e[last].recording) {
        return e[last].model + (t - e[last].recording);
    }
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (e[middle].recording <= t) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return between(t, e[low].recording, e[high].recording, e[low].model, e[high].model);
}

/* ---- pitch side by side ---- */

void hy_align_pitches(const hy_alignment *a, const hy_pitch_signal *recording, const hy_pitch_signal *model,
                      void (*see)(void *user, size_t spoken, double at, double recording_hz, double model_hz),
                      void *user)
{
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        const hy_spoken *s = &a->model->spoken[i];
        double f0 = s->f0_hz;
        if (s->voice < 40 || f0 < 30.0 || f0 > 400.0) {
            continue;
        }
        for (double at = s->from + 0.02; at < s->to - 0.01; at += 0.01) {
            double sure_m, sure_r;
            double m = hy_pitch_at(model, at, f0 * 0.7, f0 * 1.4, &sure_m);
            if (m <= 0 || sure_m < 0.8) {
                continue;
            }
            double r = hy_pitch_at(recording, hy_align_recording_time(a, at), m * 0.62, m * 1.6, &sure_r);
            if (r > 0 && sure_r > 0.6) {
                see(user, i, at, r, m);
            }
        }
    }
}

/* ---- the clock ---- */

/* The edges' model times at a scale that is 1 % higher: what tempo would say of the clock. */
static double *bent_times(const hy_align_setup *setup, double scale, size_t count, hy_diag *diag)
{
    hy_model_setup at = setup->model;
    at.scale = scale * 1.01;
    at.offset_ms = 0;
    hy_model *model = hy_model_render(&at, diag);
    double *time = model != NULL ? malloc((count + 1) * sizeof *time) : NULL;
    if (model != NULL && time == NULL) {
        hy_fail(diag, "memory is out");
    }
    if (time != NULL && model->spoken_count != count) {
        hy_fail(diag, "the input says another number of phonemes when the clock moves by 1 %%; it can't be compared");
        free(time);
        time = NULL;
    }
    for (size_t i = 0; time != NULL && i <= count; i++) {
        time[i] = i < count ? model->spoken[i].from : model->spoken[i - 1].to;
    }
    hy_model_free(model);
    return time;
}

static int find_clock(hy_alignment *a, const hy_align_setup *setup, hy_diag *diag)
{
    double scale = setup->known_scale;
    if (!(scale > 0) && hy_clock_start(a, setup, &scale, diag) != 0) {
        return -1;
    }
    tell(setup, 0.4);
    for (int round = 0; round < ROUNDS; round++) {
        double *bent =
            hy_align_at(a, setup, scale, diag) == 0 ? bent_times(setup, scale, a->model->spoken_count, diag) : NULL;
        int failed = bent == NULL || hy_clock_refine(a, bent, diag) != 0;
        free(bent);
        if (failed) {
            return -1;
        }
        tell(setup, 0.4 + 0.1 * (round + 1));
        if (setup->known_scale > 0) {
            a->scale = setup->known_scale;
            return 0;
        }
        double moved = fabs(log(a->scale / scale));
        if (moved < SETTLED) {
            a->scale = scale;
            return 0;
        }
        scale = a->scale;
    }
    return 0;
}

/* ---- all ---- */

static int check(const hy_alignment *a, hy_diag *diag)
{
    const char *name = a->recording->name;
    if (a->likeness < OTHER_TEXT || a->scale <= HY_SCALE_LEAST || a->scale >= HY_SCALE_MOST) {
        return hy_fail(diag,
                       "%s does not say what the input says (likeness %.2f; at least %.2f is needed): another input "
                       "would be right, or the part is too sick to follow (hyoid diagnose)",
                       name, a->likeness, OTHER_TEXT);
    }
    if (a->snr_db < LEAST_SNR_DB) {
        return hy_fail(
            diag, "%s: the speech is not %.0f dB above the noise; a louder or quieter-placed recording is needed",
            name, LEAST_SNR_DB);
    }
    return 0;
}

static int prepare(hy_alignment *a, const hy_align_setup *setup, hy_diag *diag)
{
    hy_recording *r = setup->recording;
    if (hy_hum_remove(r, &a->hum, diag) != 0 || hy_frames_make(&a->frames, r->samples, r->count, HOP, diag) != 0) {
        return -1;
    }
    memset(a->usable, 1, sizeof a->usable);
    hy_noise_guess(&a->noise, &a->frames, diag);
    return diag->text[0] != '\0' ? -1 : 0;
}

int hy_align(hy_alignment *a, const hy_align_setup *setup, hy_diag *diag)
{
    *a = (hy_alignment){.recording = setup->recording, .scale = 1.0};
    int failed = prepare(a, setup, diag);
    tell(setup, 0.1);
    failed = failed || find_clock(a, setup, diag) != 0 || hy_align_levels(a, diag) != 0;
    if (!failed) { /* once more with the noise that is known now */
        double scale = a->scale;
        failed =
            hy_align_at(a, setup, scale, diag) != 0 || hy_align_levels(a, diag) != 0 || hy_align_delay(a, diag) != 0;
    }
    failed = failed || check(a, diag) != 0;
    if (!failed) {
        hy_align_polarity(a);
        tell(setup, 1.0);
    } else {
        hy_alignment_free(a);
    }
    return failed ? -1 : 0;
}
