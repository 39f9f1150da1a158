#include "judge.h"

#include <math.h>

#include "whole.h"

#define BOUNCE_PS INT64_C(1000000000) /* contacts and drivers bounce for less than a millisecond (practice) */

typedef struct tally {
    uint64_t n, sure, maybe;
    int64_t first;
} tally;

typedef struct judge {
    hy_timing *timing;
    uint64_t stride; /* every so manieth phoneme is a point of the picture */
    hy_row *rows;
    const hyoid_part *part;
    double coarse; /* ps: a pulse that is shorter can hide between two samples; 0: none can */
    tally missed, overdue, doubled;
    hy_shake before;
    hy_shake_clocks before_clocks;
    int has_before;
} judge;

static void note(tally *t, int sure, int maybe, int64_t ps)
{
    t->n++;
    t->first = sure && t->sure == 0 ? ps : t->first;
    t->sure += sure ? 1 : 0;
    t->maybe += maybe && !sure ? 1 : 0;
}

/* By how much a span may be off, clocks. */
static double off(const hy_shake_clocks *c, double span, double edges)
{
    return edges + fabs(span) * c->doubt;
}

static int is_unanswered(const hy_shake *s)
{
    return (s->flags & HY_SHAKE_HIGH) != 0 && s->fall < 0;
}

/* The strobe before came so shortly ahead that request's fall may be its answer. */
static int shares_answer(const judge *j)
{
    double longest = j->rows[HY_ROW_LATENCY].max;
    return j->has_before && is_unanswered(&j->before) && !(j->before_clocks.end > longest + j->before_clocks.cross);
}

static void latency(judge *j, const hy_shake *s, const hy_shake_clocks *c)
{
    if ((s->flags & HY_SHAKE_HIGH) == 0) {
        return;
    }
    if (s->fall >= 0) {
        if (!shares_answer(j) && !isnan(c->fall)) {
            hy_row_add(&j->rows[HY_ROW_LATENCY], c->fall, off(c, c->fall, c->cross), s->strobe);
        }
        note(&j->missed, 0, 0, s->strobe);
        return;
    }
    /* no answer: was there time for one? */
    double longest = (double)j->part->request_delay + 1.0;
    if (!isnan(c->end) && c->end > longest + off(c, c->end, c->cross)) {
        note(&j->missed, 1, 0, s->strobe);
    }
}

static void draw(judge *j, const hy_shake *s, double clocks, int beyond)
{
    hy_timing *t = j->timing;
    unsigned room = beyond ? HY_TIMING_POINTS : HY_TIMING_POINTS * 3 / 4;
    if (t->point_count < room && (beyond || j->rows[HY_ROW_STROBE].n % j->stride == 0)) {
        t->points[t->point_count++] = (hy_timing_point){(double)s->strobe * 1e-12, clocks, beyond};
    }
}

static void duration(judge *j, const hy_shake *s, const hy_shake_clocks *c)
{
    if (s->rise < 0 || isnan(c->rise) || (s->flags & HY_SHAKE_DOUBT) != 0 || is_unanswered(s)) {
        return;
    }
    double uncertainty = off(c, c->rise, c->cross);
    double nominal = (double)j->part->filter_clocks * j->part->phoneme[s->code].duration;
    hy_row *row = &j->rows[HY_ROW_DURATION + s->code];
    double value = c->rise;
    if ((s->flags & HY_SHAKE_HIGH) == 0 || (s->flags & HY_SHAKE_INFLECTED) != 0) {
        row = &j->rows[(s->flags & HY_SHAKE_HIGH) == 0 ? HY_ROW_AFTER_CUT : HY_ROW_INFLECTED];
        value -= nominal;
    }
    uint64_t beyond = row->beyond;
    hy_row_add(row, value, uncertainty, s->strobe);
    draw(j, s, c->rise - nominal, row->beyond > beyond);
}

