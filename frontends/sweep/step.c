#include "step.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "acoustics.h"
#include "host.h"
#include "perform.h"
#include "score.h"

static const double ps_per_s = 1e12;

int hy_sweep_is_voiced(const hyoid_part *part, unsigned code)
{
    const hyoid_phoneme *p = &part->phoneme[code];
    return p->va > 0 && 4 * p->fa <= p->va && !p->pause && !p->closure;
}

/* ARPABET's vowels begin with a vowel's letter. */
static int is_nucleus(const hyoid_part *part, unsigned code)
{
    return hy_sweep_is_voiced(part, code) && strchr("aeiou", hy_symbols[code].symbol[0]) != NULL;
}

/* ---- the input at the nominal clock ---- */

typedef struct look {
    const hyoid_part *part;
    int64_t since; /* the last latch */
    int last;      /* and its code, or -1 */
    int level;
    double start_hz, most_hz;
    int64_t sounded[HYOID_PHONEMES];
    int first_level[HYOID_PHONEMES]; /* -1: not said */
} look;

static void look_until(look *l, int64_t ps)
{
    if (l->last >= 0) {
        l->sounded[l->last] += ps - l->since;
    }
}

static void look_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    look *l = user;
    (void)cycle;
    look_until(l, ps);
    l->since = ps;
    l->last = (int)code;
    if (l->first_level[code] < 0) {
        l->first_level[code] = l->level;
    }
}

static void look_input(void *user, const hy_event *event)
{
    look *l = user;
    if (event->signal == HY_CLOCK) {
        l->start_hz = event->ps == 0 ? event->hz : l->start_hz;
        l->most_hz =
            fmax(event->ps == 0 ? 0 : l->most_hz, fmax(event->hz, event->to_ps > event->ps ? event->to_hz : 0));
    } else if (event->signal == HY_INFLECTION) {
        l->level = event->number;
    } else if (event->signal == HY_PIN && event->number / 2 >= HY_I0 && event->number / 2 <= HY_I1) {
        int bit = event->number / 2 == HY_I0 ? 1 : 2;
        l->level = event->number % 2 ? l->level | bit : l->level & ~bit;
    }
}

/* A write log with other clocks, and its times as they are. Null on error. */
static hy_log *scaled_log(hy_log *log, double scale, hy_diag *diag)
{
    hy_log *bent = hy_log_new(diag);
    int failed = bent == NULL || hy_log_rewind(log, diag) != 0;
    hy_event event;
    int more = 0;
    int glides = 0;
    while (!failed && (more = hy_log_next(log, &event, diag)) == 1) {
        int arrives = event.signal == HY_CLOCK && glides;
        if (event.signal == HY_MARK) {
            continue;
        }
        if (event.signal == HY_CLOCK) {
            glides = event.to_ps > event.ps;
            event.to_ps = 0;
            event.hz *= scale;
        }
        failed = hy_log_append(bent, &event, arrives, diag) != 0;
    }
    if (failed || more < 0) {
        hy_log_free(bent);
        return NULL;
    }
    return bent;
}

/* The input as it is on a board whose clock is `scale` times as fast: a score's host waits for the chip, a log does not. */
static hy_log *log_at(const hy_sweep_subject *s, double scale, hy_diag *diag)
{
    if (s->input->score == NULL) {
        return scaled_log(s->input->log, scale, diag);
    }
    const hy_host_options host = {.clock_hz = s->part->nominal_hz, .level = s->level, .clock_scale = scale};
    return hy_host_play(s->input->score, s->part, &host, diag);
}

static int64_t end_of(const hy_sweep_subject *s, hy_log *log, hy_diag *diag)
{
    return s->input->from_score ? hy_log_end(log) : hy_perform_end(log, s->part, diag);
}

static int too_long(int64_t ps, double hz, hy_diag *diag)
{
    return ps > HY_SWEEP_SECONDS_MAX * HYOID_PS_PER_S
               ? hy_fail(diag, "at a clock of %.6g Hz the input lasts %.0f s; a sweep's inputs are at most %d s long",
                         hz, (double)ps / ps_per_s, HY_SWEEP_SECONDS_MAX)
               : 0;
}

int hy_sweep_look(hy_sweep_subject *s, hy_diag *diag)
{
    look l = {.part = s->part, .last = -1, .level = s->level};
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        l.first_level[code] = -1;
    }
    int64_t end = end_of(s, s->input->log, diag);
    const hy_performance performance = {.log = s->input->log,
                                        .part = s->part,
                                        .end_ps = end,
                                        .observer = {.user = &l, .latch = look_latch},
                                        .input = look_input};
    if (end < 0 || too_long(end, s->part->nominal_hz, diag) != 0 || hy_perform(&performance, diag) != 0) {
        return -1;
    }
    look_until(&l, end);
    s->most_hz = l.most_hz;
    s->start_hz = l.start_hz;
    if (!(l.start_hz > 0)) {
        return hy_fail(diag, "%s starts with a clock of 0, which no sweep can change; a running clock would be right",
                       s->path);
    }
    int64_t most = 0;
    for (unsigned code = 0; !s->code_given && code < HYOID_PHONEMES; code++) {
        if (hy_sweep_is_voiced(s->part, code) && l.sounded[code] > most) {
            most = l.sounded[code];
            s->code = (int)code;
        }
    }
    s->code_level = s->code >= 0 && l.first_level[s->code] >= 0 ? l.first_level[s->code] : s->level;
    return 0;
}

