/* The clock's story in a capture: stated in hertz, or counted on a pin. */
#include <math.h>
#include <string.h>

#include "capture_private.h"

#define RESTATED_PS INT64_C(1000000000) /* during a glide at least every millisecond, vcd.h */
#define WINDOW_PS INT64_C(10000000000)
#define FINEST 8   /* time steps between two statements that can be told from a jump */
#define LONG 30000 /* and in an interval whose slope is known to a part in 10^4 */

static int tell(hy_log *log, int64_t ps, double hz, int arrives, hy_diag *diag)
{
    const hy_event event = {.ps = ps, .signal = HY_CLOCK, .hz = hz};
    return hy_log_append(log, &event, arrives, diag);
}

/* ---- stated ---- */

/* A glide's statements lie on a line, and it may begin without one where the clock stood (its first value is not news)
 * and be cut by a jump between two. All that is asked of the points is therefore which of the intervals between
 * them lie on one line with a neighbour. Interval i goes from point i to point i + 1. */

static int has(const hy_stated_clock *c, int i)
{
    return i >= 0 && i < c->count;
}

static int64_t length_of(const hy_stated_clock *c, int i)
{
    return c->point[i + 1].ps - c->point[i].ps;
}

static int is_short(const hy_stated_clock *c, int i)
{
    return has(c, i) && has(c, i + 1) && length_of(c, i) <= RESTATED_PS + c->step &&
           length_of(c, i) >= FINEST * c->step;
}

/* Hz per ps from point i to point k. */
static double slope(const hy_stated_clock *c, int i, int k)
{
    return (c->point[k].hz - c->point[i].hz) / (double)(c->point[k].ps - c->point[i].ps);
}

/* Intervals i and i + 1 lie on a line, as well as rounded times can tell. */
static int aligned(const hy_stated_clock *c, int i)
{
    if (!is_short(c, i) || !is_short(c, i + 1)) {
        return 0;
    }
    const hy_clock_point *p = &c->point[i];
    double rise = slope(c, i, i + 2);
    double off = p[1].hz - (p[0].hz + rise * (double)(p[1].ps - p[0].ps));
    return fabs(off) <= fabs(rise) * 2.0 * (double)c->step + 1e-12 * (p[0].hz + p[2].hz);
}

static int is_line(const hy_stated_clock *c, int i)
{
    return aligned(c, i - 1) || aligned(c, i);
}

/* Where the line of interval i + 1, followed back, meets the value of point i: a glide began there unsaid. */
static int began_unsaid(const hy_stated_clock *c, int i, int64_t *start)
{
    if (!is_line(c, i + 1)) {
        return 0;
    }
    const hy_clock_point *p = &c->point[i];
    double back = (p[1].hz - p[0].hz) / slope(c, i + 1, i + 2);
    if (!(back > 0.0 && back <= (double)(length_of(c, i + 1) + 2 * c->step))) {
        return 0;
    }
    *start = p[1].ps - llround(back);
    *start = *start > p[0].ps ? *start : p[0].ps;
    return 1;
}

/* A glide that point i stands on was cut by a jump at point i + 1: it had not ended by itself, and its next statement was not
 * yet due. (An unsaid beginning would be the better explanation.) */
static int cut_by_jump(const hy_stated_clock *c, int i)
{
    int64_t start;
    if (is_line(c, i) || began_unsaid(c, i, &start) || !is_short(c, i) || !has(c, i - 1) || !is_line(c, i - 1)) {
        return 0;
    }
    int64_t last = length_of(c, i - 1);
    int ended = has(c, i - 2) && aligned(c, i - 2) && last < length_of(c, i - 2) - 2 * c->step;
    return !ended && length_of(c, i) <= last + 2 * c->step;
}

/* The glide on which point i stands goes on behind it as it came, and needs no event there. Said only of intervals so long that
 * rounded times can't hide a corner. */
static int goes_on(const hy_stated_clock *c, int i)
{
    if (!c->arrives || !aligned(c, i - 1) || length_of(c, i) < LONG * c->step) {
        return 0;
    }
    return fabs(slope(c, i, i + 1) - c->slope) <= fabs(c->slope) * 3.0 * (double)c->step / (double)length_of(c, i);
}

static int tell_jump(hy_stated_clock *c, int i)
{
    const hy_clock_point *p = &c->point[i];
    int64_t end = p[1].ps - c->step; /* ahead of the jump's time stamp, so that the two can't change places */
    double hz = p->hz + slope(c, i - 1, i) * (double)(end - p->ps);
    hz = hz < 0.0 ? 0.0 : hz > HYOID_CLOCK_MAX ? HYOID_CLOCK_MAX : hz;
    c->arrives = 0;
    return tell(c->log, end, hz, 1, c->diag);
}

