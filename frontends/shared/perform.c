#include "perform.h"

#include <string.h>

/* Stands between the stream and the listener, to end exactly where asked. */
typedef struct gate {
    const hy_performance *p;
    int64_t frames_left;
} gate;

static void frames(void *user, const float *samples, size_t count)
{
    gate *g = user;
    size_t wanted = (int64_t)count < g->frames_left ? count : (size_t)g->frames_left;
    g->frames_left -= (int64_t)wanted;
    if (wanted > 0) {
        g->p->observer.frames(g->p->observer.user, samples, wanted);
    }
}

static void level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    gate *g = user;
    if (ps < g->p->end_ps) {
        g->p->observer.level(g->p->observer.user, cycle, ps, fraction, value);
    }
}

static void latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    gate *g = user;
    if (ps < g->p->end_ps) {
        g->p->observer.latch(g->p->observer.user, cycle, ps, code);
    }
}

static void request(void *user, uint64_t cycle, int64_t ps, int now)
{
    gate *g = user;
    if (ps < g->p->end_ps) {
        g->p->observer.request(g->p->observer.user, cycle, ps, now);
    }
}

static int64_t frames_until(int64_t ps, uint32_t rate)
{
    int64_t seconds = ps / HYOID_PS_PER_S;
    int64_t rest = ps % HYOID_PS_PER_S; /* below 1e12, times a rate below 2e5: fits */
    return seconds * rate + (rest * rate + HYOID_PS_PER_S - 1) / HYOID_PS_PER_S;
}

static hyoid_status set_pin(hyoid_stream *stream, const hy_event *event)
{
    unsigned pin = (unsigned)event->number / 2, high = (unsigned)event->number % 2;
    if (pin == HY_STROBE) {
        return hyoid_stream_set_strobe(stream, event->ps, high);
    }
    if (pin >= HY_I0) {
        unsigned bit = 1u << (pin - HY_I0);
        unsigned now = stream->chip.inflection;
        return hyoid_stream_set_inflection(stream, event->ps, high ? now | bit : now & ~bit);
    }
    unsigned bit = 1u << pin;
    unsigned now = stream->chip.code;
    return hyoid_stream_set_code(stream, event->ps, high ? now | bit : now & ~bit);
}

static hyoid_status apply(hyoid_stream *stream, const hy_event *event)
{
    switch ((hy_signal)event->signal) {
    case HY_PHONEME:
        return hyoid_stream_write(stream, event->ps, (unsigned)event->number);
    case HY_INFLECTION:
        return hyoid_stream_set_inflection(stream, event->ps, (unsigned)event->number);
    case HY_CLOCK: {
        hyoid_status status = hyoid_stream_set_clock(stream, event->ps, event->hz);
        if (status == HYOID_OK && event->to_ps > event->ps) {
            status = hyoid_stream_glide_clock(stream, event->ps, event->to_ps, event->to_hz);
        }
        return status;
    }
    case HY_PIN:
        return set_pin(stream, event);
    case HY_MARK:
    case HY_END:
        break;
    }
    return HYOID_OK;
}

/* How a log is bent on its way into the chip. */
typedef struct bend {
    double scale;
    int64_t offset;
    int64_t end_ps; /* what is bent to behind it is left out */
} bend;

static int play(hyoid_stream *stream, hy_log *log, bend bent, void (*input)(void *, const hy_event *), void *user,
                hy_diag *diag)
{
    if (hy_log_rewind(log, diag) != 0) {
        return -1;
    }
    hy_event event;
    int more;
    while ((more = hy_log_next(log, &event, diag)) == 1) {
        event.ps += bent.offset;
        if (event.ps > bent.end_ps) {
            return 0;
        }
        event.to_ps += event.to_ps > 0 ? bent.offset : 0;
        event.hz *= bent.scale;
        event.to_hz *= bent.scale;
        hyoid_status status = hyoid_stream_run(stream, event.ps);
        if (status == HYOID_OK) {
            status = apply(stream, &event);
        }
        if (status != HYOID_OK) {
            return hy_fail(diag, "the log does not fit the chip: %s", hyoid_status_text(status));
        }
        if (input != NULL) {
            input(user, &event);
        }
        if (diag->text[0] != '\0') { /* a listener failed: its disk may be full */
            return -1;
        }
    }
    return more;
}

int hy_perform(const hy_performance *p, hy_diag *diag)
{
    gate g = {p, p->rate != 0 ? frames_until(p->end_ps, p->rate) : 0};
    const hyoid_observer *o = &p->observer;
    const hyoid_observer between = {&g, o->frames != NULL ? frames : NULL, o->level != NULL ? level : NULL,
                                    o->latch != NULL ? latch : NULL, o->request != NULL ? request : NULL};
    hyoid_stream stream;
    hyoid_status status = hyoid_stream_init(&stream, p->part, p->rate, &between);
    if (status != HYOID_OK) {
        return hy_fail(diag, "cannot start the chip: %s", hyoid_status_text(status));
    }
    hyoid_stream_keep_images(&stream, !p->no_images);
    if (p->prepare != NULL) {
        p->prepare(o->user, &stream);
    }
    const bend bent = {p->clock_scale > 0.0 ? p->clock_scale : 1.0, p->offset_ps, p->end_ps};
    if (play(&stream, p->log, bent, p->input, o->user, diag) != 0) {
        return -1;
    }
    /* the last samples wait for steps that could still reach them */
    int64_t beyond = p->rate != 0 ? (HYOID_TAPS + 1) * (HYOID_PS_PER_S / p->rate) : 0;
    status = hyoid_stream_run(&stream, p->end_ps + beyond);
    return status == HYOID_OK ? 0 : hy_fail(diag, "cannot run to the end: %s", hyoid_status_text(status));
}

int64_t hy_perform_end(hy_log *log, const hyoid_part *part, hy_diag *diag)
{
    hyoid_stream stream;
    hyoid_status status = hyoid_stream_init(&stream, part, 0, NULL);
    if (status != HYOID_OK) {
        return hy_fail(diag, "cannot start the chip: %s", hyoid_status_text(status));
    }
    if (play(&stream, log, (bend){1.0, 0, INT64_MAX}, NULL, NULL, diag) != 0) {
        return -1;
    }
    int64_t reached = -1;
    /* a glide that outlives the log still moves the clock; when it stands, nothing more comes */
    int64_t limit = stream.clock.to != INT64_MAX && stream.clock.to > stream.now ? stream.clock.to : stream.now;
    hyoid_stream_run_to_request(&stream, limit, &reached);
    if (reached < 0 && hyoid_stream_clock_hz(&stream) > 0.0) {
        double cycles = (double)(hyoid_chip_request_cycle(&stream.chip) - stream.chip.cycle) + 2.0;
        double ps = cycles * 1e12 / hyoid_stream_clock_hz(&stream);
        if (ps < (double)(HYOID_TIME_MAX - stream.now) * 0.5) {
            hyoid_stream_run_to_request(&stream, stream.now + (int64_t)ps + 1, &reached);
        }
    }
    return reached > hy_log_end(log) ? reached : hy_log_end(log);
}
