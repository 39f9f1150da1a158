/* The order of the alignment. */
#include "align.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "align_private.h"

enum { HOP = HY_ANALYSIS_RATE / 200, TRY_HOP = 2 * HOP, COARSE = 4, FEW_CELLS = 12000000, ROUNDS = 5 };
#define SETTLED 2e-4 /* relative: a clock that moves less has been found */
#define OTHER_TEXT 0.35
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
    int *near = malloc(fine->model.count * sizeof *near);
    int failed = near == NULL ? hy_fail(diag, "memory is out")
                              : hy_path_find(&rough, &coarse.model, &coarse.recording, NULL, 0, diag);
    if (!failed) {
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

double hy_align_recording_time(const hy_alignment *a, double t)
{
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

double hy_align_model_time(const hy_alignment *a, double t)
{
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

/* ---- level, band, noise ---- */

/* The recording's frame beside frame i of the model; null beyond its ends. */
static const float *frame_beside(const hy_alignment *a, size_t i)
{
    double at = hy_align_recording_time(a, (double)i * HOP / HY_ANALYSIS_RATE) * HY_ANALYSIS_RATE / HOP;
    long j = lround(at);
    return j >= 0 && j < (long)a->frames.count ? a->frames.energy + (size_t)j * HY_BANDS : NULL;
}

static double sum_of(const float *energy, const unsigned char *usable)
{
    double sum = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        sum += usable == NULL || usable[b] ? (double)energy[b] : 0.0;
    }
    return sum;
}

/* Recording against model over the frames in which the model is within 20 dB of its loud ones. */
static int find_gain(hy_alignment *a, hy_diag *diag)
{
    double *ratio = malloc((a->model_frames.count + 1) * sizeof *ratio);
    if (ratio == NULL) {
        return hy_fail(diag, "memory is out");
    }
    double loud = hy_loud_density(&a->model_frames, diag) * HY_BANDS, floor = sum_of(a->noise.energy, a->usable);
    size_t n = 0;
    for (size_t i = 0; i < a->model_frames.count; i++) {
        const float *m = a->model_frames.energy + i * HY_BANDS, *r = frame_beside(a, i);
        if (r != NULL && sum_of(m, NULL) > 0.01 * loud) {
            double left = sum_of(r, a->usable) - floor;
            ratio[n++] = 10 * log10((left > 0 ? left : 1e-20) / (sum_of(m, a->usable) + 1e-20));
        }
    }
    a->gain_db = hy_quantile(ratio, n, 0.5);
    free(ratio);
    return n > 0 ? 0 : hy_fail(diag, "%s: the recording is over before the speech begins", a->recording->name);
}

/* In each band, where the model is weakest, what the recording has beyond it. */
static int find_noise(hy_alignment *a, hy_diag *diag)
{
    size_t count = a->model_frames.count, n = 0;
    double *weak = malloc((count + 1) * sizeof *weak), *over = malloc((count + 1) * sizeof *over);
    if (weak == NULL || over == NULL) {
        free(weak);
        free(over);
        return hy_fail(diag, "memory is out");
    }
    double gain = pow(10, a->gain_db / 10);
    for (size_t b = 0; b < HY_BANDS; b++) {
        n = 0;
        for (size_t i = 0; i < count; i++) {
            weak[n++] = (double)a->model_frames.energy[i * HY_BANDS + b];
        }
        double limit = hy_quantile(weak, n, 0.1);
        n = 0;
        for (size_t i = 0; i < count; i++) {
            const float *r = frame_beside(a, i);
            double m = (double)a->model_frames.energy[i * HY_BANDS + b];
            if (r != NULL && m <= limit) {
                over[n++] = (double)r[b] - gain * m;
            }
        }
        double middle = hy_quantile(over, n, 0.5);
        a->noise.energy[b] = (float)(middle > 0 ? middle : 0.0);
    }
    free(weak);
    free(over);
    hy_noise_sum(&a->noise);
    return 0;
}

#define CUT_DB 12.0  /* a band at the border that is weaker than the model by this was cut off on the way */
#define SLOPE_DB 4.0 /* and those beside it that are weaker by this are on the cut's slope */

/* A band is usable if the recording's better frames stand 6 dB above the noise there and the way from the part to the file does
 * not cut it off. From the middle outward, until two bands in a row are not usable. (A defect that takes all sounds' highs or
 * lows away looks the same; so the band's limits are always told.) */
static int find_band(hy_alignment *a, hy_diag *diag)
{
    hy_bands bands;
    hy_bands_make(&bands, HY_BAND_FFT);
    size_t count = a->model_frames.count;
    double *r_db = malloc((count + 1) * sizeof *r_db), *m_db = malloc((count + 1) * sizeof *m_db);
    if (r_db == NULL || m_db == NULL) {
        free(r_db);
        free(m_db);
        return hy_fail(diag, "memory is out");
    }
    unsigned char fine[HY_BANDS];
    double weak[HY_BANDS];
    for (size_t b = 0; b < HY_BANDS; b++) {
        size_t n = 0;
        for (size_t i = 0; i < count; i++) {
            const float *r = frame_beside(a, i);
            if (r != NULL) {
                r_db[n] = 10 * log10((double)r[b] + 1e-20);
                m_db[n++] = 10 * log10((double)a->model_frames.energy[i * HY_BANDS + b] + 1e-20);
            }
        }
        double r = hy_quantile(r_db, n, 0.9), m = hy_quantile(m_db, n, 0.9) + a->gain_db;
        double left = pow(10, r / 10) - (double)a->noise.energy[b];
        weak[b] = left > 0 ? m - 10 * log10(left) : CUT_DB + 1;
        fine[b] = r > 10 * log10((double)a->noise.energy[b] + 1e-20) + 6.0 && weak[b] < CUT_DB &&
                  bands.centre[b] < a->recording->top_hz;
    }
    free(r_db);
    free(m_db);
    int low = 0, high = 0;
    while (low < HY_BANDS && bands.centre[low] < 1000.0) {
        low++;
    }
    high = low;
    while (low > 0 && (fine[low - 1] || (low > 1 && fine[low - 2]))) {
        low--;
    }
    while (high < HY_BANDS - 1 && (fine[high + 1] || (high < HY_BANDS - 2 && fine[high + 2]))) {
        high++;
    }
    while (low > 0 && low < HY_BANDS - 1 && bands.centre[low] < 1000.0 && weak[low] > SLOPE_DB) {
        low++;
    }
    while (high < HY_BANDS - 1 && high > 0 && bands.centre[high] > 1000.0 && weak[high] > SLOPE_DB) {
        high--;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        a->usable[b] = fine[b] && b >= low && b <= high;
    }
    a->low_hz = bands.low[low];
    a->high_hz = bands.high[high] < a->recording->top_hz ? bands.high[high] : a->recording->top_hz;
    return 0;
}

static int find_levels(hy_alignment *a, hy_diag *diag)
{
    for (int round = 0; round < 2; round++) { /* each leans on the others */
        if (find_gain(a, diag) != 0 || find_noise(a, diag) != 0 || find_band(a, diag) != 0) {
            return -1;
        }
    }
    if (find_gain(a, diag) != 0) {
        return -1;
    }
    double power = 0, n = 0, loud = hy_loud_density(&a->model_frames, diag) * HY_BANDS;
    hy_bands bands;
    hy_bands_make(&bands, HY_BAND_FFT);
    for (size_t i = 0; i < a->model_frames.count; i++) {
        const float *m = a->model_frames.energy + i * HY_BANDS;
        if (sum_of(m, NULL) > 0.01 * loud) {
            for (int b = 0; b < HY_BANDS; b++) {
                power += (double)m[b] * (bands.centre[b] - (b > 0 ? bands.centre[b - 1] : 100.0));
            }
            n += 1;
        }
    }
    a->speech_db = a->gain_db + 10 * log10(power / (n > 0 ? n : 1) + 1e-20);
    a->snr_db = a->speech_db - a->noise.level_db;
    return 0;
}

/* ---- polarity and delay ---- */

enum { WINDOW = HY_ANALYSIS_RATE * 3 / 100, LAGS = HY_ANALYSIS_RATE * 6 / 1000, LOOKS = 80 };

/* The largest agreement and the largest disagreement of the two signals around a place, over lags of half a pitch period. */
static void agreement(const hy_alignment *a, double at, double *like, double *unlike)
{
    long m0 = lround(at * HY_ANALYSIS_RATE) - WINDOW / 2;
    long r0 = lround(hy_align_recording_time(a, at) * HY_ANALYSIS_RATE) - WINDOW / 2;
    *like = *unlike = 0;
    if (m0 < 0 || m0 + WINDOW > (long)a->model->count || r0 < LAGS ||
        r0 + WINDOW + LAGS > (long)a->recording->count) {
        return;
    }
    const float *m = a->model->samples + m0, *r = a->recording->samples + r0;
    float mm = 0;
    for (int i = 0; i < WINDOW; i++) {
        mm += m[i] * m[i];
    }
    for (int lag = -LAGS; lag <= LAGS; lag += 2) {
        float mr = 0, rr = 0;
        for (int i = 0; i < WINDOW; i++) {
            mr += m[i] * r[i + lag];
            rr += r[i + lag] * r[i + lag];
        }
        double c = mm > 0 && rr > 0 ? (double)mr / sqrt((double)mm * (double)rr) : 0.0;
        *like = c > *like ? c : *like;
        *unlike = -c > *unlike ? -c : *unlike;
    }
}

static void find_polarity(hy_alignment *a)
{
    size_t voiced = 0;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        voiced += a->model->spoken[i].voice > 60;
    }
    size_t every = voiced / LOOKS + 1, k = 0;
    double votes = 0, cast = 0;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        const hy_spoken *s = &a->model->spoken[i];
        if (s->voice <= 60 || k++ % every != 0) {
            continue;
        }
        double like, unlike;
        agreement(a, 0.4 * s->from + 0.6 * s->to, &like, &unlike);
        double best = like > unlike ? like : unlike;
        if (best > 0.5) {
            votes += (like > unlike ? 1 : -1) * best * best;
            cast += best * best;
        }
    }
    a->polarity_sure = cast > 0 ? fabs(votes) / cast : 0.0;
    a->polarity = cast > 0 && a->polarity_sure > 0.5 ? (votes > 0 ? 1 : -1) : 0;
}

