#include "timebase.h"

#include <math.h>
#include <stdlib.h>

const char *hy_clock_by_text(hy_clock_by by)
{
    static const char *const texts[] = {
        [HY_CLOCK_UNKNOWN] = "not found",
        [HY_CLOCK_STATED] = "stated by the capture (clock_hz)",
        [HY_CLOCK_COUNTED] = "counted on its pin",
        [HY_CLOCK_GIVEN] = "given (--clock)",
        [HY_CLOCK_FITTED] = "fitted to the request intervals",
        [HY_CLOCK_FOLLOWED] = "followed through the request intervals",
    };
    return texts[by];
}

/* ---- the stated clock ---- */

static double hz_in(const hy_event *piece, int64_t ps)
{
    if (piece->to_ps <= piece->ps || ps <= piece->ps) {
        return piece->hz;
    }
    if (ps >= piece->to_ps) {
        return piece->to_hz;
    }
    double share = (double)(ps - piece->ps) / (double)(piece->to_ps - piece->ps);
    return piece->hz + share * (piece->to_hz - piece->hz);
}

static double clocks_in(const hy_event *piece, int64_t from, int64_t to)
{
    int64_t turn = piece->to_ps > piece->ps ? piece->to_ps : piece->ps;
    turn = turn < from ? from : turn > to ? to : turn;
    double glide = (hz_in(piece, from) + hz_in(piece, turn)) * 0.5 * ((double)(turn - from) * 1e-12);
    return glide + hz_in(piece, to) * ((double)(to - turn) * 1e-12);
}

static int next_piece(hy_timebase *b, hy_diag *diag)
{
    b->more = hy_log_next(b->story, &b->next, diag);
    while (b->more == 1 && b->next.signal != HY_CLOCK) {
        b->more = hy_log_next(b->story, &b->next, diag);
    }
    return b->more < 0 ? -1 : 0;
}

/* Follows the story to ps, which lies behind what was asked before or within its last piece. */
static int follow(hy_timebase *b, int64_t ps, double *clocks, hy_diag *diag)
{
    while (b->more == 1 && b->next.ps <= ps) {
        b->followed_at += clocks_in(&b->piece, b->followed, b->next.ps);
        b->followed = b->next.ps;
        b->piece = b->next;
        if (next_piece(b, diag) != 0) {
            return -1;
        }
    }
    *clocks = b->followed_at +
              (ps >= b->followed ? clocks_in(&b->piece, b->followed, ps) : -clocks_in(&b->piece, ps, b->followed));
    return 0;
}

int hy_timebase_story(hy_timebase *b, int64_t end, hy_diag *diag)
{
    hy_event event;
    int more;
    uint64_t n = 0;
    hy_log_rewind(b->story, diag);
    while ((more = hy_log_next(b->story, &event, diag)) == 1) {
        if (event.signal != HY_CLOCK || event.ps >= end) {
            continue;
        }
        double to = event.to_ps > event.ps ? event.to_hz : event.hz;
        double low = event.hz < to ? event.hz : to;
        double high = event.hz < to ? to : event.hz;
        b->least = n == 0 || low < b->least ? low : b->least;
        b->most = n == 0 || high > b->most ? high : b->most;
        n++;
    }
    b->n = n;
    b->by = HY_CLOCK_STATED;
    b->doubt = 1e-9;
    double clocks;
    if (more < 0 || n == 0 || hy_timebase_start(b, diag) != 0 || follow(b, end, &clocks, diag) != 0) {
        return more < 0 || n > 0 ? -1 : hy_fail(diag, "the capture's clock_hz says nothing");
    }
    b->hz = end > 0 ? clocks * 1e12 / (double)end : b->most;
    return 0;
}

int hy_timebase_start(hy_timebase *b, hy_diag *diag)
{
    b->at = 0;
    if (b->by != HY_CLOCK_STATED) {
        return 0;
    }
    b->piece = (hy_event){.signal = HY_CLOCK};
    b->followed = 0;
    b->followed_at = 0.0;
    return hy_log_rewind(b->story, diag) != 0 ? -1 : next_piece(b, diag);
}

