/* The clock, where the capture has none, out of the request intervals.
 *
 * A phoneme of D filter cycles of C clocks lasts more than C (D - 1) and at most C D + 1 clocks from strobe to request
 * (docs/chip.md): each tells a range for the frequency. The frequency that lies in most of them is the clock, whatever a
 * few faulty phonemes say. Then, as the divider runs free, all rises of request lie on a grid of C clocks: whole numbers of
 * filter cycles between them, fitted by least squares, give the frequency to parts in a million. A part whose timer starts anew with
 * each strobe has no such grid, but its phonemes last their filter cycles less a constant: a line through their lengths tells as
 * well. If it has neither, the range stands.
 *
 * If no one frequency will do, the clock moved: a line through the ranges of the neighbours is tried around each phoneme. */
#include <math.h>
#include <stdlib.h>

#include "fit_private.h"

enum { SAMPLE_MAX = 65536, WINDOW = 24, BLOCK = 8, LEAST = HY_FIT_LEAST, SLACK = 3 };

typedef struct edge {
    double hz;
    int opens;
} edge;

typedef struct consensus {
    double low, high; /* the frequencies that lie in most ranges */
    size_t votes;
} consensus;

/* ---- ranges ---- */

static int range_of(const hy_shake *s, const hyoid_part *part, double cross, hy_fit_range *r)
{
    if (s->rise < 0 || (s->flags & (HY_SHAKE_DOUBT | HY_SHAKE_INFLECTED)) != 0) {
        return 0;
    }
    double cycles = part->phoneme[s->code].duration;
    double clocks = part->filter_clocks;
    double span = (double)(s->rise - s->strobe);
    if (span <= 2.0 * cross || cycles < 2.0) {
        return 0;
    }
    *r = (hy_fit_range){.low = clocks * (cycles - 1.0) * 1e12 / (span + cross),
                        .high = (clocks * cycles + 1.0) * 1e12 / (span - cross),
                        .middle = (double)s->strobe + span * 0.5,
                        .cycles = cycles,
                        .strobe = s->strobe,
                        .rise = s->rise};
    return r->low > 1.0 && r->high < 2.0 * HYOID_CLOCK_MAX;
}

/* Up to SAMPLE_MAX of them, spread evenly. */
static size_t gather(hy_shakes *shakes, const hyoid_part *part, double cross, hy_fit_range *out, int *failed)
{
    uint64_t stride = 1 + shakes->count / SAMPLE_MAX;
    hy_shake s;
    size_t n = 0;
    int more;
    *failed = hy_shakes_rewind(shakes) != 0;
    for (uint64_t i = 0; !*failed && (more = hy_shakes_next(shakes, &s)) != 0; i++) {
        *failed = more < 0;
        if (more == 1 && (stride == 1 || i % stride == 0) && n < SAMPLE_MAX) {
            n += (size_t)range_of(&s, part, cross, &out[n]);
        }
    }
    return n;
}

static int by_hz(const void *a, const void *b)
{
    const edge *x = a;
    const edge *y = b;
    if (x->hz != y->hz) {
        return x->hz < y->hz ? -1 : 1;
    }
    return y->opens - x->opens;
}

/* The ranges as they are at `at` if the clock moves by `slope` (a share per ps). `slack`: frequencies that lie in so many fewer
 * ranges count too. */
static consensus agree(const hy_fit_range *r, size_t n, double at, double slope, size_t slack, edge *edges)
{
    for (size_t i = 0; i < n; i++) {
        double scale = 1.0 - slope * (r[i].middle - at);
        edges[2 * i] = (edge){r[i].low * scale, 1};
        edges[2 * i + 1] = (edge){r[i].high * scale, 0};
    }
    qsort(edges, 2 * n, sizeof *edges, by_hz);
    consensus best = {0};
    size_t votes = 0;
    for (size_t i = 0; i < 2 * n; i++) {
        votes += edges[i].opens ? 1 : 0;
        if (votes > best.votes) {
            best = (consensus){edges[i].hz, i + 1 < 2 * n ? edges[i + 1].hz : edges[i].hz, votes};
        }
        votes -= edges[i].opens ? 0 : 1;
    }
    votes = 0;
    for (size_t i = 0; slack > 0 && i < 2 * n; i++) {
        votes += edges[i].opens ? 1 : 0;
        if (votes + slack >= best.votes && i + 1 < 2 * n) {
            best.low = edges[i].hz < best.low ? edges[i].hz : best.low;
            best.high = edges[i + 1].hz > best.high ? edges[i + 1].hz : best.high;
        }
        votes -= edges[i].opens ? 0 : 1;
    }
    return best;
}

/* ---- a clock that moves ---- */

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* The median slope between the middles of all pairs, as a share per ps: a few faulty phonemes don't turn it. */
static double median_slope(const hy_fit_range *r, size_t n)
{
    double slopes[WINDOW * WINDOW / 2];
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        for (size_t k = i + 1; k < n; k++) {
            double span = r[k].middle - r[i].middle;
            double from = r[i].low + r[i].high;
            double to = r[k].low + r[k].high;
            if (span > 0.0) {
                slopes[count++] = 2.0 * (to - from) / (to + from) / span;
            }
        }
    }
    if (count == 0) {
        return 0.0;
    }
    qsort(slopes, count, sizeof *slopes, by_value);
    return slopes[count / 2];
}