/* ---- a clock ---- */

typedef struct hearing {
    hy_sweep_step *step;
    const hyoid_part *part;
    size_t room, said_room;
    int request, in_nucleus, failed;
} hearing;

static void hear_frames(void *user, const float *frames, size_t count)
{
    hearing *h = user;
    hy_sweep_step *s = h->step;
    if (s->count + count > h->room) {
        size_t room = 2 * h->room + count + 65536;
        float *more = realloc(s->frames, room * sizeof *more);
        if (more == NULL) {
            h->failed = 1;
            return;
        }
        s->frames = more;
        h->room = room;
    }
    memcpy(s->frames + s->count, frames, count * sizeof *frames);
    s->count += count;
}

static void hear_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    hearing *h = user;
    hy_sweep_step *s = h->step;
    (void)cycle;
    s->cut += s->phonemes > 0 && !h->request;
    s->phonemes++;
    int nucleus = is_nucleus(h->part, code);
    s->syllables += nucleus && !h->in_nucleus;
    h->in_nucleus = nucleus;
    h->request = 0;
    if (s->said_count == h->said_room) {
        size_t room = 2 * h->said_room + 64;
        hy_sweep_said *more = realloc(s->said, room * sizeof *more);
        if (more == NULL) {
            h->failed = 1;
            return;
        }
        s->said = more;
        h->said_room = room;
    }
    s->said[s->said_count++] = (hy_sweep_said){(double)ps / ps_per_s, code};
}

static void hear_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    hearing *h = user;
    (void)cycle;
    (void)ps;
    h->request = level;
}

/* What follows from the clock alone: everything on the chip is derived from it. */
static void figures(hy_sweep_step *s, const hy_sweep_subject *subject)
{
    const hyoid_part *part = subject->part;
    s->ratio = s->hz / part->nominal_hz;
    s->filter_hz = s->hz / part->filter_clocks;
    s->semitones = s->hz > 0 ? 12 * log2(s->ratio) : NAN;
    s->f0 = s->f1 = s->f2 = s->f3 = s->image_hz = s->image_db = NAN;
    if (subject->code < 0 || !(s->hz > 0)) {
        return;
    }
    const hyoid_phoneme *p = &part->phoneme[subject->code];
    hy_formants f = hy_phoneme_formants(part, (unsigned)subject->code);
    uint32_t period = part->pitch_period[subject->code_level] + (hy_register4(p->f1) >> part->pitch_f1_shift);
    s->f0 = s->filter_hz / period;
    s->f1 = f.f1 * s->ratio;
    s->f2 = f.f2 * s->ratio;
    s->f3 = f.f3 * s->ratio;
    if (isfinite(s->f1)) {
        /* a level that is held for 1 / fs has the image fs - f of a line at f, weaker as f / (fs - f) */
        double line = s->f0 * fmax(1, floor(s->f1 / s->f0 + 0.5));
        s->image_hz = s->filter_hz - line;
        s->image_db = 20 * log10(line / s->image_hz);
    }
}

int hy_sweep_play(hy_sweep_step *step, const hy_sweep_subject *subject, const hy_sweep_clock *clock, uint32_t rate,
                  int64_t tail_ps, hy_diag *diag)
{
    *step = (hy_sweep_step){.hz = clock->hz, .rate = rate, .seconds = NAN};
    memcpy(step->label, clock->label, sizeof step->label);
    figures(step, subject);
    if (!(clock->hz >= HY_SWEEP_SLOWEST_HZ)) {
        return 0;
    }
    double scale = clock->hz / subject->start_hz;
    if (!(subject->most_hz * scale <= HYOID_CLOCK_MAX)) {
        return hy_fail(
            diag,
            "%s goes up to %.6g Hz, which becomes %.6g Hz where it starts at %.6g Hz; at most 100 MHz would be "
            "right",
            subject->path, subject->most_hz, subject->most_hz * scale, clock->hz);
    }
    hy_log *log = log_at(subject, scale, diag);
    int64_t end = log != NULL ? end_of(subject, log, diag) : -1;
    int status = end >= 0 ? too_long(end, clock->hz, diag) : -1;
    hearing h = {.step = step, .part = subject->part, .request = 1};
    if (status == 0) {
        const hy_performance performance = {
            .log = log,
            .part = subject->part,
            .rate = rate,
            .end_ps = end + tail_ps,
            .observer = {&h, rate > 0 ? hear_frames : NULL, NULL, hear_latch, hear_request},
        };
        status = hy_perform(&performance, diag);
    }
    if (log != NULL) {
        hy_log_free(log);
    }
    if (status == 0 && h.failed) {
        status = hy_fail(diag, "out of memory");
    }
    if (status != 0) {
        hy_sweep_step_free(step);
        return -1;
    }
    step->played = 1;
    step->whole_s = (double)(end + tail_ps) / ps_per_s;
    step->seconds = step->said_count > 0 ? (double)end / ps_per_s - step->said[0].at_s : 0;
    return 0;
}

void hy_sweep_drop_sound(hy_sweep_step *step)
{
    free(step->frames);
    step->frames = NULL;
    step->count = 0;
}

void hy_sweep_step_free(hy_sweep_step *step)
{
    hy_sweep_drop_sound(step);
    free(step->said);
    step->said = NULL;
    step->said_count = 0;
}