/* ---- handshakes ---- */

static int by_story(hy_timebase *b, const hy_shake *s, hy_shake_clocks *c, hy_diag *diag)
{
    const int64_t times[] = {s->strobe, s->release, s->fall, s->rise, s->end};
    double *const out[] = {NULL, &c->release, &c->fall, &c->rise, &c->end};
    double zero = 0.0;
    /* in the order of time: release may lie anywhere among the others */
    int64_t done = -1;
    for (;;) {
        int next = -1;
        for (int i = 0; i < 5; i++) {
            if (times[i] > done && (next < 0 || times[i] < times[next])) {
                next = i;
            }
        }
        if (next < 0) {
            return 0;
        }
        done = times[next];
        double at;
        if (follow(b, done, &at, diag) != 0) {
            return -1;
        }
        double hz = hz_in(&b->piece, done);
        c->hz = hz > c->hz ? hz : c->hz;
        zero = next == 0 ? at : zero;
        for (int i = 1; i < 5; i++) {
            *out[i] = times[i] == done ? at - zero : *out[i];
        }
    }
}

static void by_count(const hy_shake *s, hy_shake_clocks *c)
{
    c->release = s->release >= 0 ? s->release_at - s->strobe_at : NAN;
    c->fall = s->fall >= 0 ? s->fall_at - s->strobe_at : NAN;
    c->rise = s->rise >= 0 ? s->rise_at - s->strobe_at : NAN;
    c->end = s->end_at - s->strobe_at;
}

static double over(const hy_clock_piece *p, int64_t from, int64_t to)
{
    if (to < 0) {
        return NAN;
    }
    double middle = (double)from + 0.5 * (double)(to - from);
    return (p->hz + p->slope * (middle - (double)p->middle)) * ((double)(to - from) * 1e-12);
}

static void by_piece(const hy_clock_piece *p, const hy_shake *s, hy_shake_clocks *c)
{
    c->hz = p->hz;
    c->doubt = p->doubt;
    c->release = over(p, s->strobe, s->release);
    c->fall = over(p, s->strobe, s->fall);
    c->rise = over(p, s->strobe, s->rise);
    c->end = over(p, s->strobe, s->end);
}

int hy_timebase_convert(hy_timebase *b, const hy_shake *s, hy_shake_clocks *c, hy_diag *diag)
{
    *c = (hy_shake_clocks){.release = NAN, .fall = NAN, .rise = NAN, .end = NAN, .hz = b->hz, .doubt = b->doubt};
    if (b->by == HY_CLOCK_STATED) {
        c->hz = 0.0;
        if (by_story(b, s, c, diag) != 0) {
            return -1;
        }
    } else if (b->by == HY_CLOCK_COUNTED) {
        by_count(s, c);
        c->hz = s->end > s->strobe ? c->end * 1e12 / (double)(s->end - s->strobe) : b->hz;
        c->hz = c->hz > b->most ? b->most : c->hz;
    } else if (b->by == HY_CLOCK_FOLLOWED) {
        while (b->at + 1 < b->piece_count && b->pieces[b->at + 1].from <= s->strobe) {
            b->at++;
        }
        if (b->pieces[b->at].hz > 0.0) {
            by_piece(&b->pieces[b->at], s, c);
        }
    } else if (b->by != HY_CLOCK_UNKNOWN) {
        const hy_clock_piece constant = {.hz = b->hz, .doubt = b->doubt};
        by_piece(&constant, s, c);
    }
    c->same = c->hz * b->same * 1e-12;
    c->cross = c->hz * b->cross * 1e-12;
    if (b->by == HY_CLOCK_COUNTED) { /* the counted edges are as uncertain as the others */
        c->same += c->hz * b->same * 1e-12;
        c->cross += c->hz * b->same * 1e-12;
    }
    return 0;
}

void hy_timebase_free(hy_timebase *b)
{
    hy_log_free(b->story);
    free(b->pieces);
    b->story = NULL;
    b->pieces = NULL;
}