/* Tells point `at` and how the clock goes on to the next. */
static int settle(hy_stated_clock *c)
{
    int i = c->at++;
    const hy_clock_point *p = &c->point[i];
    if (has(c, i + 1) && goes_on(c, i)) {
        return 0;
    }
    if (c->arrives && has(c, i + 1) && cut_by_jump(c, i)) {
        return tell_jump(c, i);
    }
    if (tell(c->log, p->ps, p->hz, c->arrives, c->diag) != 0) {
        return -1;
    }
    int64_t start;
    c->arrives = 0;
    if (!has(c, i + 1)) {
        return 0;
    }
    if (is_line(c, i)) {
        c->arrives = 1;
        c->slope = slope(c, i, i + 1);
    } else if (began_unsaid(c, i, &start)) {
        c->arrives = 1;
        c->slope = slope(c, i + 1, i + 2);
        return start > p->ps ? tell(c->log, start, p->hz, 0, c->diag) : 0;
    }
    return 0;
}

enum { BEHIND = 2, AHEAD = 3 }; /* points that are looked at on either side of the one that is settled */

int hy_stated_clock_add(hy_stated_clock *c, int64_t ps, double hz)
{
    if (c->count > 0 && c->point[c->count - 1].ps == ps) {
        c->point[c->count - 1].hz = hz; /* the last within a time stamp stands */
        return 0;
    }
    if (c->count > 0 && c->point[c->count - 1].hz == hz) {
        return 0;
    }
    while (c->at + AHEAD < c->count) {
        if (settle(c) != 0) {
            return -1;
        }
    }
    if (c->at > BEHIND) {
        memmove(c->point, c->point + 1, (size_t)--c->count * sizeof c->point[0]);
        c->at--;
    }
    c->point[c->count++] = (hy_clock_point){ps, hz};
    return 0;
}

int hy_stated_clock_end(hy_stated_clock *c)
{
    while (c->at < c->count) {
        if (settle(c) != 0) {
            return -1;
        }
    }
    return 0;
}

/* ---- counted ---- */

static int count_tell(hy_counted_clock *c, int64_t ps, double hz, int arrives)
{
    c->told = ps > c->told ? ps : c->told;
    return tell(c->log, c->told, hz, arrives, c->diag);
}

/* The edges of the window that ends with the last edge make a piece. */
static int add_piece(hy_counted_clock *c)
{
    double length = (double)(c->last - c->start);
    double hz = (double)c->edges * 1e12 / length;
    if (hz > HYOID_CLOCK_MAX) {
        return hy_fail(c->diag, "the clock pin toggles at %.9g Hz; at most 100 MHz would be right", hz);
    }
    c->least = c->pieces == 0 || hz < c->least ? hz : c->least;
    c->most = c->pieces == 0 || hz > c->most ? hz : c->most;
    c->pieces++;
    int64_t middle = c->start + (c->last - c->start) / 2;
    if (c->heard == 0) {
        /* The run's first edge shall be one of the model's. From rest that takes a whole period, or, if the run before ended
         * half a period behind its last edge, half of one. */
        double lead = 1e12 / hz * (c->ran ? 0.5 : 1.0);
        int64_t from = c->run - llround(lead);
        if (count_tell(c, from >= 0 ? from : c->run, hz, 0) != 0) {
            return -1;
        }
    }
    int arrives = c->heard > 0 && middle > c->told; /* in no time it can only jump */
    c->heard++;
    c->hz = hz;
    c->start = c->last;
    c->edges = 0;
    return count_tell(c, middle, hz, arrives);
}

/* No more edges follow the last one. */
static int end_run(hy_counted_clock *c)
{
    if (c->edges > 0 && (c->heard == 0 || c->last - c->start >= WINDOW_PS / 2)) {
        return add_piece(c);
    }
    return 0;
}

static int stand_still(hy_counted_clock *c)
{
    if (c->heard == 0) { /* a single edge: too little to tell a frequency */
        return 0;
    }
    c->ran = 1;
    return count_tell(c, c->last + llround(0.5e12 / c->hz), 0.0, 0);
}

int hy_counted_clock_edge(hy_counted_clock *c, int64_t ps)
{
    if (c->running && ps - c->last > WINDOW_PS) {
        if (end_run(c) != 0 || stand_still(c) != 0) {
            return -1;
        }
        c->running = 0;
    }
    if (!c->running) {
        if (!c->ran && c->told == 0 && count_tell(c, 0, 0.0, 0) != 0) { /* until then it stands */
            return -1;
        }
        c->running = 1;
        c->heard = 0;
        c->edges = 0;
        c->run = c->start = c->last = ps;
        return 0;
    }
    c->last = ps;
    c->edges++;
    return ps - c->start >= WINDOW_PS ? add_piece(c) : 0;
}

int hy_counted_clock_end(hy_counted_clock *c, int64_t end_ps)
{
    if (!c->running) {
        return 0;
    }
    if (end_run(c) != 0) {
        return -1;
    }
    return end_ps - c->last > WINDOW_PS ? stand_still(c) : 0;
}
