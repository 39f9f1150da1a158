#include "model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "acoustics.h"
#include "perform.h"
#include "recording.h"

enum { FRAMES_PER_MS = HY_ANALYSIS_RATE / 1000 };

typedef struct listener {
    const hy_model_setup *setup;
    hy_model *model;
    const hyoid_stream *stream;
    hy_diag *diag;
    size_t room, spoken_room, skip;
    double offset; /* s */
} listener;

static void on_prepare(void *user, hyoid_stream *stream)
{
    listener *l = user;
    l->stream = stream;
    if (l->setup->prepare != NULL) {
        l->setup->prepare(l->setup->user, stream);
    }
}

static void on_frames(void *user, const float *frames, size_t count)
{
    listener *l = user;
    hy_model *m = l->model;
    size_t skip = l->skip < count ? l->skip : count;
    l->skip -= skip;
    for (size_t i = skip; i < count && m->count < l->room; i++) {
        float x = frames[i];
        m->samples[m->count++] = x > 1e3f    ? 1e3f
                                 : x < -1e3f ? -1e3f
                                 : x == x    ? x
                                             : 0.0f; /* a fault may drive it anywhere */
    }
}

static double resonance(double k, double k6, double cycle_hz)
{
    double hz = hy_resonance_hz(k, k6, cycle_hz);
    return isfinite(hz) ? hz : 0.0;
}

/* The phoneme that is being spoken ends: what the chip has come to. */
static void look(listener *l, hy_spoken *s)
{
    const hyoid_chip *chip = &l->stream->chip;
    const hyoid_part *part = chip->part;
    s->clock_hz = hyoid_stream_clock_hz(l->stream);
    double cycle_hz = s->clock_hz / chip->filter_clocks;
    s->level = (uint8_t)((chip->inflection & chip->inflection_keep) | chip->inflection_force);
    s->f0_hz = cycle_hz / (part->pitch_period[s->level] + (chip->r_f1 >> part->pitch_f1_shift));
    s->f1 = resonance(chip->k1, part->f1.k6, cycle_hz);
    s->f2 = resonance(chip->k2, part->f2.k6 + part->f2_k6_step * part->phoneme[s->code].bw2, cycle_hz);
    s->f3 = resonance(chip->k3, part->f3.k6, cycle_hz);
    s->f4 = resonance(part->f4_k, part->f4_k6, cycle_hz);
    s->voice = chip->r_va;
    s->noise = chip->r_fa;
}

static double seconds_of(const listener *l, int64_t ps)
{
    return (double)ps * 1e-12 - l->offset;
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    listener *l = user;
    hy_model *m = l->model;
    (void)cycle;
    if (m->spoken_count == l->spoken_room) {
        size_t room = l->spoken_room > 0 ? 2 * l->spoken_room : 64;
        hy_spoken *more = realloc(m->spoken, room * sizeof *more);
        if (more == NULL) {
            hy_fail(l->diag, "memory is out");
            return;
        }
        m->spoken = more;
        l->spoken_room = room;
    }
    double at = seconds_of(l, ps);
    if (m->spoken_count > 0) {
        hy_spoken *before = &m->spoken[m->spoken_count - 1];
        before->to = at;
        look(l, before);
    }
    m->spoken[m->spoken_count++] = (hy_spoken){.from = at, .to = at, .due = -1.0, .code = (uint8_t)code};
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    listener *l = user;
    hy_model *m = l->model;
    (void)cycle;
    if (m->spoken_count > 0 && level) {
        hy_spoken *now = &m->spoken[m->spoken_count - 1];
        now->due = seconds_of(l, ps);
        now->to = now->due;
        look(l, now);
    }
}

static void only_faults(void *user, hyoid_stream *stream)
{
    const hy_model_setup *setup = ((const listener *)user)->setup;
    if (setup->prepare != NULL) {
        setup->prepare(setup->user, stream);
    }
}

static int perform(listener *l, hy_log *log, double over, double scale)
{
    const hy_model_setup *setup = l->setup;
    hy_model *m = l->model;
    double end = over + HY_MODEL_LEAD_MS * 1e-3 + setup->tail;
    m->seconds = over + HY_MODEL_LEAD_MS * 1e-3;
    l->room = (size_t)(end * HY_ANALYSIS_RATE);
    l->skip = (size_t)setup->offset_ms * FRAMES_PER_MS;
    m->samples = malloc((l->room > 0 ? l->room : 1) * sizeof *m->samples);
    if (m->samples == NULL) {
        return hy_fail(l->diag, "memory is out");
    }
    const hy_performance performance = {
        .log = log,
        .part = setup->part,
        .rate = HY_ANALYSIS_RATE,
        .end_ps = (int64_t)((end + l->offset) * 1e12),
        .observer = {l, on_frames, NULL, on_latch, on_request},
        .clock_scale = scale,
        .offset_ps = (int64_t)(setup->offset_ms + HY_MODEL_LEAD_MS) * INT64_C(1000000000),
        .prepare = on_prepare,
    };
    int result = hy_perform(&performance, l->diag);
    if (result == 0 && l->diag->text[0] != '\0') {
        return -1;
    }
    if (result == 0 && m->spoken_count == 0) {
        return hy_fail(l->diag, "the input has no phoneme: there is nothing to compare");
    }
    if (result == 0) {
        hy_spoken *last = &m->spoken[m->spoken_count - 1];
        last->last = 1;
        if (last->due < 0) { /* the clock stands, or a fault keeps request low */
            last->to = m->seconds > last->from ? m->seconds : last->from;
        }
    }
    return result;
}

/* A score's host waits for the chip's requests: it is played against a chip with the same clock and faults. */
static int play(listener *l)
{
    const hy_model_setup *setup = l->setup;
    const hy_input *input = setup->input;
    hy_log *log = input->log;
    double scale = setup->scale;
    if (input->score != NULL) {
        const hy_host_options host = {.clock_hz = setup->host.clock_hz,
                                      .level = setup->host.level,
                                      .clock_scale = setup->scale,
                                      .prepare = only_faults,
                                      .user = l};
        log = hy_host_play(input->score, setup->part, &host, l->diag);
        if (log == NULL) {
            return -1;
        }
        scale = 1.0;
    }
    int64_t over = input->score != NULL ? hy_log_end(log) : hy_perform_end(log, setup->part, l->diag);
    int result = over < 0 ? -1 : 0;
    if (result == 0 && (double)over * 1e-12 > setup->longest) {
        result = hy_fail(l->diag, "the input lasts %.1f s; at most %.1f s would be right here", (double)over * 1e-12,
                         setup->longest);
    }
    if (result == 0) {
        double seconds = (double)over * 1e-12;
        /* a log's own end is known for the stated clock; a slower one needs more for the last phoneme */
        result = perform(l, log, input->score != NULL || scale >= 1.0 ? seconds : seconds + 0.2 / scale, scale);
    }
    if (log != input->log) {
        hy_log_free(log);
    }
    return result;
}

hy_model *hy_model_render(const hy_model_setup *setup, hy_diag *diag)
{
    hy_model *model = calloc(1, sizeof *model);
    if (model == NULL) {
        hy_fail(diag, "memory is out");
        return NULL;
    }
    model->scale = setup->scale;
    listener l = {.setup = setup, .model = model, .diag = diag, .offset = setup->offset_ms * 1e-3};
    if (play(&l) != 0) {
        hy_model_free(model);
        return NULL;
    }
    return model;
}

void hy_model_free(hy_model *model)
{
    if (model != NULL) {
        free(model->samples);
        free(model->spoken);
        free(model);
    }
}
