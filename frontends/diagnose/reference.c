#include "reference.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "perform.h"
#include "recording/recording.h"

enum { HOP = HY_ANALYSIS_RATE / 200, SLICES_MOST = 6 };
#define SLICE_S 0.025   /* about so long; a long phoneme has longer ones */
#define BENT_SCALE 1.02 /* a second clock, which shows what of a gap is the chip's */
#define PITCH_S 0.05    /* of a shorter phoneme the pitch is not measured */

const hy_supposition *hy_suppositions(size_t *count)
{
    static const double strengths[] = {0.15, 0.3, 0.5, 0.75, 0.9, 1.0};
    enum { STRENGTHS = sizeof strengths / sizeof strengths[0] };
    static hy_supposition all[1 + HYOID_FAULTS * STRENGTHS];
    size_t n = 0;
    all[n++] = (hy_supposition){HY_HEALTHY, 0.0};
    for (int fault = 0; fault < HYOID_FAULTS; fault++) {
        const int graded = hyoid_fault_describe((hyoid_fault)fault)->graded;
        for (int s = graded ? 0 : STRENGTHS - 1; s < STRENGTHS; s++) {
            all[n++] = (hy_supposition){fault, strengths[s]};
        }
    }
    *count = n;
    return all;
}

typedef struct place {
    double s;
    double f0;
    uint8_t code, level, voice, noise;
} place;

typedef struct listener {
    const hy_supposition *is;
    const hyoid_stream *stream;
    hy_diag *diag;
    float *samples;
    size_t count, room;
    place *at;
    double clock_hz; /* at the first latch */
    size_t places, places_room;
} listener;

static void on_prepare(void *user, hyoid_stream *stream)
{
    listener *l = user;
    l->stream = stream;
    if (l->is->fault != HY_HEALTHY) {
        hyoid_chip_set_fault(&stream->chip, (hyoid_fault)l->is->fault, l->is->strength);
    }
}

static void on_frames(void *user, const float *frames, size_t count)
{
    listener *l = user;
    for (size_t i = 0; i < count && l->count < l->room; i++) {
        float x = frames[i];
        l->samples[l->count++] = x > 1e3f    ? 1e3f
                                 : x < -1e3f ? -1e3f
                                 : x == x    ? x
                                             : 0.0f; /* a fault may drive it anywhere */
    }
}

/* What the phoneme that ends had come to. */
static void look(listener *l)
{
    if (l->places == 0) {
        return;
    }
    const hyoid_chip *chip = &l->stream->chip;
    const hyoid_part *part = chip->part;
    place *p = &l->at[l->places - 1];
    p->level = (uint8_t)((chip->inflection & chip->inflection_keep) | chip->inflection_force);
    p->f0 = hyoid_stream_clock_hz(l->stream) / chip->filter_clocks /
            (part->pitch_period[p->level] + (chip->r_f1 >> part->pitch_f1_shift));
    p->voice = chip->r_va;
    p->noise = chip->r_fa;
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    listener *l = user;
    (void)cycle;
    look(l);
    l->clock_hz = l->places == 0 ? hyoid_stream_clock_hz(l->stream) : l->clock_hz;
    if (l->places == l->places_room) {
        size_t room = 2 * l->places_room + 64;
        place *more = realloc(l->at, room * sizeof *more);
        if (more == NULL) {
            hy_fail(l->diag, "memory is short for the model's phonemes");
            return;
        }
        l->at = more;
        l->places_room = room;
    }
    l->at[l->places++] = (place){.s = (double)ps * 1e-12, .code = (uint8_t)code};
}

