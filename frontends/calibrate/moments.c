#include "moments.h"

#include <math.h>
#include <stdlib.h>

enum {
    BEFORE = 2,
    ROOM = 1 << 15,
    LONGEST = 8000, /* filter cycles of an item in a context */
    FRAMES = 12,    /* compared around an onset */
    LEAD = 3,       /* of them before it */
    SPACING = 64,   /* samples between them */
    GRID = 16,      /* samples between shifts tried */
    MOST_SHIFTS = 257
};
static const float CAP_DB = 15;
static const double ONSET_SIGMA = 25; /* registers move every 64 cycles: an onset is good to a third of that */

typedef struct moment_work {
    const hy_moment_search *search;
    hy_tick_bands *bands;
    float *sound;
    size_t count;   /* of sound */
    uint32_t onset; /* of the item in it */
    hy_tick_frame model[FRAMES];
    float channel[HY_TICK_BANDS];
} moment_work;

static void work_free(moment_work *w)
{
    if (w != NULL) {
        hy_tick_bands_free(w->bands);
        free(w->sound);
        free(w);
    }
}

static moment_work *work_new(const hy_moment_search *search)
{
    moment_work *w = calloc(1, sizeof *w);
    if (w == NULL) {
        return NULL;
    }
    w->search = search;
    w->bands = hy_tick_bands_new();
    w->sound = malloc(ROOM * sizeof *w->sound);
    if (w->bands == NULL || w->sound == NULL) {
        work_free(w);
        return NULL;
    }
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        w->channel[b] = powf(10, search->channel_db[b] / 10) * (float)hy_tick_band_hold((size_t)b);
    }
    return w;
}

/* Says item i and what stands around it, with the lengths that the onsets give. */
static void say(moment_work *w, size_t i)
{
    const hy_material *m = w->search->material;
    const double *onset = w->search->onset;
    size_t from = i > BEFORE ? i - BEFORE : 0, to = i + 2 < m->items ? i + 2 : m->items, n = to - from;
    hy_said around[BEFORE + 2];
    uint32_t at[BEFORE + 3];
    for (size_t k = 0; k < n; k++) {
        double length = onset[from + k + 1] - onset[from + k];
        around[k] = m->said[from + k];
        around[k].waits = 0;
        around[k].ticks = length < 1 ? 1 : length > LONGEST ? LONGEST : (uint32_t)(length + 0.5);
    }
    w->count = hy_speech_render(w->search->part, (hy_start){0}, around, n, w->sound, ROOM, at);
    w->onset = at[i - from];
}

static float frame_cost(const moment_work *w, const hy_tick_frame *recorded, const hy_tick_frame *model)
{
    const float *floor = w->search->material->floor;
    float sum = 0;
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        float d = 4.342945f * logf((recorded->power[b] + floor[b] + 1e-12f) /
                                   (model->power[b] * w->channel[b] + 2 * floor[b] + 1e-12f));
        d = fminf(fmaxf(d, -CAP_DB), CAP_DB);
        sum += d * d;
    }
    return sum;
}

static void place_onset(moment_work *w, hy_moment *moment)
{
    const hy_material *m = w->search->material;
    int half = w->search->reach / GRID < MOST_SHIFTS / 2 ? w->search->reach / GRID : MOST_SHIFTS / 2;
    int shifts = 2 * half + 1, all = shifts + (FRAMES - 1) * (SPACING / GRID);
    hy_tick_frame kept[MOST_SHIFTS + (FRAMES - 1) * SPACING / GRID]; /* most frames are wanted by several shifts */
    float cost[MOST_SHIFTS], least = 1e30f, sum = 0;
    long here = lround(moment->at);
    int best = half;
    for (int k = 0; k < FRAMES; k++) {
        hy_tick_bands_frame(w->bands, w->sound, w->count, (long)w->onset + (long)(k - LEAD) * SPACING, &w->model[k]);
    }
    for (int q = 0; q < all; q++) {
        hy_tick_bands_frame(w->bands, m->sound, m->count, here + (long)(q - half) * GRID - (long)LEAD * SPACING,
                            &kept[q]);
    }
    for (int q = 0; q < shifts; q++) {
        cost[q] = 0;
        for (int k = 0; k < FRAMES; k++) {
            cost[q] += frame_cost(w, &kept[q + k * (SPACING / GRID)], &w->model[k]);
        }
        cost[q] /= FRAMES * HY_TICK_BANDS;
        sum += cost[q];
        if (cost[q] < least) {
            least = cost[q];
            best = q;
        }
    }
    moment->sigma = INFINITY;
    if (best > 0 && best + 1 < shifts) {
        double a = (double)cost[best - 1], b = (double)cost[best], c = (double)cost[best + 1];
        double fine = a - 2 * b + c > 0 ? 0.5 * (a - c) / (a - 2 * b + c) : 0;
        double depth = (double)(sum / (float)shifts - least); /* dB^2 that the right place gains over any */
        moment->at = (double)here + ((double)(best - half) + fine) * GRID;
        moment->sigma = depth > 0 ? ONSET_SIGMA * sqrt((depth + 2 + b) / depth) : INFINITY;
    }
}

