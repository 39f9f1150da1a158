/* From a microcontroller's edges and pins to a write log, and the chip beside it. Random cases print their seed. */
#include <criterion/criterion.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/firmware/board.h"
#include "../../frontends/firmware/clocklog.h"
#include "../../frontends/firmware/ticks.h"

static hy_diag diag;

static uint64_t roll(uint64_t *seed, uint64_t n)
{
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed % n;
}

/* ---- time ---- */

Test(firmware, ticks_are_rounded_down_exactly)
{
    double fraction;
    cr_expect_eq(hy_ticks_ps(4, 16000000, &fraction), 62500);
    cr_expect_eq(fraction, 0.0);
    cr_expect_eq(hy_ticks_ps(1, 14400000, &fraction), 17361); /* 1e12 / 57.6e6 = 17361.11 */
    cr_expect_float_eq(fraction, 1.0 / 9.0, 1e-15);
    cr_expect_eq(hy_ticks_ps(UINT64_C(86400) * 4 * 14400000 + 57599999, 14400000, &fraction),
                 INT64_C(86400) * HYOID_PS_PER_S + INT64_C(999999982638));
    cr_expect_float_eq(fraction, 8.0 / 9.0, 1e-15);
}

Test(firmware, a_cycle_starts_at_or_after_its_time)
{
    uint64_t seed = 20261125;
    for (int i = 0; i < 100000; i++) {
        uint32_t hz = (uint32_t)(1000 + roll(&seed, 24999000));
        int64_t ps = (int64_t)roll(&seed, UINT64_C(86400) * HYOID_PS_PER_S);
        uint64_t cycle = hy_ticks_cycle(ps, hz);
        double fraction;
        int64_t at = hy_ticks_ps(cycle * HY_TICKS, hz, &fraction);
        cr_assert(at >= ps, "seed 20261125, case %d", i);
        cr_assert(cycle == 0 || hy_ticks_ps((cycle - 1) * HY_TICKS, hz, &fraction) < ps, "seed 20261125, case %d", i);
    }
}

/* ---- a clock of edges as rows ---- */

typedef struct told {
    uint64_t tick, edges; /* edges so far */
} told;

enum { EVENTS_MAX = 4000 };

/* Plays the log and compares the clocks at each event with the edges that there were. Returns the log's rows. */
static uint64_t compare_counts(hy_log *log, const told *events, size_t count, const char *what)
{
    hyoid_stream stream;
    hyoid_stream_init(&stream, hyoid_part_default(), 0, NULL);
    hy_event event;
    size_t at = 0;
    uint64_t rows = 0;
    cr_assert_eq(hy_log_rewind(log, &diag), 0);
    while (hy_log_next(log, &event, &diag) > 0) {
        cr_assert_eq(hyoid_stream_run(&stream, event.ps), HYOID_OK);
        if (event.signal == HY_CLOCK) {
            cr_assert_eq(hyoid_stream_set_clock(&stream, event.ps, event.hz), HYOID_OK);
            rows++;
        } else if (event.signal == HY_MARK) {
            cr_assert_lt(at, count);
            cr_assert_eq(stream.chip.cycle, events[at].edges, "%s: event %zu: %" PRIu64 " clocks, not %" PRIu64, what,
                         at, stream.chip.cycle, events[at].edges);
            at++;
        }
    }
    cr_assert_eq(at, count);
    return rows;
}

typedef uint64_t next_period(uint64_t *seed, uint64_t period);

static uint64_t steady(uint64_t *seed, uint64_t period)
{
    (void)seed;
    return period;
}

static uint64_t sweeping(uint64_t *seed, uint64_t period)
{
    return roll(seed, 50) != 0 ? period : 4 * (4 + roll(seed, 200));
}

/* Bit-banged, with stops. */
static uint64_t ragged(uint64_t *seed, uint64_t period)
{
    (void)period;
    return roll(seed, 1000) == 0 ? 1 + roll(seed, 100000000) : 1 + roll(seed, 400);
}

/* Between kilohertz and hertz: what a row rounds weighs most when the clock then is slow. */
static uint64_t leaping(uint64_t *seed, uint64_t period)
{
    (void)period;
    return roll(seed, 2) == 0 ? 1 + roll(seed, 100) : 4 * (1 + roll(seed, 10000000));
}