/* Plays the input against a chip with the fault; with sound or for the times alone. *seconds: until all was said. */
static int play(listener *l, const hy_reference_setup *setup, double scale, int sound, double *seconds)
{
    const int64_t longest = (int64_t)(setup->longest * 1e12);
    hy_log *log = setup->input->log;
    int own = setup->input->score != NULL;
    if (own) { /* a host that waits for requests waits for this chip's */
        const hy_host_options host = {.clock_hz = setup->host.clock_hz,
                                      .level = setup->host.level,
                                      .clock_scale = scale * setup->scale,
                                      .longest_ps = longest,
                                      .prepare = on_prepare,
                                      .user = l};
        log = hy_host_play(setup->input->score, setup->part, &host, l->diag);
    }
    int64_t over = log == NULL ? -1 : own ? hy_log_end(log) : hy_perform_end(log, setup->part, l->diag);
    int result = over < 0 ? -1 : 0;
    over = over > longest ? longest : over;
    if (result == 0 && sound) {
        l->room = (size_t)((double)over * 1e-12 * HY_ANALYSIS_RATE) + 1;
        l->samples = malloc(l->room * sizeof *l->samples);
        result = l->samples != NULL ? 0 : hy_fail(l->diag, "memory is short for the model's sound");
    }
    if (result == 0) {
        const hy_performance performance = {
            .log = log,
            .part = setup->part,
            .rate = sound ? HY_ANALYSIS_RATE : 0,
            .end_ps = over > hy_log_end(log) ? over : hy_log_end(log),
            .observer = {l, sound ? on_frames : NULL, NULL, on_latch, NULL},
            .clock_scale = own ? 0.0 : scale * setup->scale,
            .prepare = on_prepare,
        };
        result = hy_perform(&performance, l->diag) != 0 || l->diag->text[0] != '\0' ? -1 : 0;
        look(l);
    }
    if (own) {
        hy_log_free(log);
    }
    *seconds = (double)over * 1e-12;
    return result;
}

static void let_go(listener *l)
{
    free(l->samples);
    free(l->at);
}

float *hy_reference_sound(const hy_reference_setup *setup, hy_supposition is, double scale, size_t *count,
                          hy_diag *diag)
{
    listener l = {.is = &is, .diag = diag};
    double seconds;
    if (play(&l, setup, scale, 1, &seconds) != 0) {
        let_go(&l);
        return NULL;
    }
    *count = l.count;
    free(l.at);
    return l.samples;
}

/* Segments from the places at two clocks. */
static int lay_out(hy_reference *r, const listener *l, const listener *bent, double bent_seconds)
{
    r->segment = calloc(l->places + 1, sizeof *r->segment);
    if (r->segment == NULL) {
        return -1;
    }
    r->segments = l->places;
    for (size_t i = 0; i <= l->places; i++) {
        hy_segment *s = &r->segment[i];
        double at = i < l->places ? l->at[i].s : r->seconds;
        double then = i < bent->places ? bent->at[i].s : bent->places == l->places ? bent_seconds : at;
        /* at = host + chip, then = host + chip / scale */
        double chip = (at - then) / (1.0 - 1.0 / BENT_SCALE);
        chip = chip < 0.0 ? 0.0 : chip > at ? at : chip;
        s->chip_s = chip;
        s->host_s = at - chip;
        if (i < l->places) {
            const place *p = &l->at[i];
            double length = (i + 1 < l->places ? l->at[i + 1].s : r->seconds) - at;
            s->code = p->code;
            s->level = p->level;
            s->voiced = p->voice >= 64;
            s->noisy = p->noise >= 32;
            s->f0 = s->voiced && length >= PITCH_S ? (float)p->f0 : 0.0f;
            s->first = (uint32_t)r->slices;
            s->slices = length < 0.012 ? 0 : (uint32_t)fmin(fmax(length / SLICE_S, 1.0), SLICES_MOST);
            r->slices += s->slices;
        }
    }
    return 0;
}

/* Mean energy of the frames whose middle lies within a slice. */
static void take_slices(hy_reference *r, const hy_frames *frames)
{
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *s = &r->segment[i];
        double from = s->host_s + s->chip_s;
        double length = s[1].host_s + s[1].chip_s - from;
        for (uint32_t k = 0; k < s->slices; k++) {
            double rate = (double)HY_ANALYSIS_RATE / HOP;
            double begin = (from + length * k / s->slices) * rate;
            double end = (from + length * (k + 1) / s->slices) * rate;
            size_t first = (size_t)ceil(begin), last = (size_t)ceil(end);
            float *energy = r->energy + (size_t)(s->first + k) * HY_BANDS;
            for (size_t f = first; f < last && f < frames->count; f++) {
                for (int b = 0; b < HY_BANDS; b++) {
                    energy[b] += frames->energy[f * HY_BANDS + (size_t)b] / (float)(last - first);
                }
            }
        }
    }
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static double loudness(const hy_reference *r)
{
    double *level = malloc((r->slices + 1) * sizeof *level);
    double loud = 0.0;
    if (level != NULL && r->slices > 0) {
        for (size_t i = 0; i < r->slices; i++) {
            level[i] = 0.0;
            for (size_t b = 0; b < HY_BANDS; b++) {
                level[i] += (double)r->energy[i * HY_BANDS + b] / HY_BANDS;
            }
        }
        qsort(level, r->slices, sizeof *level, by_value);
        loud = level[r->slices - 1 - r->slices / 10];
    }
    free(level);
    return loud;
}

