/* Where in its time stamp a strobe rises or the clock jumps, when that decides which clock edge comes first.
 *
 * An edge of strobe at or before a clock edge acts in that clock, one behind it in the next (docs/chip.md). Hosts that answer
 * the chip act just behind an edge: two picoseconds in a score's performance (docs/formats.md), and then a whole number of
 * nanoseconds later. A dump's time stamp, rounded to the nearest nanosecond, may therefore be that of the edge or even lie
 * before it. So the clock's phase is followed here, and a host's instants are found again:
 *
 * - The host's time runs in whole steps from where it last met the chip: from its last strobe, or from request's rise since
 *   then, which is a clock edge. That gives each instant's fraction of a step.
 * - If an edge is within a step, request's fall shows, if it was captured, which clock the strobe acted in.
 *
 * Nothing is moved by more than a time step and two picoseconds. */
#include <math.h>

#include "capture_private.h"

#define PS_PER_S INT64_C(1000000000000)

static void turn(hy_placer *p, double cycles)
{
    p->phase += cycles;
    p->phase -= floor(p->phase);
}

/* A constant clock. Of whole seconds only the fraction of their cycles counts, and is exact. */
static void follow_constant(hy_placer *p, int64_t ps, double hz)
{
    int64_t seconds = (ps - p->at) / PS_PER_S;
    turn(p, (hz - floor(hz)) * (double)seconds);
    turn(p, hz * ((double)(ps - p->at - seconds * PS_PER_S) * 1e-12));
    p->at = ps;
    p->hz = hz;
}

/* The clock's phase, followed to ps. */
static void follow(hy_placer *p, int64_t ps)
{
    while (p->at < ps && p->at < p->to) { /* gliding; a second at a time */
        int64_t next = ps - p->at > PS_PER_S ? p->at + PS_PER_S : ps;
        next = p->to < next ? p->to : next;
        double rise = (p->to_hz - p->from_hz) / (double)(p->to - p->from);
        double last = p->from_hz + rise * (double)(next - p->from);
        turn(p, (p->from_hz + rise * (double)(p->at - p->from) + last) * 0.5 * ((double)(next - p->at) * 1e-12));
        p->at = next;
        p->hz = last;
    }
    if (p->at < ps) {
        follow_constant(p, ps, p->to > p->from ? p->to_hz : p->from_hz);
    }
}

/* The nearest clock edge, ps from `ps`; 0 if there is none within a time step, or the stamps are too coarse to tell. */
static int near_edge(hy_placer *p, int64_t ps, double *edge, double *period)
{
    follow(p, ps - PS_PER_S); /* all but what could still change */
    hy_placer there = *p;
    follow(&there, ps);
    *period = there.hz > 0.0 ? 1e12 / there.hz : 0.0;
    double since = there.phase * *period;
    *edge = since <= *period / 2.0 ? -since : *period - since;
    return *period >= 8.0 * (double)p->step && fabs(*edge) <= (double)p->step;
}

static void meet(hy_placer *p, int64_t ps)
{
    p->fraction = ps % p->step;
}

/* Takes note of request up to the stamp ps. */
static int hear_request(hy_placer *p, int64_t ps, hy_diag *diag)
{
    while (p->more == 1 && p->next.signal == HY_PIN && p->next.ps <= ps) {
        double edge;
        double period;
        p->level = p->next.number;
        p->rose = p->level == 1 ? p->next.ps : p->rose;
        if (p->level == 1 && p->next.ps > 0 && near_edge(p, p->next.ps, &edge, &period)) {
            meet(p, p->next.ps + llround(edge) + 2);
        }
        p->more = hy_log_next(p->request, &p->next, diag);
    }
    return p->more < 0 ? -1 : 0;
}

/* The instant nearest to the stamp that lies this fraction behind a whole step. */
static int64_t in_step(const hy_placer *p, int64_t ps, int64_t fraction)
{
    int64_t on = ps - ps % p->step + fraction;
    on += on - ps >= p->step / 2 ? -p->step : ps - on > p->step / 2 ? p->step : 0;
    return on < 0 ? ps : on;
}