static uint64_t clock_case(next_period *next, uint64_t seed, size_t edges, const char *name)
{
    static told events[EVENTS_MAX];
    char what[80];
    snprintf(what, sizeof what, "%s, seed %" PRIu64, name, seed);
    uint64_t s = seed;
    uint32_t hz = (uint32_t)(1000000 + roll(&s, 24000001));
    hy_log *log = hy_log_new(&diag);
    hy_clocklog c;
    cr_assert_eq(hy_clocklog_init(&c, log, hz, &diag), 0, "%s", diag.text);
    const hy_event mark = {.signal = HY_MARK};
    hy_log_add_mark(log, "x", &diag);
    size_t count = 0;
    uint64_t period = 4 * (4 + roll(&s, 60)), tick = roll(&s, 1000000) * 4 + 4, edge = tick;
    for (uint64_t done = 1; done <= edges; done++) {
        cr_assert_eq(hy_clocklog_edge(&c, edge), 0, "%s", diag.text);
        period = next(&s, period);
        /* events between this edge and the next, a quarter of a cycle or more from both */
        uint64_t e = edge + 1;
        while (e < edge + period && count < EVENTS_MAX && roll(&s, edges) < EVENTS_MAX) {
            cr_assert_eq(hy_clocklog_event(&c, e, &mark), 0, "%s", diag.text);
            events[count++] = (told){e, done};
            e += 1 + roll(&s, period);
        }
        edge += period;
    }
    cr_assert_eq(hy_clocklog_finish(&c, edge), 0, "%s", diag.text);
    cr_assert_gt(count, 100);
    uint64_t rows = compare_counts(log, events, count, what);
    hy_clocklog_free(&c);
    hy_log_free(log);
    return rows;
}

Test(firmware, a_steady_clock_is_two_rows_and_loses_no_clock)
{
    for (uint64_t seed = 1; seed <= 10; seed++) {
        cr_expect_leq(clock_case(steady, seed, 300000, "steady"), 2, "seed %" PRIu64, seed);
    }
}

Test(firmware, any_clock_has_as_many_edges_between_events_in_the_log)
{
    for (uint64_t seed = 1; seed <= 10; seed++) {
        clock_case(sweeping, seed, 100000, "sweeping");
        clock_case(ragged, seed, 20000, "ragged");
        clock_case(leaping, seed, 5000, "leaping");
    }
}

/* With 16 MHz / 22, a row's time is a whole number of ps and its frequency the nearest double. */
Test(firmware, the_rows_are_the_plain_frequencies)
{
    hy_log *log = hy_log_new(&diag);
    hy_clocklog c;
    cr_assert_eq(hy_clocklog_init(&c, log, 16000000, &diag), 0);
    for (uint64_t i = 1; i <= 100; i++) {
        cr_assert_eq(hy_clocklog_edge(&c, 4000 + i * 88), 0);
    }
    for (uint64_t i = 1; i <= 100; i++) {
        cr_assert_eq(hy_clocklog_edge(&c, 4000 + 8800 + i * 80), 0);
    }
    cr_assert_eq(hy_clocklog_finish(&c, 4000 + 8800 + 8000 + 40), 0);
    static const struct {
        int64_t ps;
        double hz;
    } expected[] = {{0, 0.0}, {4000 * 15625, 16e6 / 22}, {12800 * 15625, 800e3}};
    hy_event event;
    size_t at = 0;
    hy_log_rewind(log, &diag);
    while (hy_log_next(log, &event, &diag) > 0) {
        cr_assert_lt(at, 3);
        cr_expect_eq(event.ps, expected[at].ps);
        cr_expect_eq(event.hz, expected[at].hz);
        at++;
    }
    cr_expect_eq(at, 3);
    hy_clocklog_free(&c);
    hy_log_free(log);
}

/* ---- the board ---- */

/* Plays a board's log and compares request at each change of a pin with what the board's chip showed then. */
static void compare_requests(hy_log *log, const uint8_t *shown, size_t count, uint64_t latch_cycle, uint64_t seed)
{
    hyoid_stream stream;
    hyoid_stream_init(&stream, hyoid_part_default(), 0, NULL);
    hy_event event;
    size_t at = 0;
    cr_assert_eq(hy_log_rewind(log, &diag), 0);
    while (hy_log_next(log, &event, &diag) > 0) {
        cr_assert_eq(hyoid_stream_run(&stream, event.ps), HYOID_OK);
        if (event.signal == HY_CLOCK) {
            hyoid_stream_set_clock(&stream, event.ps, event.hz);
        } else if (event.signal == HY_PIN && event.ps > 0) {
            int pin = event.number / 2;
            unsigned level = (unsigned)event.number % 2, code = stream.chip.code;
            cr_assert_lt(at, count);
            cr_assert_eq(hyoid_chip_request(&stream.chip), shown[at], "seed %" PRIu64 ", change %zu", seed, at);
            at++;
            if (pin == HY_STROBE) {
                hyoid_stream_set_strobe(&stream, event.ps, level);
            } else if (pin <= HY_P5) {
                hyoid_stream_set_code(&stream, event.ps, level ? code | 1u << pin : code & ~(1u << pin));
            }
        }
    }
    cr_expect_eq(at, count);
    cr_expect_eq(stream.chip.latch_cycle, latch_cycle, "seed %" PRIu64, seed);
}

