/* The clock on the host's time line: edge k falls where the integral of f dt is k.
 *
 * Time runs in pieces that never cross a whole second, so that a time within a piece fits a double with
 * twelve digits to spare however long the stream runs, and so that the cutting does not depend on who asks
 * when. Only + - * / and an own square root are used: the same bits everywhere. */
#include "internal.h"

static int64_t next_second(int64_t ps)
{
    return (ps / HYOID_PS_PER_S + 1) * HYOID_PS_PER_S;
}

/* Newton's iteration from a power of two within a factor of sqrt 2 of the root. Each step squares the relative error
 * and halves it: 0.42, 0.061, 0.0018, 1.6e-6, 1.2e-12, below rounding. The result is within one unit in the last
 * place of the root (tests/unit/test_clock.c). */
double hyoid_clock_root(double x)
{
    if (!(x > 0.0)) {
        return 0.0;
    }
    double guess = 1.0;
    while (guess * guess < x * 0.5) {
        guess *= 2.0;
    }
    while (guess * guess > x * 2.0) {
        guess *= 0.5;
    }
    for (int i = 0; i < 5; i++) {
        guess = 0.5 * (guess + x / guess);
    }
    return guess;
}

double hyoid_clock_hz_at(const hyoid_clock *clock, int64_t ps)
{
    if (ps >= clock->to || clock->to == INT64_MAX) {
        return clock->to_hz;
    }
    double share = (double)(ps - clock->from) / (double)(clock->to - clock->from);
    double hz = clock->from_hz + (clock->to_hz - clock->from_hz) * share;
    return hz > 0.0 ? hz : 0.0;
}

/* Sets up the piece that starts at ps. */
static void start_piece(hyoid_clock *clock, int64_t ps)
{
    clock->start = ps;
    clock->end = next_second(ps);
    if (clock->to != INT64_MAX && ps < clock->to && clock->to < clock->end) {
        clock->end = clock->to;
    }
    clock->start_hz = hyoid_clock_hz_at(clock, ps);
    clock->end_hz = hyoid_clock_hz_at(clock, clock->end);
    if (clock->to == INT64_MAX || ps >= clock->to) {
        clock->start_hz = clock->end_hz = clock->to_hz;
    }
    /* a clock slower than this has no further edge in any stream, and a period that no double holds */
    clock->period = clock->start_hz > 1e-200 ? 1e12 / clock->start_hz : 0.0;
}

/* Cycles from the last edge before the piece to ps: the phase at the start plus mean frequency times time. */
static double cycles(const hyoid_clock *clock, int64_t ps)
{
    double hz = clock->start_hz;
    if (clock->end_hz == hz && ps - clock->start == HYOID_PS_PER_S) {
        return clock->start_phase + hz; /* whole seconds must not add up rounding errors */
    }
    double dt = (double)(ps - clock->start);
    if (clock->end_hz != clock->start_hz) {
        double length = (double)(clock->end - clock->start);
        hz = hz + 0.5 * (clock->end_hz - clock->start_hz) * (dt / length);
    }
    return clock->start_phase + hz * dt / 1e12;
}

/* Moves the reckoning to ps, which lies within the piece. */
static void rebase(hyoid_clock *clock, int64_t ps)
{
    double total = cycles(clock, ps);
    uint64_t whole = (uint64_t)total;
    clock->start_cycle += whole;
    clock->start_phase = total - (double)whole;
}

void hyoid_clock_restore(hyoid_clock *clock)
{
    start_piece(clock, clock->start);
}

void hyoid_clock_init(hyoid_clock *clock, double hz)
{
    *clock = (hyoid_clock){.to = INT64_MAX, .from_hz = hz, .to_hz = hz};
    start_piece(clock, 0);
}

void hyoid_clock_set(hyoid_clock *clock, int64_t ps, double hz)
{
    rebase(clock, ps);
    clock->from = ps;
    clock->to = INT64_MAX;
    clock->from_hz = clock->to_hz = hz;
    start_piece(clock, ps);
}

void hyoid_clock_glide(hyoid_clock *clock, int64_t ps, int64_t end_ps, double hz)
{
    double now_hz = hyoid_clock_hz_at(clock, ps);
    rebase(clock, ps);
    clock->from = ps;
    clock->to = end_ps;
    clock->from_hz = now_hz;
    clock->to_hz = hz;
    start_piece(clock, ps);
}

void hyoid_clock_next_piece(hyoid_clock *clock)
{
    int64_t ps = clock->end;
    rebase(clock, ps);
    start_piece(clock, ps);
}

uint64_t hyoid_clock_edges_before(const hyoid_clock *clock, int64_t ps)
{
    double total = cycles(clock, ps);
    uint64_t whole = (uint64_t)total;
    /* an edge exactly at ps is not before it; the edge on which the piece starts is, once time has passed */
    if (whole > 0 && (double)whole == total) {
        whole--;
    }
    return clock->start_cycle + whole;
}

double hyoid_clock_edge(const hyoid_clock *clock, uint64_t cycle)
{
    return hyoid_clock_place(clock, cycle, 0.0);
}

double hyoid_clock_place(const hyoid_clock *clock, uint64_t cycle, double fraction)
{
    double wanted = (double)(int64_t)(cycle - clock->start_cycle) + fraction - clock->start_phase;
    if (clock->end_hz == clock->start_hz) {
        return clock->period > 0.0 ? wanted * clock->period : wanted > 0.0 ? 1e300 : 0.0;
    }
    /* start_hz t + slope t^2 / 2 = wanted, in the form that does not cancel */
    double length = (double)(clock->end - clock->start);
    double slope = (clock->end_hz - clock->start_hz) / length;
    double square = clock->start_hz * clock->start_hz + 2e12 * slope * wanted;
    double sum = clock->start_hz + hyoid_clock_root(square);
    double t = sum > 0.0 ? 2e12 * wanted / sum : 0.0;
    return t < length ? t : length;
}
