/* Which clock a capture is measured by: what is known, stated, counted or fitted, in this order. */
#include <math.h>
#include <stdlib.h>

#include "measure_private.h"

/* A pin that is sampled too slowly shows a wrong frequency: below a quarter of the sample rate it may still be a fold of a
 * higher one, which the request intervals give away. */
static int pin_is_sound(hy_timing_work *w, const hy_timebase *fitted)
{
    const hy_bus_clock *c = &w->bus.clock;
    hy_timing *t = w->timing;
    if (c->count < 3 || c->last <= c->first) {
        hy_timing_say(t, "note: %s: the clock's pin does not toggle; the clock is taken from the request intervals\n",
                      w->name);
        return 0;
    }
    double hz = (double)(c->count - 1) * 1e12 / (double)(c->last - c->first);
    double rate = 1e12 / t->resolution_ps;
    if (t->sample_ps > 0.0 && hz > rate / 4.0) {
        hy_timing_say(
            t,
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
            hy_timing_say(
                t,
                "note: %s: the clock's pin shows %.6g kHz, which is %.6g kHz folded at %.6g kHz sampling; the clock "
                "is taken "
                "from the request intervals\n",
                w->name, hz * 1e-3, fitted->hz * 1e-3, rate * 1e-3);
            return 0;
        }
    }
    return 1;
}

static void count_clock(hy_timing_work *w)
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

int hy_timing_find_clock(hy_timing_work *w, const hyoid_part *part)
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

void hy_timing_clock_row(hy_timing_work *w)
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
    hy_row_add(row, moves ? b->least : b->hz, windowed, -1); /* at no instant of its own */
    hy_row_add(row, moves ? b->most : b->hz, windowed, -1);
    row->mean = b->hz;
    row->n = b->n > 0 ? b->n : 1;
}
