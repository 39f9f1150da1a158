#include "host.h"

#include "host_glide.h"

#define DAY_PS (INT64_C(86400) * HYOID_PS_PER_S)
#define GLIDE_PIECES_MAX 10000000

typedef struct place {
    unsigned line, column;
} place;

typedef struct host {
    hyoid_stream stream; /* the chip that answers; nobody listens to it */
    hy_log *log;
    const char *name;
    hy_diag *diag;
    int64_t now; /* the host's time; the stream may be behind */
    int64_t hold, answer;
    double scale;    /* of every clock */
    int64_t longest; /* where patience ends; 0: never */
    int gone;        /* it has ended */

    /* the last phoneme */
    int waits;    /* nothing has happened since its strobe */
    int unspoken; /* its request is not known to have come */
    int64_t strobe;
    place said;

    int gliding;
    hy_glide glide;
    place glided;
    int pieces;
    int64_t clock_ps; /* of the last clock event in the log */
} host;

static int fail_at(host *h, place at, const char *text)
{
    return hy_fail_at(h->diag, h->name, at.line, at.column, "%s", text);
}

static int too_long(host *h, place at)
{
    return fail_at(h, at, "found that playing takes more than 24 hours up to here; expected a shorter score");
}

/* No call fails for anything that a score can say; a status is passed on all the same. */
static int check(host *h, hyoid_status status)
{
    return status == HYOID_OK ? 0 : hy_fail(h->diag, "%s: the chip model: %s", h->name, hyoid_status_text(status));
}

static int log_clock(host *h, int64_t ps, double hz, int glides)
{
    hy_event event = {.ps = ps, .signal = HY_CLOCK, .hz = hz};
    h->clock_ps = ps;
    return hy_log_append(h->log, &event, glides, h->diag);
}

/* ---- glides ---- */

/* The piece under way has ended, or none is under way yet. */
static int next_piece(host *h)
{
    int64_t start = h->glide.end;
    h->gliding = hy_glide_next(&h->glide);
    if (!h->gliding) {
        return 0;
    }
    if (++h->pieces > GLIDE_PIECES_MAX) {
        return fail_at(h, h->glided, "found more than 10000000 pieces of exponential glides; expected fewer");
    }
    return check(h, hyoid_stream_glide_clock(&h->stream, start, h->glide.end, h->glide.end_hz));
}

/* Writes down what glides have done up to ps. */
static int pass(host *h, int64_t ps)
{
    while (h->gliding && h->glide.end <= ps) {
        if (log_clock(h, h->glide.end, h->glide.end_hz, 1) != 0 || next_piece(h) != 0) {
            return -1;
        }
    }
    return 0;
}

/* Brings the clock's story to the present, where another begins. *hz: the frequency it has come to. */
static int interrupt(host *h, double *hz)
{
    if (pass(h, h->now) != 0 || check(h, hyoid_stream_run(&h->stream, h->now)) != 0) {
        return -1;
    }
    *hz = hyoid_stream_clock_hz(&h->stream);
    int glides = h->gliding && h->clock_ps < h->now;
    h->gliding = 0;
    return glides ? log_clock(h, h->now, *hz, 1) : 0;
}

static int set_clock(host *h, double hz)
{
    double before;
    if (interrupt(h, &before) != 0 || log_clock(h, h->now, hz, 0) != 0) {
        return -1;
    }
    return check(h, hyoid_stream_set_clock(&h->stream, h->now, hz));
}

static int start_glide(host *h, const hy_action *action)
{
    double hz, to_hz = action->hz * h->scale;
    if (interrupt(h, &hz) != 0) {
        return -1;
    }
    h->glided = (place){action->line, action->column};
    if (h->clock_ps < h->now && log_clock(h, h->now, hz, 0) != 0) {
        return -1;
    }
    if (hy_glide_start(&h->glide, h->now, h->now + action->ps, hz, to_hz, action->exponential) != 0) {
        return fail_at(
            h, h->glided,
            hz > 0.0 ? "found an exponential glide over a ratio of more than 2^64; expected less"
                     : "found an exponential glide from a clock of 0; expected a linear one, or a running clock");
    }
    return next_piece(h);
}

/* ---- waiting ---- */

/* Runs until request or limit. *reached: its time, or -1; *stuck: it can't come, the clock stands still for good. */
static int await_request(host *h, int64_t limit, int64_t *reached, int *stuck)
{
    *reached = -1;
    *stuck = 0;
    for (;;) {
        int64_t stop = h->gliding && h->glide.end < limit ? h->glide.end : limit;
        int frozen = !h->gliding && !(hyoid_stream_clock_hz(&h->stream) > 0.0);
        if (frozen) {
            stop = h->stream.now; /* only to learn whether request is high already */
        }
        if (check(h, hyoid_stream_run_to_request(&h->stream, stop, reached)) != 0) {
            return -1;
        }
        *stuck = frozen && *reached < 0;
        if (*reached >= 0 || *stuck || stop == limit) {
            return 0;
        }
        if (pass(h, stop) != 0) {
            return -1;
        }
    }
}