int hy_moments_onsets(const hy_moment_search *search, hy_moment *moments)
{
    moment_work *w = work_new(search);
    if (w == NULL) {
        return -1;
    }
    for (size_t i = 0; i < search->material->items; i++) {
        say(w, i);
        moments[i] = (hy_moment){.item = i, .share = 0, .at = search->onset[i]};
        place_onset(w, &moments[i]);
    }
    work_free(w);
    return 0;
}

/* Where power jumps in [from, to): the first sample after which RISE samples hold nearly as much, against the GAP before them, as at
 * the place where they hold most. (The most itself may lie a pitch pulse later, if a voice dies away in the burst.) */
static double jump(const float *sound, size_t count, long from, long to, double floor, double *most)
{
    enum { RISE = 48, GAP = 96, REACH = 1024 };
    static const double NEARLY = 0.25;
    double ratio[REACH], after = 0, before = 0;
    *most = 0;
    from = from < GAP ? GAP : from;
    to = to > (long)count - RISE ? (long)count - RISE : to;
    to = to > from + REACH ? from + REACH : to;
    for (long k = 0; from < to && k < RISE; k++) {
        after += (double)(sound[from + k] * sound[from + k]);
    }
    for (long k = 1; from < to && k <= GAP; k++) {
        before += (double)(sound[from - k] * sound[from - k]);
    }
    for (long i = from; i < to; i++) {
        double r = (after / RISE + floor) / (fmax(before, 0) / GAP + floor);
        ratio[i - from] = r;
        *most = r > *most ? r : *most;
        after += (double)(sound[i + RISE] * sound[i + RISE] - sound[i] * sound[i]);
        before += (double)(sound[i] * sound[i] - sound[i - GAP] * sound[i - GAP]);
    }
    for (long i = from; i < to; i++) {
        if (ratio[i - from] >= NEARLY * *most) {
            return (double)i;
        }
    }
    return -1;
}

long hy_moments_bursts(const hy_moment_search *search, hy_moment *moments)
{
    const hyoid_part *part = search->part;
    const hy_material *m = search->material;
    moment_work *w = work_new(search);
    if (w == NULL) {
        return -1;
    }
    double floor = 0, model_gain = 0;
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        floor += (double)m->floor[b];
        model_gain += (double)w->channel[b] / HY_TICK_BANDS;
    }
    floor = floor / (0.375 * HY_TICK_WINDOW * HY_TICK_WINDOW / 2) +
            1e-12; /* power of a sample, from that of a Hann frame's bins */
    long n = 0;
    for (size_t i = 0; i < m->items; i++) {
        const hyoid_phoneme *p = &part->phoneme[m->said[i].code];
        if (!p->closure || p->pause || p->fa == 0) {
            continue;
        }
        say(w, i);
        /* the model's burst comes by its own time; the chip's by its own too, which the onsets tell unless the host held it */
        int own = m->said[i].waits && m->said[i].ticks == 0;
        double length = own ? fmax(search->onset[i + 1] - search->onset[i], 1) : p->duration;
        long offset = (long)((p->duration * part->burst_slot + HYOID_SLOTS - 1) / HYOID_SLOTS);
        double mr, rr;
        double model = jump(w->sound, w->count, (long)w->onset + offset - 64, (long)w->onset + offset + 64,
                            floor / model_gain, &mr);
        long expected = lround(search->onset[i] + length * part->burst_slot / HYOID_SLOTS);
        double recorded = jump(m->sound, m->count, expected - search->reach, expected + search->reach, floor, &rr);
        if (mr > 6 && rr > 6 && model >= 0 && recorded >= 0) {
            double late = model - (double)(w->onset + offset); /* the jump's own lag, the same in both */
            moments[n++] = (hy_moment){
                .item = i, .share = (double)part->burst_slot / HYOID_SLOTS, .at = recorded - late - 0.5, .sigma = 6};
        }
    }
    work_free(w);
    return n;
}
