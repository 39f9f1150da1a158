#include "measure.h"

#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "judge.h"

typedef struct work {
    hy_timing *timing;
    const char *name;
    const hy_timing_options *options;
    hy_diag *diag;
    hy_waves *waves;
    hy_capture_map map;
    hy_capture_note mapped;
    hy_stated_clock stated;
    hy_bus bus;
    hy_shakes shakes;
    hy_timebase base;
} work;

static void say(hy_timing *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void say(hy_timing *t, const char *format, ...)
{
    size_t used = strlen(t->note);
    va_list args;
    va_start(args, format);
    vsnprintf(t->note + used, sizeof t->note - used, format, args);
    va_end(args);
}

/* ---- reading ---- */

static int open_capture(work *w, FILE *in)
{
    char *text = NULL;
    double rate = 0.0;
    if (hy_capture_map_text(w->options->map, &text, &rate, w->diag) != 0) {
        return -1;
    }
    rate = w->options->sample_hz > 0.0 ? w->options->sample_hz : rate;
    w->waves = hy_waves_open(in, w->name, rate, w->diag);
    int result = w->waves != NULL ? hy_capture_map_find(&w->map, text, 1, w->waves, w->name, w->diag) : -1;
    free(text);
    if (result == 0 && !w->map.wire[HY_WIRE_REQUEST].mapped) {
        return hy_fail(w->diag, "%s: no signal is called request; --map request=NAME says which one it is", w->name);
    }
    return result;
}

/* How long after the instant an edge may be shown, before its grid is known. */
static double known_period(const work *w)
{
    return hy_waves_period(w->waves);
}

static int read_capture(work *w)
{
    double period = known_period(w);
    int64_t step = hy_waves_step(w->waves);
    int64_t skew = (int64_t)(period > 0.0 ? ceil(period) : (double)step);
    w->timing->skew_ps = w->options->skew_ps >= 0 ? w->options->skew_ps : period > 0.0 ? skew : 0;
    if (hy_shakes_start(&w->shakes, w->timing->skew_ps > step ? w->timing->skew_ps : step, w->diag) != 0) {
        return -1;
    }
    w->bus = (hy_bus){.waves = w->waves,
                      .map = &w->map,
                      .diag = w->diag,
                      .glitch = w->options->glitch_ps,
                      .step = hy_shakes_step,
                      .user = &w->shakes,
                      .progress = w->options->progress};
    if (w->map.wire[HY_WIRE_HZ].mapped) {
        w->base.story = hy_log_new(w->diag);
        w->stated = (hy_stated_clock){.log = w->base.story, .diag = w->diag, .step = step};
        w->bus.stated = &w->stated;
    }
    if (w->diag->text[0] != '\0' || hy_bus_run(&w->bus) != 0) {
        return -1;
    }
    hy_bus_clock *clock = &w->bus.clock;
    double clocks = clock->count > 1 ? (double)clock->count : 0.0;
    return hy_shakes_end(&w->shakes, w->bus.end, clocks);
}

/* ---- to how much a time is known ---- */

static void settle_resolution(work *w)
{
    hy_timing *t = w->timing;
    double step = (double)hy_waves_step(w->waves);
    t->sample_ps = known_period(w);
    if (t->sample_ps <= 0.0 && !w->map.wire[HY_WIRE_HZ].mapped) {
        t->sample_ps = hy_grid_period(&w->bus.grid);
        t->sample_guessed = t->sample_ps > 0.0;
        t->skew_ps = t->sample_guessed && w->options->skew_ps < 0 ? (int64_t)ceil(t->sample_ps) : t->skew_ps;
    }
    t->resolution_ps = t->sample_ps > step ? t->sample_ps : step;
    w->base.same = t->resolution_ps;
    w->base.cross = t->resolution_ps + (double)t->skew_ps;
}

/* ---- the clock ---- */

/* A pin that is sampled too slowly shows a wrong frequency: below a quarter of the sample rate it may still be a fold of a
 * higher one, which the request intervals give away. */
static int pin_is_sound(work *w, const hy_timebase *fitted)
{
    const hy_bus_clock *c = &w->bus.clock;
    hy_timing *t = w->timing;
    if (c->count < 3 || c->last <= c->first) {
        say(t, "note: %s: the clock's pin does not toggle; the clock is taken from the request intervals\n", w->name);
        return 0;
    }
    double hz = (double)(c->count - 1) * 1e12 / (double)(c->last - c->first);
    double rate = 1e12 / t->resolution_ps;
    if (t->sample_ps > 0.0 && hz > rate / 4.0) {
        say(t,
            "note: %s: the clock's pin shows %.6g kHz at %.6g kHz sampling: too few samples a period to count it (4 "
            "or "
            "more would be right); the clock is taken from the request intervals\n",
            w->name, hz * 1e-3, rate * 1e-3);
        return 0;
    }
    if (fitted->by != HY_CLOCK_UNKNOWN && t->sample_ps > 0.0 && fitted->hz > rate / 4.0 &&
        fabs(fitted->hz / hz - 1.0) > 0.02) {
        double fold = fabs(fitted->hz - rate * floor(fitted->hz / rate + 0.5));
        if (fabs(fold / hz - 1.0) < 0.05) {
            say(t,
                "note: %s: the clock's pin shows %.6g kHz, which is %.6g kHz folded at %.6g kHz sampling; the clock "
                "is taken "
                "from the request intervals\n",
                w->name, hz * 1e-3, fitted->hz * 1e-3, rate * 1e-3);
            return 0;
        }
    }
    return 1;
}

static void count_clock(work *w)
{
    const hy_bus_clock *c = &w->bus.clock;
    hy_timebase *b = &w->base;
    free(b->pieces);
    *b = (hy_timebase){.by = HY_CLOCK_COUNTED, .same = b->same, .cross = b->cross, .n = c->count};
    double span = (double)(c->last - c->first);
    b->hz = (double)(c->count - 1) * 1e12 / span;
    b->least = c->count > 64 ? c->least : b->hz;
    b->most = c->count > 64 ? c->most : b->hz;
    b->doubt = b->same / span;
    w->timing->jitter_ps = hy_bus_jitter(c);
}

static int find_clock(work *w, const hyoid_part *part)
{
    hy_timebase *b = &w->base;
    const hy_timing_options *o = w->options;
    if (o->clock_hz > 0.0) {
        b->by = HY_CLOCK_GIVEN;
        b->hz = o->clock_hz;
        b->doubt = o->clock_ppm * 1e-6;
        b->least = b->hz * (1.0 - b->doubt);
        b->most = b->hz * (1.0 + b->doubt);
        return 0;
    }
    if (w->map.wire[HY_WIRE_HZ].mapped) {
        return hy_stated_clock_end(&w->stated) != 0 ? -1 : hy_timebase_story(b, w->bus.end, w->diag);
    }
    if (hy_timebase_fit(b, &w->shakes, part, w->diag) != 0) {
        return -1;
    }
    if (w->map.wire[HY_WIRE_CLOCK].mapped && pin_is_sound(w, b)) {
        count_clock(w);
    }
    return 0;
}

static void add_clock_row(work *w)
{
    const hy_timebase *b = &w->base;
    hy_row *row = &w->timing->rows[HY_ROW_CLOCK];
    if (b->by == HY_CLOCK_UNKNOWN) {
        return;
    }
    int moves = b->by == HY_CLOCK_STATED || b->by == HY_CLOCK_COUNTED || b->by == HY_CLOCK_FOLLOWED;
    double doubt = b->hz * b->doubt;
    double windowed = b->by == HY_CLOCK_COUNTED ? b->hz * b->hz * b->same * 1e-12 / 64.0 : doubt;
    w->timing->clock_moved = moves && b->most - b->least > 2.0 * windowed;
    hy_row_add(row, moves ? b->least : b->hz, windowed, 0);
    hy_row_add(row, moves ? b->most : b->hz, windowed, 0);
    row->mean = b->hz;
    row->n = b->n > 0 ? b->n : 1;
}

/* ---- notes ---- */

static void say_all(work *w)
{
    hy_timing *t = w->timing;
    const hy_timebase *b = &w->base;
    if (t->sample_guessed) {
        say(t,
            "note: %s: all edges lie on a grid of %.6g MHz, which is taken for the sample rate (--sample-rate says "
            "otherwise)\n",
            w->name, 1e6 / t->sample_ps);
    }
    if (b->by == HY_CLOCK_FITTED || b->by == HY_CLOCK_FOLLOWED) {
        say(t,
            "note: %s: the clock comes from the request intervals: a part whose times are all wrong by the same "
            "share can't be "
            "told from another clock; capture the clock's pin or give --clock\n",
            w->name);
    }
    if (b->by == HY_CLOCK_UNKNOWN && t->strobes > 0) {
        say(t,
            "note: %s: the clock can't be told from so few or so uneven phonemes; capture its pin or give --clock\n",
            w->name);
    }
    if (t->strobes == 0) {
        say(t, "note: %s: strobe never rises\n", w->name);
    }
    if (w->shakes.doubts > 0 || t->doubts > 0) {
        say(t, "note: %s: at %" PRIu64 " of %" PRIu64 " strobes the code can't be told; they are left out\n", w->name,
            t->doubts, t->strobes);
    }
}

/* ---- all of it ---- */

static int count_doubts(work *w)
{
    hy_shake s;
    int more;
    if (hy_shakes_rewind(&w->shakes) != 0) {
        return -1;
    }
    while ((more = hy_shakes_next(&w->shakes, &s)) == 1) {
        w->timing->doubts += (s.flags & HY_SHAKE_DOUBT) != 0;
    }
    return more;
}

static void conclude(work *w)
{
    hy_timing *t = w->timing;
    hy_row_count(&t->rows[HY_ROW_GLITCHES], w->options->glitch_ps > 0 ? t->strobes : 0, w->bus.glitches, 0, -1);
    for (int i = 0; i < HY_ROWS; i++) {
        hy_row *row = &t->rows[i];
        hy_row_judge(row);
        t->passed += row->judged && row->verdict == HY_PASS;
        t->inconclusive += row->judged && row->verdict == HY_INCONCLUSIVE;
        t->failed += row->judged && row->verdict == HY_FAIL;
        t->failed_host += row->judged && row->verdict == HY_FAIL && row->side == HY_SIDE_HOST;
    }
    const hy_timebase *b = &w->base;
    t->clock_by = b->by;
    t->clock_hz = b->hz;
    t->clock_least = b->least;
    t->clock_most = b->most;
    t->clock_doubt = b->doubt;
    t->clock_n = b->n;
}

static int measure(work *w, FILE *in, const hy_partfile *file)
{
    hy_timing *t = w->timing;
    const hyoid_part *part = hy_partfile_part(file);
    hy_rows_start(t->rows, file);
    if ((w->options->limits != NULL && hy_rows_limits(t->rows, w->options->limits, w->diag) != 0) ||
        open_capture(w, in) != 0 || read_capture(w) != 0) {
        return -1;
    }
    t->form = hy_waves_is(w->waves);
    t->origin_ps = hy_waves_origin(w->waves);
    t->duration_ps = w->bus.end;
    t->edges = w->bus.edges;
    t->strobes = w->shakes.count;
    settle_resolution(w);
    hy_capture_map_tell(&w->map, w->waves, w->name, ", no clock", &w->mapped);
    say(t, "%s", w->mapped.text);
    if (find_clock(w, part) != 0 || count_doubts(w) != 0 || hy_judge(t, &w->shakes, &w->base, part, w->diag) != 0) {
        return -1;
    }
    add_clock_row(w);
    conclude(w);
    say_all(w);
    return 0;
}

int hy_timing_measure(hy_timing *timing, FILE *in, const char *name, const hy_partfile *part,
                      const hy_timing_options *options, hy_diag *diag)
{
    work *w = calloc(1, sizeof *w);
    *timing = (hy_timing){.resolution_ps = 0.0};
    if (w == NULL) {
        return hy_fail(diag, "not enough memory to read %s", name);
    }
    w->timing = timing;
    w->name = name;
    w->options = options;
    w->diag = diag;
    int result = measure(w, in, part);
    hy_waves_close(w->waves);
    hy_shakes_free(&w->shakes);
    hy_timebase_free(&w->base);
    free(w);
    return result;
}

hy_verdict hy_timing_verdict(const hy_timing *t)
{
    return t->failed > 0 ? HY_FAIL : t->inconclusive > 0 || t->passed == 0 ? HY_INCONCLUSIVE : HY_PASS;
}

const char *hy_timing_form(const hy_timing *t)
{
    return t->form == HY_WAVES_SESSION ? "session of a logic analyser (.sr)"
           : t->form == HY_WAVES_TABLE ? "table of a logic analyser (.csv)"
                                       : "value change dump (.vcd)";
}