/* Whether phonemes begin as in another reference: then they do so at any clock, and the second clock need not be played. */
static int begins_like(const hy_reference *like, const listener *l, double seconds)
{
    if (like == NULL || like->segments != l->places || fabs(like->seconds - seconds) > 1e-9) {
        return 0;
    }
    for (size_t i = 0; i < l->places; i++) {
        if (fabs(like->segment[i].host_s + like->segment[i].chip_s - l->at[i].s) > 1e-9) {
            return 0;
        }
    }
    return 1;
}

static int fill(hy_reference *r, const listener *l, const listener *bent, double bent_seconds, double like_clock,
                hy_diag *diag)
{
    hy_frames frames = {NULL, 0, 0};
    double sum = 0.0;
    if (lay_out(r, l, bent, bent_seconds) != 0 ||
        (r->energy = calloc(r->slices * HY_BANDS + 1, sizeof *r->energy)) == NULL) {
        return hy_fail(diag, "memory is short for the model's spectra");
    }
    for (size_t i = 0; i < l->count; i++) {
        sum += (double)l->samples[i];
    }
    r->clock_hz = l->clock_hz > 0.0 ? l->clock_hz : like_clock;
    r->mean = l->count > 0 ? sum / (double)l->count : 0.0;
    for (size_t i = 0; i < l->count; i++) {
        l->samples[i] -= (float)r->mean; /* as the recording's was */
    }
    if (hy_frames_make(&frames, l->samples, l->count, HOP, diag) != 0) {
        return -1;
    }
    take_slices(r, &frames);
    hy_frames_free(&frames);
    r->loud = loudness(r);
    return 0;
}

/* The times at a clock of BENT_SCALE that a reference stands for. */
static int bend_like(listener *bent, const hy_reference *like, double *seconds)
{
    bent->at = calloc(like->segments + 1, sizeof *bent->at);
    if (bent->at == NULL) {
        return hy_fail(bent->diag, "memory is short for the model's phonemes");
    }
    bent->places = like->segments;
    for (size_t i = 0; i <= like->segments; i++) {
        bent->at[i].s = like->segment[i].host_s + like->segment[i].chip_s / BENT_SCALE;
    }
    *seconds = bent->at[like->segments].s;
    return 0;
}

hy_reference *hy_reference_make(const hy_reference_setup *setup, hy_supposition is, const hy_reference *like,
                                hy_diag *diag)
{
    hy_reference *r = calloc(1, sizeof *r);
    listener l = {.is = &is, .diag = diag}, bent = l;
    double bent_seconds = 0.0;
    if (r == NULL) {
        hy_fail(diag, "memory is short for the model");
        return NULL;
    }
    r->is = is;
    r->scale = setup->scale;
    int result = play(&l, setup, 1.0, 1, &r->seconds);
    if (result == 0) {
        result = begins_like(like, &l, r->seconds) ? bend_like(&bent, like, &bent_seconds)
                                                   : play(&bent, setup, BENT_SCALE, 0, &bent_seconds);
    }
    result = result == 0 ? fill(r, &l, &bent, bent_seconds, like != NULL ? like->clock_hz : 0.0, diag) : -1;
    let_go(&l);
    let_go(&bent);
    if (result != 0) {
        hy_reference_free(r);
        return NULL;
    }
    return r;
}

void hy_reference_free(hy_reference *reference)
{
    if (reference != NULL) {
        free(reference->segment);
        free(reference->energy);
        free(reference);
    }
}