/* The phoneme ended without a rise of request: cut short, or request failed to come. */
static void no_rise(judge *j, const hy_shake *s, const hy_shake_clocks *c)
{
    if (s->rise >= 0 || isnan(c->end) || (s->flags & HY_SHAKE_DOUBT) != 0 || is_unanswered(s)) {
        note(&j->overdue, 0, 0, s->strobe);
        return;
    }
    const hy_row *row = &j->rows[HY_ROW_DURATION + s->code];
    double least = isnan(row->min) ? 0.0 : row->min;
    double most = isnan(row->max) ? INFINITY : row->max;
    double uncertainty = off(c, c->end, c->cross);
    int late = c->end > most + uncertainty;
    /* the host may have answered within a pulse of request that no sample met */
    double pulse = ((double)j->part->request_delay + 1.0) * (c->hz > 0.0 ? 1e12 / c->hz : INFINITY);
    int hidden = (s->flags & HY_SHAKE_LAST) == 0 && pulse <= j->coarse * 2.0;
    note(&j->overdue, late && !hidden, (late && hidden) || (!late && c->end > most), s->strobe);
    if (c->end < least - uncertainty && (s->flags & HY_SHAKE_LAST) == 0) {
        hy_row_add(&j->rows[HY_ROW_CUT], c->end, uncertainty, s->strobe);
    }
}

static void doubled(judge *j, const hy_shake *s)
{
    double least = 2.0 * (double)j->part->filter_clocks; /* no phoneme can be heard that short */
    int close = j->has_before && s->strobe - j->before.strobe <= BOUNCE_PS && j->before_clocks.end <= least;
    note(&j->doubled, close, 0, s->strobe);
}

static void host(judge *j, const hy_shake *s, const hy_shake_clocks *c)
{
    if (s->release >= 0 && !isnan(c->release)) {
        hy_row_add(&j->rows[HY_ROW_STROBE], c->release, off(c, c->release, c->same), s->strobe);
    }
    if (s->rise >= 0 && (s->flags & HY_SHAKE_LAST) == 0 && !isnan(c->rise)) {
        hy_row_add(&j->rows[HY_ROW_ANSWER], c->end - c->rise, off(c, c->end - c->rise, c->cross), s->rise);
    }
}

static void count(hy_row *row, const tally *t)
{
    hy_row_count(row, t->n, t->sure, t->maybe, t->first);
}

static void sightings(judge *j, const hy_shakes *shakes)
{
    uint64_t n = shakes->count;
    hy_row_count(&j->rows[HY_ROW_UNASKED], n > 0 ? n : 1, shakes->unasked.count, 0, shakes->unasked.first);
    hy_row_count(&j->rows[HY_ROW_UNKNOWN], n > 0 ? n : 1, shakes->unknown.count, 0, shakes->unknown.first);
    hy_row_count(&j->rows[HY_ROW_CODE_MOVES], n, shakes->moved.count, 0, shakes->moved.first);
    hy_row_count(&j->rows[HY_ROW_INFLECTION], n, shakes->inflection.count, 0, shakes->inflection.first);
}

int hy_judge(hy_timing *timing, hy_shakes *shakes, hy_timebase *base, const hyoid_part *part, hy_diag *diag)
{
    hy_row *rows = timing->rows;
    judge j = {.timing = timing,
               .stride = 1 + shakes->count / (HY_TIMING_POINTS * 3 / 4),
               .rows = rows,
               .part = part,
               .coarse = base->same};
    hy_shake s;
    int more = 0;
    if (hy_shakes_rewind(shakes) != 0 || hy_timebase_start(base, diag) != 0) {
        return -1;
    }
    while ((more = hy_shakes_next(shakes, &s)) == 1) {
        hy_shake_clocks c;
        if (hy_timebase_convert(base, &s, &c, diag) != 0) {
            return -1;
        }
        doubled(&j, &s);
        latency(&j, &s, &c);
        duration(&j, &s, &c);
        hy_whole_add(timing, part, j.has_before ? &j.before : NULL, &j.before_clocks, &s, &c);
        no_rise(&j, &s, &c);
        host(&j, &s, &c);
        j.before = s;
        j.before_clocks = c;
        j.has_before = 1;
    }
    count(&rows[HY_ROW_MISSED], &j.missed);
    count(&rows[HY_ROW_OVERDUE], &j.overdue);
    count(&rows[HY_ROW_DOUBLED], &j.doubled);
    sightings(&j, shakes);
    return more;
}