/* A straight glide's statements are as many whole steps apart as the host's instants; those of one with corners, as an
 * exponential one has them, are not. */
static void note_ramp(hy_placer *p, const hy_event *event, int arrives)
{
    int glides = event->to_ps > event->ps;
    double length = glides ? (double)(event->to_ps - event->ps) : 1.0;
    double slope = glides ? (event->to_hz - event->hz) / length : 0.0;
    double doubt = 2.0 * (double)p->step / length;
    if (!arrives) {
        p->ramp = p->fraction;
        p->slope = slope;
        p->slope_doubt = doubt;
        p->ramped = p->ramped || glides;
    } else if (glides && fabs(slope - p->slope) > fabs(p->slope) * (p->slope_doubt + doubt)) {
        p->ramp = -1;
    }
}

int hy_placer_clock(hy_placer *p, const hy_event *event, int arrives, hy_diag *diag)
{
    if (hear_request(p, event->ps, diag) != 0) {
        return -1;
    }
    if (arrives) { /* a glide's end may have been moved a little: once more from its beginning */
        p->at = p->from;
        p->phase = p->from_phase;
        p->to = event->ps;
    }
    follow(p, event->ps);
    note_ramp(p, event, arrives);
    p->from = event->ps;
    p->from_phase = p->phase;
    p->to = event->to_ps > event->ps && p->active && p->ramp >= 0 ? in_step(p, event->to_ps, p->ramp) : event->to_ps;
    p->from_hz = p->hz = event->hz;
    p->to_hz = event->to_hz;
    return 0;
}

int hy_placer_instant(hy_placer *p, int64_t ps, int arrives, int64_t *placed, hy_diag *diag)
{
    *placed = ps;
    if (!p->active || ps == 0) {
        return 0;
    }
    if (hear_request(p, ps, diag) != 0) {
        return -1;
    }
    if (!arrives || p->ramp >= 0) {
        *placed = in_step(p, ps, arrives ? p->ramp : p->fraction);
    }
    return 0;
}

/* Which clock a strobe acted in whose edge lies `edge` ps from the stamp: 1 the one behind that edge, 0 the edge's own, -1 it
 * does not show. */
static int shown(const hy_placer *p, int64_t ps, double edge, double period)
{
    if (p->level == 1 && p->rose == ps) {
        return 1; /* had strobe acted in the very clock in which the time was up, request had stayed low */
    }
    if (p->level == 0 || p->more != 1 || p->next.signal != HY_PIN) {
        return -1;
    }
    double clocks = ((double)(p->next.ps - ps) - edge) / period - (double)p->delay;
    return fabs(clocks) < 0.3 ? 0 : fabs(clocks - 1.0) < 0.3 ? 1 : -1;
}

int hy_placer_strobe(hy_placer *p, int64_t ps, double hz, int64_t *placed, hy_diag *diag)
{
    double edge;
    double period;
    if (hy_placer_instant(p, ps, 0, placed, diag) != 0) {
        return -1;
    }
    if (!p->active) {
        return 0;
    }
    if (!near_edge(p, ps, &edge, &period)) {
        meet(p, *placed);
        return 0;
    }
    int64_t nearest = ps + llround(edge);
    if (p->level == 1 && p->rose == ps) {
        *placed = nearest + 2;
    }
    /* Not shown, it is in time only exactly at the edge, as when a host has had nothing to do with the chip so far. A little
     * ahead is a sign of rounded times. */
    int64_t ahead = nearest - *placed;
    int behind = shown(p, ps, edge, hz > 0.0 ? 1e12 / hz : period);
    behind = behind < 0 ? ahead < 0 || ahead > 2 : behind;
    if (behind) {
        *placed = ahead > -2 ? nearest + 2 : *placed;
        meet(p, *placed);
        return 0;
    }
    *placed = ahead < 0 ? nearest : *placed;
    meet(p, *placed);
    if (p->ramped && *placed > nearest - 2) { /* after a glide no edge is exact to the picosecond */
        *placed = nearest > 2 ? nearest - 2 : 0;
    }
    return 0;
}