/* Something happens after a phoneme: the host comes to the instant of the next strobe. */
static int settle(host *h)
{
    if (!h->waits) {
        return 0;
    }
    h->waits = 0;
    int64_t limit = h->hold > 0 ? h->strobe + h->hold : DAY_PS;
    int64_t reached;
    int stuck;
    if (await_request(h, h->longest > 0 && h->longest < limit ? h->longest : limit, &reached, &stuck) != 0) {
        return -1;
    }
    if (reached < 0 && h->longest > 0 && (h->longest < limit || (stuck && h->hold == 0))) {
        h->gone = 1;
        return 0;
    }
    if (reached >= 0) {
        h->unspoken = 0;
        /* The chip's clock edges are solved in floating point. When the log is rendered a glide may have been cut otherwise,
         * and an edge fall a picosecond elsewhere: the margin keeps the strobe behind the edge of request. */
        int64_t next = reached + 1 + h->answer;
        h->now = h->hold > 0 && limit < next ? limit : next;
    } else if (h->hold > 0) {
        h->now = limit;
    } else if (stuck) {
        return fail_at(h, h->said,
                       "found a phoneme whose request is waited for while the clock stands still; expected a "
                       "running clock, or a hold");
    } else {
        return too_long(h, h->said);
    }
    return h->now > DAY_PS ? too_long(h, h->said) : 0;
}

/* ---- statements ---- */

/* Writes an input event at the present instant. */
static int note(host *h, hy_signal signal, int number)
{
    hy_event event = {.ps = h->now, .signal = (int32_t)signal, .number = number};
    return pass(h, h->now) != 0 ? -1 : hy_log_append(h->log, &event, 0, h->diag);
}

static int say(host *h, const hy_action *action)
{
    h->waits = h->unspoken = 1;
    h->strobe = h->now;
    h->said = (place){action->line, action->column};
    return note(h, HY_PHONEME, action->number) != 0
               ? -1
               : check(h, hyoid_stream_write(&h->stream, h->now, (unsigned)action->number));
}

static int set_level(host *h, int level)
{
    return note(h, HY_INFLECTION, level) != 0
               ? -1
               : check(h, hyoid_stream_set_inflection(&h->stream, h->now, (unsigned)level));
}

static int rest(host *h, const hy_action *action)
{
    h->now += action->ps;
    return h->now > DAY_PS ? too_long(h, (place){action->line, action->column}) : 0;
}

static int mark(host *h, const hy_action *action)
{
    int index = hy_log_add_mark(h->log, action->name, h->diag);
    return index < 0 ? -1 : note(h, HY_MARK, index);
}

static int act(host *h, const hy_action *action)
{
    if (settle(h) != 0) {
        return -1;
    }
    h->gone = h->gone || (h->longest > 0 && h->now >= h->longest);
    if (h->gone) {
        return 0;
    }
    switch (action->kind) {
    case HY_SAY:
        return say(h, action);
    case HY_SET_CLOCK:
        return set_clock(h, action->hz * h->scale);
    case HY_GLIDE:
        return start_glide(h, action);
    case HY_SET_LEVEL:
        return set_level(h, action->number);
    case HY_SET_HOLD:
        h->hold = action->ps;
        return 0;
    case HY_SET_ANSWER:
        h->answer = action->ps;
        return 0;
    case HY_REST:
        return rest(h, action);
    case HY_SET_MARK:
        return mark(h, action);
    }
    return 0;
}

/* The last phoneme lasts its full time, rests pass, a glide arrives. */
static int finish(host *h)
{
    if (h->gone || (h->longest > 0 && h->now >= h->longest)) {
        h->now = h->longest; /* nothing was done later */
        return note(h, HY_END, 0);
    }
    if (h->unspoken) {
        int64_t reached;
        int stuck;
        int64_t limit = h->longest > 0 ? h->longest : DAY_PS;
        if (await_request(h, limit, &reached, &stuck) != 0) {
            return -1;
        }
        if (reached < 0 && h->longest > 0) {
            reached = h->longest;
        } else if (reached < 0 && !stuck) {
            return too_long(h, h->said);
        }
        h->now = reached > h->now ? reached : h->now;
        h->now = h->clock_ps > h->now ? h->clock_ps : h->now; /* a glide to 0 arrived while request was waited for */
    }
    if (h->gliding && h->glide.to > h->now) {
        h->now = h->glide.to;
        if (h->now > DAY_PS) {
            return too_long(h, h->glided);
        }
    }
    return note(h, HY_END, 0);
}

static int play(host *h, hy_score *score, const hyoid_part *part, const hy_host_options *options)
{
    if (!(options->clock_hz >= 0.0 && options->clock_hz <= HYOID_CLOCK_MAX) || options->level < 0 ||
        options->level > 3) {
        return hy_fail(h->diag, "the clock must start at 0 to 100 MHz and inflection at a level of 0 to 3");
    }
    h->scale = options->clock_scale > 0.0 ? options->clock_scale : 1.0;
    h->longest = options->longest_ps;
    if (check(h, hyoid_stream_init(&h->stream, part, 0, NULL)) != 0) {
        return -1;
    }
    if (options->prepare != NULL) {
        options->prepare(options->user, &h->stream);
    }
    if (set_clock(h, options->clock_hz * h->scale) != 0 || set_level(h, options->level) != 0) {
        return -1;
    }
    hy_action action;
    hy_score_rewind(score);
    while (!h->gone && hy_score_next(score, &action)) {
        if (act(h, &action) != 0) {
            return -1;
        }
    }
    return finish(h);
}

hy_log *hy_host_play(hy_score *score, const hyoid_part *part, const hy_host_options *options, hy_diag *diag)
{
    host h = {.log = hy_log_new(diag), .name = hy_score_name(score), .diag = diag};
    if (h.log != NULL && play(&h, score, part, options) != 0) {
        hy_log_free(h.log);
        return NULL;
    }
    return h.log;
}