enum { FIRST_EDGES = 9 };

/* Where the input's time 0 lies: the median of the first edges that are seen, drift taken out. */
static int find_delay(hy_alignment *a, hy_diag *diag)
{
    size_t count = a->model->spoken_count + 1, n = 0;
    double speed = isfinite(a->recorder.uncertainty) ? a->recorder.value : 1.0;
    double *off = malloc(count * sizeof *off);
    if (off == NULL) {
        return hy_fail(diag, "memory is out");
    }
    double weight = 0;
    for (size_t i = 0; i < count && n < FIRST_EDGES; i++) {
        const hy_edge *e = &a->edge[i];
        if (isfinite(e->uncertainty)) {
            off[n++] = e->recording - speed * (e->model - HY_MODEL_LEAD_MS * 1e-3);
            weight += 1 / (e->uncertainty * e->uncertainty + 1e-8);
        }
    }
    a->delay = n > 0 ? hy_quantile(off, n, 0.5) : a->edge[0].recording - a->edge[0].model;
    a->delay_uncertainty = weight > 0 ? 1 / sqrt(weight) : INFINITY;
    free(off);
    return 0;
}

/* ---- all ---- */

static int check(const hy_alignment *a, hy_diag *diag)
{
    const char *name = a->recording->name;
    if (a->likeness < OTHER_TEXT || a->scale < 0.97 * HY_SCALE_MIN || a->scale > 1.03 * HY_SCALE_MAX) {
        return hy_fail(
            diag,
            "%s does not say what the input says (likeness %.2f; at least %.2f is needed); the score, log or "
            "capture that was played would be right",
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
    failed = failed || find_clock(a, setup, diag) != 0 || find_levels(a, diag) != 0;
    if (!failed) { /* once more with the noise that is known now */
        double scale = a->scale;
        failed = hy_align_at(a, setup, scale, diag) != 0 || find_levels(a, diag) != 0 || find_delay(a, diag) != 0;
    }
    failed = failed || check(a, diag) != 0;
    if (!failed) {
        find_polarity(a);
        tell(setup, 1.0);
    } else {
        hy_alignment_free(a);
    }
    return failed ? -1 : 0;
}