Test(firmware, the_chip_beside_and_the_log_agree_edge_by_edge)
{
    static uint8_t shown[EVENTS_MAX];
    const uint8_t low[HY_PINS] = {0};
    for (uint64_t seed = 1; seed <= 20; seed++) {
        uint64_t s = seed;
        hy_log *log = hy_log_new(&diag);
        hy_board b;
        cr_assert_eq(hy_board_init(&b, hyoid_part_default(), 14400000, -1.0, low, log, &diag), 0, "%s", diag.text);
        hyoid_chip beside; /* the same, clock by clock */
        hyoid_chip_init(&beside, hyoid_part_default());
        uint64_t tick = 4000, period = 80, edges = 0;
        size_t count = 0;
        for (; edges < 400000 && count < EVENTS_MAX; edges++) {
            period = roll(&s, 3000) != 0 ? period : 4 * (8 + roll(&s, 40));
            tick += period;
            cr_assert_eq(hy_board_edge(&b, tick), 0, "%s", diag.text);
            hyoid_chip_step(&beside, 1);
            cr_assert_eq(b.request, hyoid_chip_request(&beside), "seed %" PRIu64 ", edge %" PRIu64, seed, edges);
            if (roll(&s, 300) == 0) {
                int pin = roll(&s, 3) == 0 ? (int)roll(&s, 6) : HY_STROBE;
                shown[count++] = (uint8_t)b.request;
                cr_assert_eq(hy_board_pin(&b, tick + 2 + 4 * roll(&s, period / 8), (hy_pin)pin, !b.level[pin]), 0);
                hyoid_chip_set_code(&beside, (unsigned)(b.level[0] | b.level[1] << 1 | b.level[2] << 2 |
                                                        b.level[3] << 3 | b.level[4] << 4 | b.level[5] << 5));
                hyoid_chip_set_strobe(&beside, b.level[HY_STROBE]);
            }
        }
        cr_assert_eq(hy_board_finish(&b, tick + 8, tick + 8), 0, "%s", diag.text);
        hyoid_chip_step(&b.chip, b.edges - b.chip.cycle);
        compare_requests(log, shown, count, b.chip.latch_cycle, seed);
        hy_board_free(&b);
        hy_log_free(log);
    }
}

/* What the board foretells of request is what a chip does to which nothing more is done. */
Test(firmware, request_is_foretold_to_the_cycle)
{
    const uint8_t low[HY_PINS] = {0};
    for (uint64_t seed = 1; seed <= 20; seed++) {
        uint64_t s = seed;
        hy_log *log = hy_log_new(&diag);
        hy_board b;
        uint32_t hz = (uint32_t)(8000000 + roll(&s, 12000000));
        cr_assert_eq(hy_board_init(&b, hyoid_part_default(), hz, 720e3, low, log, &diag), 0, "%s", diag.text);
        uint64_t cycle = 100;
        for (int i = 0; i < 60; i++) {
            uint64_t tick = cycle * HY_TICKS + 2, change;
            hy_pin pin = i % 2 == 0 ? HY_STROBE : (hy_pin)roll(&s, 6);
            hy_board_pin(&b, tick, HY_STROBE, 0);
            hy_board_pin(&b, tick, pin, !b.level[pin]);
            cr_assert_eq(hy_board_next_request(&b, tick, &change), 0, "%s", diag.text);
            int level, wanted = !b.request;
            if (change == UINT64_MAX) {
                cr_assert(hyoid_chip_request(&b.stream.chip) && !b.stream.chip.caught);
                cycle += 50;
                continue;
            }
            cr_assert_eq(hyoid_stream_request_at(&b.stream, hy_ticks_ps(change * HY_TICKS, hz, NULL), &level),
                         HYOID_OK);
            cr_expect_eq(level, wanted, "seed %" PRIu64 ", step %d", seed, i);
            if (change > cycle + 1) {
                int64_t before = hy_ticks_ps((change - 1) * HY_TICKS, hz, NULL);
                cr_assert_eq(hyoid_stream_request_at(&b.stream, before, &level), HYOID_OK);
                cr_expect_eq(level, !wanted, "seed %" PRIu64 ", step %d", seed, i);
            }
            if (roll(&s, 3) != 0) { /* wait for it, or strobe again before */
                hy_board_show_request(&b, change);
                cycle = change + roll(&s, 50);
            } else {
                cycle += 1 + roll(&s, (change - cycle) / 2 + 1);
            }
        }
        hy_board_free(&b);
        hy_log_free(log);
    }
}

Test(firmware, a_strobe_that_is_high_from_the_start_is_no_edge)
{
    const uint8_t high[HY_PINS] = {[HY_STROBE] = 1};
    hy_log *log = hy_log_new(&diag);
    hy_board b;
    cr_assert_eq(hy_board_init(&b, hyoid_part_default(), 16000000, 720e3, high, log, &diag), 0, "%s", diag.text);
    uint64_t change;
    hy_board_pin(&b, 402, HY_STROBE, 1);
    cr_assert_eq(hy_board_next_request(&b, 402, &change), 0);
    cr_expect_eq(change, UINT64_MAX);
    hy_board_pin(&b, 802, HY_STROBE, 0);
    hy_board_pin(&b, 1202, HY_STROBE, 1);
    cr_assert_eq(hy_board_next_request(&b, 1202, &change), 0);
    cr_expect_neq(change, UINT64_MAX);
    cr_expect_eq(b.strobing.strobes, 1);
    hy_board_free(&b);
    hy_log_free(log);
}
