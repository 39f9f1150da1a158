#include "bus.h"

#include <math.h>
#include <stdlib.h>

enum { CLOCK_BIT = 1 << HY_WIRE_CLOCK, QUEUE = 4096, SPAN = 64 };

struct hy_bus_queue {
    hy_bus_step step[QUEUE];
};

/* ---- the clock's pin ---- */

static void count_edge(hy_bus_clock *c, int64_t ps)
{
    if (c->count > 0) {
        double period = (double)(ps - c->last);
        c->periods++;
        c->shortest = c->periods == 1 || period < c->shortest ? period : c->shortest;
        c->longest = period > c->longest ? period : c->longest;
        double off = period - c->mean;
        c->mean += off / (double)c->periods;
        c->spread += off * (period - c->mean);
    } else {
        c->first = ps;
    }
    int64_t *oldest = &c->recent[c->count % SPAN];
    if (c->count >= SPAN && c->count % SPAN == 0) {
        double hz = SPAN * 1e12 / (double)(ps - *oldest);
        c->least = c->count == SPAN || hz < c->least ? hz : c->least;
        c->most = hz > c->most ? hz : c->most;
    }
    *oldest = ps;
    c->last = ps;
    c->count++;
}

/* Clocks at ps: edges so far and the share of the period under way. */
static double clocks_at(const hy_bus_clock *c, int64_t ps)
{
    if (c->count < 2) {
        return (double)c->count;
    }
    uint64_t span = c->count < SPAN ? c->count - 1 : SPAN - 1;
    int64_t from = c->recent[(c->count - 1 - span) % SPAN];
    double share = (double)(ps - c->last) * (double)span / (double)(c->last - from);
    return (double)c->count + (share < 1.0 ? share : 1.0);
}

double hy_bus_jitter(const hy_bus_clock *c)
{
    return c->periods > 1 ? sqrt(c->spread / (double)(c->periods - 1)) : 0.0;
}

/* ---- glitches ---- */

static int tell(hy_bus *b, const hy_bus_step *step)
{
    if (b->told_any && step->levels == b->told.levels && step->unknown == b->told.unknown) {
        return 0;
    }
    b->told = *step;
    b->told_any = 1;
    return b->step(b->user, step);
}

static hy_bus_step *waiting(hy_bus *b, unsigned i)
{
    return &b->queue->step[(b->first + i) % QUEUE];
}

/* Takes the pulse of a pin out of the steps that wait, if it ends now and was short. */
static void pass_over(hy_bus *b, unsigned bit)
{
    unsigned from = b->queued;
    while (from > 0 && ((waiting(b, from - 1)->levels ^ b->now.levels) & bit) != 0) {
        from--;
    }
    if (from == 0 || from == b->queued || b->now.ps - waiting(b, from)->ps >= b->glitch) {
        return; /* no change of it is that young */
    }
    for (unsigned i = from; i < b->queued; i++) {
        waiting(b, i)->levels ^= bit;
    }
    b->glitches++;
}

/* Lets go of what is older; the youngest stays: later pulses are seen against it. */
static int release(hy_bus *b, int64_t up_to)
{
    while (b->queued > 1 && (waiting(b, 1)->ps <= up_to || b->queued == QUEUE)) {
        const hy_bus_step step = *waiting(b, 0);
        b->first = (b->first + 1) % QUEUE;
        b->queued--;
        if (tell(b, &step) != 0) {
            return -1;
        }
    }
    return 0;
}

static int wait_for_glitches(hy_bus *b)
{
    for (unsigned bit = 1; bit < CLOCK_BIT; bit <<= 1) {
        if (b->queued > 0 && ((waiting(b, b->queued - 1)->levels ^ b->now.levels) & bit) != 0) {
            pass_over(b, bit);
        }
    }
    *waiting(b, b->queued++) = b->now;
    return release(b, b->now.ps - b->glitch);
}

/* ---- time stamps ---- */

/* The clocks of the time stamp in front, while the last edge counted is the last one ahead of it: from a later one they would
 * have to be reckoned backwards, over as long as nothing but the clock moves. */
