#include "clocklog.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "ticks.h"

enum { WAITING_MAX = 65536 };

static const double error_ticks = HY_TICKS / 64.0; /* where rounding is taken back */

static double rate_hz(const hy_clocklog *c)
{
    return (double)c->mcu_hz * HY_TICKS;
}

/* Where the row is put that makes the clock hz from the edge at `tick` on: a clock that becomes faster, at the whole picosecond
 * before it; one that becomes slower (or stops), behind it and behind where the log has it: the rest of a clock that was cut off would
 * last the longer. *error: by how much the log will then be ahead. */
static int64_t place(const hy_clocklog *c, uint64_t tick, double hz, double *error)
{
    double fraction;
    int64_t ps = hy_ticks_ps(tick, c->mcu_hz, &fraction), behind = 0;
    if (hz < c->hz) {
        behind = 2 + (c->error < 0.0 ? (int64_t)(-c->error * 1e12 / c->hz) : 0);
    }
    *error = c->error + (c->hz - hz) * ((double)behind - fraction) * 1e-12;
    return ps + behind;
}

/* From the edge at `tick` on the log's clock is hz. */
static int row(hy_clocklog *c, uint64_t tick, double hz)
{
    double error;
    const hy_event event = {.ps = place(c, tick, hz, &error), .signal = HY_CLOCK, .hz = hz};
    c->error = error;
    c->hz = hz;
    c->rows++;
    return hy_log_append(c->log, &event, 0, c->diag);
}

static int stop(hy_clocklog *c, uint64_t tick)
{
    return c->hz > 0.0 ? row(c, tick, 0.0) : 0;
}

/* From `tick` on the clock runs so that its next edge falls `ticks` later. */
static int run(hy_clocklog *c, uint64_t tick, uint64_t ticks)
{
    double hz = rate_hz(c) / (double)ticks, error;
    place(c, tick, hz, &error);
    int bent = fabs(error) * (double)ticks > error_ticks;
    if (bent) {
        hz *= 1.0 - error;
        hz = hz < HYOID_CLOCK_MAX ? hz : HYOID_CLOCK_MAX;
    }
    int result = hz != c->hz ? row(c, tick, hz) : 0;
    if (bent) {
        c->error += hz * (double)ticks / rate_hz(c) - 1.0;
    }
    return result;
}

/* Writes the events from item[from] to the one before item[to] whose ticks are below `before`; returns where it stopped, or 0. */
static size_t write_events(hy_clocklog *c, size_t from, size_t to, uint64_t before)
{
    while (from < to && c->item[from].tick < before) {
        hy_event event = c->item[from].event;
        event.ps = hy_ticks_ps(c->item[from].tick, c->mcu_hz, NULL);
        if (hy_log_append(c->log, &event, 0, c->diag) != 0) {
            return 0;
        }
        from++;
    }
    return from;
}

/* Writes item[0] and what stands between it and the second edge, which takes its place. next: ticks from there to the edge after
 * it, as far as is known. */
static int advance(hy_clocklog *c, uint64_t next)
{
    const hy_waiting *a = &c->item[0], *b = &c->item[c->second];
    uint64_t length = b->tick - a->tick;
    int stood = a->kind == HY_STOOD || (length > 2 * next && length > (uint64_t)c->mcu_hz * HY_TICKS / 1000);
    size_t at = 1;
    if (stood) {
        uint64_t lead = next < length ? next : length;
        if (stop(c, a->tick) != 0 || (at = write_events(c, at, c->second, b->tick - lead)) == 0 ||
            run(c, b->tick - lead, lead) != 0) {
            return -1;
        }
    } else if (run(c, a->tick, length) != 0) {
        return -1;
    }
    if (write_events(c, at, c->second, UINT64_MAX) == 0) {
        return -1;
    }
    c->count -= c->second;
    memmove(c->item, c->item + c->second, c->count * sizeof *c->item);
    c->second = 0;
    return 0;
}

static int append(hy_clocklog *c, const hy_waiting *item)
{
    if (c->count == c->capacity) {
        size_t more = c->capacity == 0 ? 64 : c->capacity * 2;
        hy_waiting *moved = realloc(c->item, more * sizeof *moved);
        if (moved == NULL) {
            return hy_fail(c->diag, "not enough memory for the write log");
        }
        c->item = moved;
        c->capacity = more;
    }
    c->item[c->count++] = *item;
    return 0;
}

int hy_clocklog_init(hy_clocklog *c, hy_log *log, uint32_t mcu_hz, hy_diag *diag)
{
    *c = (hy_clocklog){.log = log, .diag = diag, .mcu_hz = mcu_hz};
    const hy_waiting start = {.kind = HY_STOOD};
    return row(c, 0, 0.0) != 0 || append(c, &start) != 0 ? -1 : 0;
}

void hy_clocklog_free(hy_clocklog *c)
{
    free(c->item);
    c->item = NULL;
}

int hy_clocklog_edge(hy_clocklog *c, uint64_t tick)
{
    const hy_waiting edge = {.tick = tick, .kind = HY_EDGE};
    if (c->second != 0) {
        c->period = tick - c->item[c->second].tick;
        if (advance(c, c->period) != 0) {
            return -1;
        }
    }
    c->second = c->count;
    return append(c, &edge);
}

/* How far behind the second edge another one would be expected. */
static uint64_t probable_period(const hy_clocklog *c)
{
    return c->period != 0 ? c->period : c->item[c->second].tick - c->item[0].tick;
}

/* No edge has come for long: the clock stands, and what waits can be written. */
static int stand(hy_clocklog *c, uint64_t tick)
{
    if (c->second != 0 && advance(c, probable_period(c)) != 0) {
        return -1;
    }
    if (stop(c, c->item[0].tick) != 0 || write_events(c, 1, c->count, UINT64_MAX) == 0) {
        return -1;
    }
    c->item[0] = (hy_waiting){.tick = tick, .kind = HY_STOOD};
    c->count = 1;
    return 0;
}

int hy_clocklog_event(hy_clocklog *c, uint64_t tick, const hy_event *event)
{
    const hy_waiting item = {.tick = tick, .kind = HY_EVENT, .event = *event};
    if (append(c, &item) != 0) {
        return -1;
    }
    return c->count >= WAITING_MAX ? stand(c, tick) : 0;
}

int hy_clocklog_finish(hy_clocklog *c, uint64_t tick)
{
    if (c->second != 0 && advance(c, probable_period(c)) != 0) {
        return -1;
    }
    const hy_waiting *last = &c->item[0];
    int runs = last->kind == HY_EDGE && c->period > 0 && tick - last->tick <= c->period;
    if (!runs) {
        return stand(c, tick);
    }
    return run(c, last->tick, c->period) != 0 || write_events(c, 1, c->count, UINT64_MAX) == 0 ? -1 : 0;
}
