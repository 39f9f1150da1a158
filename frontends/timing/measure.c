#include "measure.h"

#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "judge.h"
#include "measure_private.h"

void hy_timing_say(hy_timing *t, const char *format, ...)
{
    size_t used = strlen(t->note);
    va_list args;
    va_start(args, format);
    vsnprintf(t->note + used, sizeof t->note - used, format, args);
    va_end(args);
}

/* ---- reading ---- */

static int open_capture(hy_timing_work *w, FILE *in, double guessed_hz)
{
    char *text = NULL;
    double rate = 0.0;
    if (hy_capture_map_text(w->options->map, &text, &rate, w->diag) != 0) {
        return -1;
    }
    rate = w->options->sample_hz > 0.0 ? w->options->sample_hz : guessed_hz > 0.0 ? guessed_hz : rate;
    w->waves = hy_waves_open(in, w->name, rate, w->diag);
    int result = w->waves != NULL ? hy_capture_map_find(&w->map, text, 1, w->waves, w->name, w->diag) : -1;
    free(text);
    if (result == 0 && !w->map.wire[HY_WIRE_REQUEST].mapped) {
        return hy_fail(w->diag, "%s: no signal is called request; --map request=NAME says which one it is", w->name);
    }
    return result;
}

static int read_capture(hy_timing_work *w)
{
    double period = hy_waves_period(w->waves);
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

static void settle_resolution(hy_timing_work *w)
{
    hy_timing *t = w->timing;
    double step = (double)hy_waves_step(w->waves);
    t->sample_ps = hy_waves_period(w->waves);
    t->resolution_ps = t->sample_ps > step ? t->sample_ps : step;
    w->base.same = t->resolution_ps;
    w->base.cross = t->resolution_ps + (double)t->skew_ps;
}

/* Whether all edges lie on a grid that nobody has told of: then the sample rate, else 0. */
static double untold_rate(const hy_timing_work *w)
{
    int told = hy_waves_period(w->waves) > 0.0 || w->map.wire[HY_WIRE_HZ].mapped;
    double period = told ? 0.0 : hy_grid_period(&w->bus.grid);
    return period > 0.0 ? 1e12 / period : 0.0;
}

static void drop_capture(hy_timing_work *w)
{
    hy_waves_close(w->waves);
    hy_shakes_free(&w->shakes);
    hy_log_free(w->base.story);
    w->waves = NULL;
    w->base.story = NULL;
}

/* ---- notes ---- */

/* What an open row lacks is mostly the instrument's speed: uncertainty shrinks as its samples do. */
static void say_rate(hy_timing_work *w)
{
    hy_timing *t = w->timing;
    double share = 1.0; /* of the period that there is */
    unsigned open = 0;
    for (int i = 0; i < HY_ROWS; i++) {
        const hy_row *row = &t->rows[i];
        const double enough = (row->max - row->min) / 4.0; /* NaN: open on a side */
        if (row->judged && row->verdict == HY_INCONCLUSIVE && !row->counts && row->uncertainty > enough) {
            share = fmin(share, enough / row->uncertainty);
            open++;
        }
    }
    const int by_sampling = t->sample_ps > 0.0 && w->base.by != HY_CLOCK_FOLLOWED && w->base.by != HY_CLOCK_UNKNOWN;
    if (open > 0 && by_sampling) {
        hy_timing_say(t, "note: %s: %u row%s can't be told at %.6g MHz; samples at %.6g MHz or more would do\n",
                      w->name, open, open == 1 ? "" : "s", 1e6 / t->sample_ps,
                      hy_grid_rate_for(1e12 / (t->sample_ps * share)) * 1e-6);
    }
}

static void say_all(hy_timing_work *w)
{
    hy_timing *t = w->timing;
    const hy_timebase *b = &w->base;
    if (t->sample_guessed) {
        hy_timing_say(
            t,
            "note: %s: all edges lie on a grid of %.6g MHz, which is taken for the sample rate (--sample-rate says "
            "otherwise)\n",
            w->name, 1e6 / t->sample_ps);
    }
    if (t->form == HY_WAVES_TABLE && t->sample_ps <= 0.0) {
        hy_timing_say(
            t,
            "note: %s: the table doesn't tell its sample rate; its times are taken as they stand (--sample-rate "
            "tells it)\n",
            w->name);
    }
    if (b->by == HY_CLOCK_FITTED || b->by == HY_CLOCK_FOLLOWED) {
        hy_timing_say(
            t,
            "note: %s: the clock comes from the request intervals: a part whose times are all wrong by the same "
            "share can't be "
            "told from another clock; capture the clock's pin or give --clock\n",
            w->name);
    }
    if (b->by == HY_CLOCK_UNKNOWN && t->strobes > 0) {
        hy_timing_say(
            t,
            "note: %s: the clock can't be told from so few or so uneven phonemes; capture its pin or give --clock\n",
            w->name);
    }
    say_rate(w);
    if (t->strobes == 0) {
        hy_timing_say(t, "note: %s: strobe never rises\n", w->name);
    }
    if (w->shakes.doubts > 0 || t->doubts > 0) {
        hy_timing_say(t,
                      "note: %s: at %" PRIu64 " of %" PRIu64 " strobes the code can't be told; they are left out\n",
                      w->name, t->doubts, t->strobes);
    }
}

/* ---- all of it ---- */

static int count_doubts(hy_timing_work *w)
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

static void conclude(hy_timing_work *w)
{
    hy_timing *t = w->timing;
    const hy_timebase *b = &w->base;
    t->clock_by = b->by;
    hy_row_count(&t->rows[HY_ROW_GLITCHES], w->options->glitch_ps > 0 ? t->strobes : 0, w->bus.glitches, 0, -1);
    for (int i = 0; i < HY_ROWS; i++) {
        hy_row *row = &t->rows[i];
        hy_row_judge(row);
        t->passed += row->judged && row->verdict == HY_PASS;
        t->inconclusive += row->judged && row->verdict == HY_INCONCLUSIVE;
        t->failed += row->judged && row->verdict == HY_FAIL;
        t->failed_host += row->judged && row->verdict == HY_FAIL && hy_timing_doing(t, row) == HY_SIDE_HOST;
    }
    t->clock_hz = b->hz;
    t->clock_least = b->least;
    t->clock_most = b->most;
    t->clock_doubt = b->doubt;
    t->clock_n = b->n;
}

static int measure(hy_timing_work *w, FILE *in, const hy_partfile *file)
{
    hy_timing *t = w->timing;
    const hyoid_part *part = hy_partfile_part(file);
    hy_rows_start(t->rows, file);
    if ((w->options->limits != NULL && hy_rows_limits(t->rows, w->options->limits, w->diag) != 0) ||
        open_capture(w, in, 0.0) != 0 || read_capture(w) != 0) {
        return -1;
    }
    double rate = untold_rate(w);
    if (rate > 0.0) { /* once more, with the skew that such an instrument may have */
        drop_capture(w);
        t->sample_guessed = 1;
        if (open_capture(w, in, rate) != 0 || read_capture(w) != 0) {
            return -1;
        }
    }
    t->form = hy_waves_is(w->waves);
    t->nominal_hz = part->nominal_hz;
    t->origin_ps = hy_waves_origin(w->waves);
    t->duration_ps = w->bus.end;
    t->edges = w->bus.edges;
    t->strobes = w->shakes.count;
    settle_resolution(w);
    hy_capture_map_tell(&w->map, w->waves, w->name, ", no clock", &w->mapped);
    hy_timing_say(t, "%s", w->mapped.text);
    if (hy_timing_find_clock(w, part) != 0 || count_doubts(w) != 0 ||
        hy_judge(t, &w->shakes, &w->base, part, w->diag) != 0) {
        return -1;
    }
    hy_timing_clock_row(w);
    conclude(w);
    say_all(w);
    return 0;
}

int hy_timing_measure(hy_timing *timing, FILE *in, const char *name, const hy_partfile *part,
                      const hy_timing_options *options, hy_diag *diag)
{
    hy_timing_work *w = calloc(1, sizeof *w);
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
    const int open = t->inconclusive > 0 || t->passed == 0 || t->strobes == 0; /* what is never asked never fails */
    return t->failed > 0 ? HY_FAIL : open ? HY_INCONCLUSIVE : HY_PASS;
}

hy_row_side hy_timing_doing(const hy_timing *t, const hy_row *row)
{
    const int reckoned = t->clock_by == HY_CLOCK_FITTED || t->clock_by == HY_CLOCK_FOLLOWED;
    if (row == &t->rows[HY_ROW_CLOCK]) {
        return reckoned ? HY_SIDE_INFO : HY_SIDE_HOST;
    }
    return row->side == HY_SIDE_PART ? HY_SIDE_PART : HY_SIDE_HOST;
}

const char *hy_timing_form(const hy_timing *t)
{
    return t->form == HY_WAVES_SESSION ? "session of a logic analyser (.sr)"
           : t->form == HY_WAVES_TABLE ? "table of a logic analyser (.csv)"
                                       : "value change dump (.vcd)";
}