static hy_clock_piece fit_piece(const hy_fit_range *r, size_t n, size_t first, size_t count)
{
    edge edges[2 * WINDOW];
    size_t middle = first + count / 2;
    size_t from = middle > WINDOW / 2 ? middle - WINDOW / 2 : 0;
    size_t size = n - from < WINDOW ? n - from : WINDOW;
    from = size < WINDOW && n > WINDOW ? n - WINDOW : from;
    size = n - from < WINDOW ? n - from : WINDOW;
    double at = r[middle < n ? middle : n - 1].middle;
    double slope = median_slope(r + from, size);
    consensus c = agree(r + from, size, at, slope, SLACK, edges);
    hy_clock_piece piece = {.from = r[first].strobe, .middle = (int64_t)at};
    if (c.votes >= LEAST && c.votes * 4 >= size * 3) {
        piece.hz = 0.5 * (c.low + c.high);
        piece.slope = slope * piece.hz;
        /* the ranges of a filter cycle each can hide a bend of the clock as large as themselves */
        double width = (r[middle < n ? middle : n - 1].high - r[middle < n ? middle : n - 1].low) / piece.hz;
        piece.doubt = 0.5 * (c.high - c.low) / piece.hz + 0.5 * width;
    }
    return piece;
}

static int follow(hy_timebase *b, const hy_fit_range *r, size_t n, hy_diag *diag)
{
    b->pieces = calloc(n / BLOCK + 1, sizeof *b->pieces);
    if (b->pieces == NULL) {
        return hy_fail(diag, "not enough memory for the clock's course");
    }
    double sum = 0.0;
    size_t known = 0;
    for (size_t i = 0; i < n; i += BLOCK) {
        hy_clock_piece piece = fit_piece(r, n, i, n - i < BLOCK ? n - i : BLOCK);
        b->pieces[b->piece_count++] = piece;
        if (piece.hz > 0.0) {
            b->least = known == 0 || piece.hz < b->least ? piece.hz : b->least;
            b->most = known == 0 || piece.hz > b->most ? piece.hz : b->most;
            b->doubt = piece.doubt > b->doubt ? piece.doubt : b->doubt;
            sum += piece.hz;
            known++;
        }
    }
    if (known > 0) {
        b->by = HY_CLOCK_FOLLOWED;
        b->hz = sum / (double)known;
        b->n = n;
    }
    return 0;
}

/* ---- all of it ---- */

/* How many stretches of the capture agree with the one frequency: faults are spread, a clock that moves is not. */
static int is_constant(const hy_fit_range *r, size_t n, const consensus *all, edge *edges)
{
    if (all->votes * 20 >= n * 19) {
        return 1;
    }
    size_t agreed = 0;
    size_t stretches = 0;
    for (size_t i = 0; i < n; i += WINDOW, stretches++) {
        size_t size = n - i < WINDOW ? n - i : WINDOW;
        size_t votes = 0;
        for (size_t k = i; k < i + size; k++) {
            votes += r[k].low <= all->high && r[k].high >= all->low;
        }
        consensus own = agree(r + i, size, 0.0, 0.0, 0, edges);
        agreed += votes + 2 >= own.votes && votes * 2 >= size;
    }
    return agreed * 10 >= stretches * 9;
}

static int fit(hy_timebase *b, hy_fit_range *r, size_t n, edge *edges, const hyoid_part *part, hy_diag *diag)
{
    if (n < LEAST) {
        return 0;
    }
    consensus all = agree(r, n, 0.0, 0.0, 0, edges);
    if (!is_constant(r, n, &all, edges)) {
        return follow(b, r, n, diag);
    }
    if (all.votes < LEAST || all.votes * 2 < n) {
        return 0;
    }
    b->by = HY_CLOCK_FITTED;
    b->hz = 0.5 * (all.low + all.high);
    b->doubt = 0.5 * (all.high - all.low) / b->hz + 1e-7;
    b->n = all.votes;
    size_t used = hy_fit_by_grid(r, n, part->filter_clocks, b->cross, &b->hz, &b->doubt);
    used = used > 0 ? used : hy_fit_by_length(r, n, part->filter_clocks, b->cross, &b->hz, &b->doubt);
    b->n = used > 0 ? used : b->n;
    b->least = b->hz * (1.0 - b->doubt);
    b->most = b->hz * (1.0 + b->doubt);
    return 0;
}

int hy_timebase_fit(hy_timebase *b, hy_shakes *shakes, const hyoid_part *part, hy_diag *diag)
{
    hy_fit_range *r = malloc(SAMPLE_MAX * sizeof *r);
    edge *edges = malloc((size_t)2 * SAMPLE_MAX * sizeof *edges);
    int failed = r == NULL || edges == NULL;
    if (failed) {
        hy_fail(diag, "not enough memory for the request intervals");
    } else {
        size_t n = gather(shakes, part, b->cross, r, &failed);
        failed = failed || fit(b, r, n, edges, part, diag) != 0;
    }
    free(r);
    free(edges);
    return failed ? -1 : 0;
}