static void settle_clocks(hy_bus *b)
{
    if (!b->settled && b->map->wire[HY_WIRE_CLOCK].mapped) {
        b->now.clocks = clocks_at(&b->clock, b->now.ps);
    }
    b->settled = 1;
}

/* The time stamp in front is complete. */
static int end_stamp(hy_bus *b)
{
    if (!b->started) {
        return 0;
    }
    settle_clocks(b);
    return b->queue != NULL ? wait_for_glitches(b) : tell(b, &b->now);
}

static int take_pin(hy_bus *b, int wire, char digit, int64_t ps)
{
    unsigned bit = 1u << wire;
    unsigned before = b->now.levels;
    b->now.unknown = digit > '1' ? b->now.unknown | bit : b->now.unknown & ~bit;
    if (digit <= '1') {
        b->now.levels = digit == '1' ? b->now.levels | bit : b->now.levels & ~bit;
    }
    if (wire == HY_WIRE_CLOCK) {
        if ((~before & b->now.levels & bit) != 0 && ps > 0) {
            count_edge(&b->clock, ps);
        }
        /* the clock's own levels are no step of the bus */
        return 0;
    }
    if (before != b->now.levels && ps > 0) {
        hy_grid_add(&b->grid, ps, hy_waves_step(b->waves));
    }
    return 0;
}

static int take_hz(hy_bus *b, const hy_vcd_change *change, int64_t ps)
{
    if (isnan(change->real)) {
        return 0;
    }
    if (!(change->real >= 0.0 && change->real <= HYOID_CLOCK_MAX)) {
        return hy_waves_refuse(b->waves, "a frequency in Hz, 0 to 100000000");
    }
    return hy_stated_clock_add(b->stated, ps, change->real);
}

static int see(void *user, const hy_vcd_change *change)
{
    hy_bus *b = user;
    const hy_wire *wire = b->map->wire;
    int64_t ps = change->ps < 0 ? 0 : change->ps - hy_waves_first(b->waves);
    if (b->edges++ % 65536 == 0 && b->progress != NULL) {
        uint64_t done;
        uint64_t whole;
        hy_waves_progress(b->waves, &done, &whole);
        hy_progress_at(b->progress, done, whole);
    }
    if (wire[HY_WIRE_HZ].mapped && wire[HY_WIRE_HZ].signal == change->signal) {
        return take_hz(b, change, ps);
    }
    if (wire[HY_WIRE_CLOCK].mapped && wire[HY_WIRE_CLOCK].signal == change->signal) {
        if (ps != b->now.ps && b->clock.count >= 2) { /* before that there is no period to reckon with */
            settle_clocks(b);
        }
        return take_pin(b, HY_WIRE_CLOCK, hy_wire_level(&wire[HY_WIRE_CLOCK], change), ps);
    }
    if (ps != b->now.ps) {
        if (end_stamp(b) != 0) {
            return -1;
        }
        b->now.ps = ps;
        b->settled = 0;
    }
    b->started = 1;
    for (int i = 0; i < HY_WIRE_CLOCK; i++) {
        if (wire[i].mapped && wire[i].signal == change->signal) {
            take_pin(b, i, hy_wire_level(&wire[i], change), ps);
        }
    }
    return 0;
}

int hy_bus_run(hy_bus *b)
{
    for (int i = 0; i < HY_WIRES; i++) {
        if (b->map->wire[i].mapped) {
            hy_waves_select(b->waves, b->map->wire[i].var);
            b->now.unknown |= i < HY_WIRE_CLOCK ? 1u << i : 0;
        }
    }
    if (b->glitch > 0 && (b->queue = malloc(sizeof *b->queue)) == NULL) {
        return hy_fail(b->diag, "not enough memory to read the capture");
    }
    const hy_vcd_listener listener = {.user = b, .change = see};
    int result = hy_waves_run(b->waves, &listener, b->diag);
    if (result == 0) {
        result = end_stamp(b);
    }
    for (unsigned i = 0; result == 0 && i < b->queued; i++) {
        result = tell(b, waiting(b, i));
    }
    free(b->queue);
    b->queue = NULL;
    b->end = hy_waves_last(b->waves) - hy_waves_first(b->waves);
    return result;
}
