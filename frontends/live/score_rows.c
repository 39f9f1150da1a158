#include "score_rows.h"

#include <math.h>
#include <stdlib.h>

#define LINEAR_EXACT 1e-9 /* relative: corners of one linear glide */
#define ARC_EXACT 1e-4    /* relative: corners of one exponential glide, of which some lie on chords */
#define RUN_MAX 8192      /* pieces in one glide */

/* ---- the rows, single pins put together ---- */

static int keep(hy_rows *w, const hy_event *event)
{
    const hy_row row = {.event = *event, .reached = -1};
    const hy_row *last = w->rows != NULL && w->count > 0 ? &w->rows[w->count - 1] : NULL;
    const int with_strobe = last != NULL && last->event.signal == HY_PHONEME && last->event.ps == event->ps;
    if (w->rows == NULL || w->count == w->room) {
        const size_t room = w->room == 0 ? 1024 : 2 * w->room;
        hy_row *rows = realloc(w->rows, room * sizeof *rows);
        if (rows == NULL) {
            return hy_fail(w->diag, "not enough memory for a score of this log");
        }
        w->rows = rows;
        w->room = room;
    }
    if (!with_strobe || event->signal == HY_END) {
        w->rows[w->count++] = row;
    } else if (event->signal == HY_PHONEME) { /* of two strobes at one instant the later one stands */
        w->rows[w->count - 1] = row;
    } else { /* in a score, what belongs to a strobe's instant stands ahead of it */
        w->rows[w->count] = w->rows[w->count - 1];
        w->rows[w->count - 1] = row;
        w->count++;
    }
    return 0;
}

static int keep_pin(hy_rows *w, const hy_event *event, unsigned *pins)
{
    const unsigned pin = (unsigned)event->number / 2, bit = 1U << pin, before = *pins;
    *pins = event->number % 2 != 0 ? before | bit : before & ~bit;
    hy_event whole = {.ps = event->ps};
    if (pin == HY_STROBE && (before & bit) == 0 && (*pins & bit) != 0) {
        whole.signal = HY_PHONEME;
        whole.number = (int32_t)(*pins & 63U);
        return keep(w, &whole);
    }
    if ((pin == HY_I0 || pin == HY_I1) && *pins != before) {
        whole.signal = HY_INFLECTION;
        whole.number = (int32_t)(*pins >> HY_I0 & 3U);
        return keep(w, &whole);
    }
    return 0;
}

static int read_all(hy_rows *w)
{
    hy_event event;
    unsigned pins = 0;
    int more = hy_log_rewind(w->log, w->diag);
    while (more >= 0 && (more = hy_log_next(w->log, &event, w->diag)) == 1) {
        if (event.signal == HY_INFLECTION) {
            pins = (pins & ~(3U << HY_I0)) | (unsigned)event.number << HY_I0;
        }
        if ((event.signal == HY_PIN ? keep_pin(w, &event, &pins) : keep(w, &event)) != 0) {
            return -1;
        }
    }
    return more;
}

/* ---- what the chip answers ---- */

static void answer(hy_rows *w)
{
    hy_row *said = NULL;
    for (size_t i = 0; i < w->count; i++) {
        hy_row *r = &w->rows[i];
        const hy_event *e = &r->event;
        if (said != NULL && said->reached < 0) {
            int64_t reached;
            hyoid_stream_run_to_request(&w->chip, e->ps, &reached);
            said->reached = reached;
        }
        hyoid_stream_run(&w->chip, e->ps);
        switch ((hy_signal)e->signal) {
        case HY_PHONEME:
            hyoid_stream_write(&w->chip, e->ps, (unsigned)e->number);
            said = r;
            break;
        case HY_INFLECTION:
            hyoid_stream_set_inflection(&w->chip, e->ps, (unsigned)e->number);
            break;
        case HY_CLOCK:
            /* one to the same frequency counts, too: the clock's edges are reckoned from there anew */
            r->changes = hyoid_stream_clock_hz(&w->chip) != e->hz ||
                         (e->to_ps <= e->ps && w->chip.clock.to != e->ps) || e->ps == 0;
            hyoid_stream_set_clock(&w->chip, e->ps, e->hz);
            if (e->to_ps > e->ps) {
                hyoid_stream_glide_clock(&w->chip, e->ps, e->to_ps, e->to_hz);
            }
            break;
        case HY_PIN:
        case HY_MARK:
        case HY_END:
            break;
        }
    }
}

/* ---- pieces put together to glides ---- */

size_t hy_row_next_corner(const hy_rows *w, size_t i)
{
    const hy_event *e = &w->rows[i].event;
    for (size_t k = i + 1; e->to_ps > e->ps && k < w->count && w->rows[k].event.ps <= e->to_ps; k++) {
        if (w->rows[k].event.signal == HY_CLOCK) {
            return w->rows[k].event.ps == e->to_ps && w->rows[k].event.hz == e->to_hz ? k : 0;
        }
    }
    return 0;
}

static int fits(const hy_rows *w, const size_t *corners, size_t n, int arc)
{
    const hy_event *a = &w->rows[corners[0]].event, *z = &w->rows[corners[n]].event;
    if (arc && !(a->hz > 0.0 && z->hz > 0.0)) {
        return 0;
    }
    for (size_t i = 1; i < n; i++) {
        const hy_event *e = &w->rows[corners[i]].event;
        const double share = (double)(e->ps - a->ps) / (double)(z->ps - a->ps);
        const double hz = arc ? a->hz * pow(z->hz / a->hz, share) : a->hz + (z->hz - a->hz) * share;
        if (!(fabs(e->hz - hz) <= (arc ? ARC_EXACT : LINEAR_EXACT) * fmax(a->hz, z->hz))) {
            return 0;
        }
    }
    return 1;
}

/* The most pieces from the first corner on that make one glide. The search doubles, then halves. */
static size_t longest(const hy_rows *w, const size_t *corners, size_t n, int arc)
{
    size_t good = 1, bad = n + 1;
    for (size_t k = 2; k <= n; k *= 2) {
        if (!fits(w, corners, k, arc)) {
            bad = k;
            break;
        }
        good = k;
    }
    while (bad - good > 1) {
        const size_t k = good + (bad - good) / 2;
        if (fits(w, corners, k, arc)) {
            good = k;
        } else {
            bad = k;
        }
    }
    return good;
}

static int join_glides(hy_rows *w)
{
    size_t *corners = calloc(RUN_MAX + 1, sizeof *corners);
    if (corners == NULL) {
        return hy_fail(w->diag, "not enough memory for a score of this log");
    }
    for (size_t i = 0; i < w->count; i++) {
        const hy_event *e = &w->rows[i].event;
        if (e->signal != HY_CLOCK || w->rows[i].glide < 0 || e->to_ps <= e->ps) {
            continue;
        }
        size_t n = 0, next;
        corners[0] = i;
        while (n < RUN_MAX && (next = hy_row_next_corner(w, corners[n])) != 0) {
            corners[++n] = next;
        }
        if (n == 0) {
            continue;
        }
        const size_t line = longest(w, corners, n, 0), arc = longest(w, corners, n, 1);
        const size_t pieces = arc > line ? arc : line;
        w->rows[i].arc = arc > line;
        w->rows[i].glide = (int)pieces;
        for (size_t k = 1; k < pieces; k++) {
            w->rows[corners[k]].glide = -1;
        }
    }
    free(corners);
    return 0;
}

int hy_rows_read(hy_rows *w, const hyoid_part *part)
{
    if (read_all(w) != 0) {
        return -1;
    }
    if (hyoid_stream_init(&w->chip, part, 0, NULL) != HYOID_OK) {
        return hy_fail(w->diag, "the part is damaged");
    }
    answer(w);
    return join_glides(w);
}
