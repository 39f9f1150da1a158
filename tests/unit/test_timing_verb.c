/* hyoid timing: good captures are never called bad, and each wrong behaviour is found by the row that is about it. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/timing/measure.h"
#include "inputs.h"
#include "timing_board.h"

static hy_timing timing;
static hy_diag diag;

static const hy_timing_options exact = {.skew_ps = -1, .clock_ppm = 50.0};
static const hy_timing_options known = {.skew_ps = -1, .clock_hz = 720e3, .clock_ppm = 50.0};

static void measure(board *b, double rate, double jitter, const hy_timing_options *options)
{
    hy_partfile *part = hy_partfile_default(&diag);
    cr_assert_not_null(part, "%s", diag.text);
    FILE *in = board_capture(b, rate, jitter);
    diag.text[0] = '\0';
    cr_assert_eq(hy_timing_measure(&timing, in, "test.vcd", part, options, &diag), 0, "%s", diag.text);
    fclose(in);
    hy_partfile_free(part);
    board_free(b);
}

static hy_timing_options at_rate(double rate)
{
    return (hy_timing_options){.skew_ps = -1, .sample_hz = rate, .clock_ppm = 50.0};
}

/* The rows that fail, by their keys. */
static const char *failing(void)
{
    static char text[2000];
    text[0] = '\0';
    for (int i = 0; i < HY_ROWS; i++) {
        if (timing.rows[i].judged && timing.rows[i].verdict == HY_FAIL) {
            strcat(strcat(text, text[0] != '\0' ? " " : ""), timing.rows[i].key);
        }
    }
    return text;
}

static const hy_row *row_of(const char *key)
{
    for (int i = 0; i < HY_ROWS; i++) {
        if (strcmp(timing.rows[i].key, key) == 0) {
            return &timing.rows[i];
        }
    }
    cr_assert(0, "no row %s", key);
    return NULL;
}

/* A host that talks: answers of many lengths, some phonemes cut, inflection moving now and then. */
static void talk(board *b, unsigned phonemes)
{
    for (unsigned i = 0; i < phonemes; i++) {
        unsigned code = board_random(b, 64);
        double answer = board_random(b, 4) == 0 ? 0.001 : (double)board_random(b, 60000) * 0.01;
        double hold = board_random(b, 6) == 0 ? 2000.0 + (double)board_random(b, 20000) : 0.0;
        board_say(b, code, answer, hold);
        if (hold <= 0.0 && board_random(b, 5) == 0) {
            board_inflect(b, board_random(b, 4), 5000.0 + (double)board_random(b, 20000));
        }
    }
}

/* ---- good captures ---- */

static void expect_clean(double hz, double slope, double rate, double jitter, int pin, unsigned phonemes,
                         uint64_t seed)
{
    board b;
    board_start(&b, hz, slope, seed);
    talk(&b, phonemes);
    if (pin) {
        board_add_clock(&b);
    }
    const hy_timing_options options = at_rate(rate);
    measure(&b, rate, jitter, &options);
    cr_expect_eq(timing.failed, 0, "seed %u, clock %g, slope %g, %g samples: %s fail\n%s", (unsigned)seed, hz, slope,
                 rate, failing(), timing.note);
    cr_expect(timing.strobes == phonemes, "seed %u: %u strobes", (unsigned)seed, (unsigned)timing.strobes);
}

Test(timing_verb, good_captures_without_a_clock_pin)
{
    static const double rates[] = {0.0, 24e6, 12e6, 4e6, 1e6, 500e3};
    static const double clocks[] = {720e3, 1.02e6, 487.3e3};
    for (unsigned seed = 0; seed < 36; seed++) {
        double hz = clocks[seed / 6 % 3];
        double rate = rates[seed % 6];
        expect_clean(hz, 0.0, rate, 0.0, 0, 60, seed + 1);
        cr_expect_eq(timing.clock_by, HY_CLOCK_FITTED);
        cr_expect(fabs(timing.clock_hz / hz - 1.0) <= timing.clock_doubt + 1e-7, "seed %u: %.9g for %.9g +- %g ppm",
                  seed, timing.clock_hz, hz, timing.clock_doubt * 1e6);
        cr_expect_lt(timing.clock_doubt, 60e-6);
        if (rate == 0.0 || rate > 10e6) {
            cr_expect_eq(timing.inconclusive, 0, "seed %u", seed);
            cr_expect_eq(hy_timing_verdict(&timing), HY_PASS, "seed %u", seed);
        }
    }
}

Test(timing_verb, good_captures_with_a_clock_pin)
{
    static const double rates[] = {0.0, 24e6, 12e6};
    for (unsigned seed = 0; seed < 6; seed++) {
        expect_clean(700e3 + 9e3 * seed, seed < 3 ? 0.0 : 0.2, rates[seed % 3], 0.0, 1, 10, 100 + seed);
        cr_expect_eq(timing.clock_by, HY_CLOCK_COUNTED);
        cr_expect_eq(hy_timing_verdict(&timing), HY_PASS, "seed %u", 100 + seed);
    }
}

/* A pin that is sampled too slowly is not believed: 720 kHz at 1 MHz looks like 280 kHz, at 0.9 MHz like 180 kHz. */
Test(timing_verb, a_clock_pin_that_is_sampled_too_slowly)
{
    static const double rates[] = {1e6, 0.9e6};
    for (unsigned i = 0; i < 2; i++) {
        expect_clean(720e3, 0.0, rates[i], 0.0, 1, 12, 200 + i);
        cr_expect_eq(timing.clock_by, HY_CLOCK_FITTED, "%s", timing.note);
        cr_expect(fabs(timing.clock_hz / 720e3 - 1.0) < 1e-4, "%g", timing.clock_hz);
    }
}

Test(timing_verb, good_captures_with_jitter)
{
    for (unsigned seed = 0; seed < 8; seed++) {
        double rate = seed % 2 == 0 ? 24e6 : 4e6;
        expect_clean(720e3, 0.0, rate, 0.4 / rate, 0, 40, 300 + seed);
    }
}

/* Without a pin, and moving by 0.2 to 1.5 % a second: then it is known to a filter cycle or two, and no better. */
Test(timing_verb, good_captures_whose_clock_drifts)
{
    for (unsigned seed = 0; seed < 12; seed++) {
        double slope = (seed % 2 == 0 ? 1.0 : -1.0) * (0.002 + 0.0012 * seed);
        expect_clean(720e3, slope, seed % 3 == 0 ? 1e6 : 24e6, 0.0, 0, 120, 400 + seed);
        cr_expect_eq(timing.clock_by, HY_CLOCK_FOLLOWED, "slope %g", slope);
        cr_expect_lt(timing.clock_doubt, 5e-3);
    }
}

/* A replacement whose timer starts anew with each strobe keeps the limits as well, though its requests lie on no grid. */
Test(timing_verb, a_part_without_a_free_divider)
{
    for (unsigned seed = 0; seed < 6; seed++) {
        board b;
        board_start(&b, 720e3, 0.0, 500 + seed);
        for (unsigned i = 0; i < 60; i++) {
            board_say(&b, board_random(&b, 64), 100.0 + board_random(&b, 900), 0.0);
        }
        for (unsigned i = 0; i < 60; i++) {
            board_edge *strobe = board_find(&b, BOARD_STROBE, '1', i);
            double s = strobe->s;
            unsigned code = 0;
            for (board_edge *e = b.edge; e <= strobe; e++) {
                code = e->pin > 5 ? code : e->level == '1' ? code | 1u << e->pin : code & ~(1u << e->pin);
            }
            double clocks = 36.0 * hyoid_part_default()->phoneme[code].duration - 4.0 * seed;
            board_find(&b, BOARD_REQUEST, '1', i)->s = s + clocks / 720e3;
        }
        measure(&b, 24e6, 0.0, &exact);
        cr_expect_eq(timing.clock_by, HY_CLOCK_FITTED);
        cr_expect_eq(hy_timing_verdict(&timing), HY_PASS, "seed %u: %s fail, %u inconclusive", seed, failing(),
                     timing.inconclusive);
    }
}

/* ---- wrong behaviours ---- */

static void plain(board *b, unsigned phonemes)
{
    for (unsigned i = 0; i < phonemes; i++) {
        board_say(b, (i * 7 + 3) & 63, 300.3, 0.0);
    }
}

static board begin(uint64_t seed)
{
    board b;
    board_start(&b, 720e3, 0.0, seed);
    return b;
}

/* Exactly this row fails, at a simulator's and at an analyser's resolution. */
static void expect_only(board *b, const hy_timing_options *options, const char *row)
{
    board again = *b;
    again.edge = malloc(b->count * sizeof *b->edge);
    cr_assert_not_null(again.edge);
    memcpy(again.edge, b->edge, b->count * sizeof *b->edge);
    again.room = b->count;
    measure(b, 0.0, 0.0, options);
    cr_expect_str_eq(failing(), row, "simulator: %s fail instead of %s", failing(), row);
    hy_timing_options sampled = *options;
    sampled.sample_hz = 12e6;
    measure(&again, 12e6, 0.0, &sampled);
    cr_expect_str_eq(failing(), row, "12 MHz: %s fail instead of %s", failing(), row);
}

Test(timing_verb, nothing_is_wrong)
{
    board b = begin(1);
    plain(&b, 30);
    expect_only(&b, &exact, "");
}

Test(timing_verb, one_code_lasts_too_long)
{
    board b = begin(2);
    plain(&b, 30);
    board_find(&b, BOARD_REQUEST, '1', 5)->s += 60e-6; /* of the code 0x26: a filter cycle is 50 us */
    expect_only(&b, &known, "duration:0x26");
}

Test(timing_verb, one_code_is_too_short)
{
    board b = begin(3);
    plain(&b, 30);
    board_find(&b, BOARD_REQUEST, '1', 4)->s -= 120e-6;
    expect_only(&b, &exact, "duration:0x1f");
}

Test(timing_verb, request_falls_late)
{
    board b = begin(4);
    plain(&b, 30);
    board_find(&b, BOARD_REQUEST, '0', 7)->s += 3e-6;
    expect_only(&b, &exact, "latency");
}

Test(timing_verb, request_falls_before_it_can)
{
    board b = begin(5);
    plain(&b, 30);
    board_find(&b, BOARD_REQUEST, '0', 7)->s = board_find(&b, BOARD_STROBE, '1', 7)->s + 0.3e-6;
    expect_only(&b, &exact, "latency");
}

Test(timing_verb, a_strobe_is_missed)
{
    board b = begin(6);
    plain(&b, 30);
    board_remove(&b, board_find(&b, BOARD_REQUEST, '0', 9));
    board_remove(&b, board_find(&b, BOARD_REQUEST, '1', 9));
    expect_only(&b, &exact, "missed");
}

Test(timing_verb, request_is_stuck_high)
{
    board b = begin(7);
    cr_assert_eq(hyoid_chip_set_fault(&b.chip, HYOID_FAULT_REQUEST_HIGH, 1.0), HYOID_OK);
    plain(&b, 12);
    expect_only(&b, &known, "missed");
}

Test(timing_verb, request_is_stuck_low)
{
    board b = begin(8);
    plain(&b, 6);
    cr_assert_eq(hyoid_chip_set_fault(&b.chip, HYOID_FAULT_REQUEST_LOW, 1.0), HYOID_OK);
    plain(&b, 6);
    measure(&b, 0.0, 0.0, &known);
    cr_expect_not_null(strstr(failing(), "overdue"), "%s", failing());
}

Test(timing_verb, a_strobe_bounces)
{
    board b = begin(9);
    plain(&b, 30);
    double s = board_find(&b, BOARD_STROBE, '0', 11)->s;
    board_edge_add(&b, s + 4e-6, BOARD_STROBE, '1');
    board_edge_add(&b, s + 6e-6, BOARD_STROBE, '0');
    measure(&b, 0.0, 0.0, &exact);
    cr_expect_not_null(strstr(failing(), "doubled"), "%s", failing());
    cr_expect_eq(row_of("doubled")->mean, 1.0);
    cr_expect(timing.failed_host >= 1);
}

Test(timing_verb, the_code_changes_under_the_strobe)
{
    board b = begin(10);
    plain(&b, 30);
    double s = board_find(&b, BOARD_STROBE, '1', 12)->s;
    board_edge_add(&b, s + 4e-6, 0, '0'); /* of 0x17 */
    expect_only(&b, &exact, "code_moves");
    cr_expect_eq(timing.failed_host, 1);
}

Test(timing_verb, request_falls_unasked)
{
    board b = begin(11);
    plain(&b, 30);
    double s = board_find(&b, BOARD_REQUEST, '1', 13)->s;
    board_edge_add(&b, s + 10e-6, BOARD_REQUEST, '0');
    board_edge_add(&b, s + 20e-6, BOARD_REQUEST, '1');
    expect_only(&b, &exact, "unasked");
}

Test(timing_verb, a_pin_floats)
{
    board b = begin(12);
    plain(&b, 30);
    double s = board_find(&b, BOARD_REQUEST, '1', 13)->s;
    board_edge_add(&b, s - 10e-3, BOARD_REQUEST, 'x');
    board_edge_add(&b, s - 9e-3, BOARD_REQUEST, '0');
    expect_only(&b, &exact, "unknown");
}

Test(timing_verb, the_timer_runs_at_half_speed)
{
    board b = begin(13);
    cr_assert_eq(hyoid_chip_set_fault(&b.chip, HYOID_FAULT_TIMER_SLOW, 1.0), HYOID_OK);
    plain(&b, 10);
    measure(&b, 0.0, 0.0, &known);
    cr_expect_eq(timing.failed, 10, "%s", failing());
    cr_expect_eq(row_of("duration:0x03")->verdict, HY_FAIL);
    cr_expect_eq(row_of("latency")->verdict, HY_PASS);
}

Test(timing_verb, the_divider_runs_at_half_speed)
{
    board b = begin(14);
    cr_assert_eq(hyoid_chip_set_fault(&b.chip, HYOID_FAULT_DIVIDER_SLOW, 1.0), HYOID_OK);
    plain(&b, 6);
    board_add_clock(&b);
    measure(&b, 0.0, 0.0, &exact); /* the clock's own pin shows it */
    cr_expect_eq(timing.clock_by, HY_CLOCK_COUNTED);
    cr_expect_eq(timing.failed, 6, "%s", failing());
}

Test(timing_verb, a_bit_of_the_code_is_stuck)
{
    board b = begin(15);
    cr_assert_eq(hyoid_chip_set_fault(&b.chip, HYOID_FAULT_P0_LOW, 1.0), HYOID_OK);
    for (unsigned i = 0; i < 12; i++) {
        board_say(&b, i, 30.3, 0.0);
    }
    measure(&b, 0.0, 0.0, &exact);
    for (int code = 0; code < 12; code++) {
        const hy_row *row = &timing.rows[HY_ROW_DURATION + code];
        unsigned spoken = hyoid_part_default()->phoneme[code & ~1].duration;
        int differs = spoken != hyoid_part_default()->phoneme[code].duration;
        cr_expect_eq(row->verdict, differs ? HY_FAIL : HY_PASS, "code %d: %s", code, failing());
    }
}

Test(timing_verb, a_cut_does_not_start_the_timer)
{
    board b = begin(16);
    plain(&b, 10);
    board_say(&b, 2, 30.3, 30000.0); /* 121 ms, cut after 42 */
    board_say(&b, 21, 1.0, 0.0);     /* its request comes when that of the first was due */
    plain(&b, 10);
    board_edge *rise = board_find(&b, BOARD_REQUEST, '1', 10);
    rise->s = board_find(&b, BOARD_STROBE, '1', 10)->s + 0.121;
    expect_only(&b, &exact, "after_cut");
}

Test(timing_verb, inflection_starts_the_timer)
{
    board b = begin(17);
    plain(&b, 10);
    board_say(&b, 2, 30.3, 0.0);
    board_inflect(&b, 2, 20000.0);
    double s = board_find(&b, BOARD_REQUEST, '1', 10)->s; /* its last edge so far */
    board_find(&b, BOARD_REQUEST, '1', 10)->s = s + 20000.0 / 720e3;
    hyoid_chip_step(&b.chip, 21000); /* the host waits as long */
    plain(&b, 10);
    expect_only(&b, &exact, "inflected");
}

Test(timing_verb, a_few_faults_do_not_bend_the_clock)
{
    board b = begin(18);
    plain(&b, 64);
    for (unsigned i = 0; i < 6; i++) { /* one in ten is long */
        board_find(&b, BOARD_REQUEST, '1', i * 10 + 2)->s += 2e-5 * (double)(i + 4);
    }
    measure(&b, 12e6, 0.0, &(hy_timing_options){.skew_ps = -1, .sample_hz = 12e6});
    cr_expect_eq(timing.clock_by, HY_CLOCK_FITTED);
    cr_expect(fabs(timing.clock_hz / 720e3 - 1.0) < 30e-6, "%.9g", timing.clock_hz);
    cr_expect_eq(timing.failed, 6, "%s", failing());
}

/* ---- glitches ---- */

Test(timing_verb, glitches_are_passed_over_if_that_is_asked)
{
    for (int asked = 0; asked <= 1; asked++) {
        board b = begin(19);
        plain(&b, 20);
        for (unsigned i = 0; i < 10; i++) {
            double s = board_find(&b, BOARD_STROBE, '0', i)->s + 0.02;
            board_edge_add(&b, s, BOARD_STROBE, '1');
            board_edge_add(&b, s + 100e-9, BOARD_STROBE, '0');
        }
        measure(&b, 0.0, 0.0, &(hy_timing_options){.skew_ps = -1, .glitch_ps = asked ? 200000 : 0});
        cr_expect_eq(timing.strobes, asked ? 20 : 30);
        cr_expect_eq(timing.failed == 0, asked, "%s", failing());
        cr_expect_eq(row_of("glitches")->mean, asked ? 10.0 : 0.0);
    }
}

/* ---- what can't be told is not told ---- */

Test(timing_verb, a_coarse_capture_is_inconclusive)
{
    board b = begin(20);
    plain(&b, 20);
    const hy_timing_options options = at_rate(200e3);
    measure(&b, 200e3, 0.0, &options);
    cr_expect_eq(row_of("latency")->verdict, HY_INCONCLUSIVE);
    cr_expect_eq(timing.failed, 0, "%s", failing());
    cr_expect_eq(hy_timing_verdict(&timing), HY_INCONCLUSIVE);
}

/* A capture may begin at any moment: within a strobe, within a phoneme. */
Test(timing_verb, a_capture_that_begins_late)
{
    static const double from[] = {2e-6, 5e-6, 20e-3};
    for (unsigned i = 0; i < 3; i++) {
        board b = begin(30 + i);
        plain(&b, 20);
        double start = board_find(&b, BOARD_STROBE, '1', 4)->s + from[i];
        for (size_t k = 0; k < b.count; k++) {
            b.edge[k].s = b.edge[k].s > start ? b.edge[k].s - start : 0.0;
        }
        expect_only(&b, &exact, "");
        cr_expect_eq(timing.strobes, 15);
    }
}

Test(timing_verb, an_empty_capture)
{
    board b = begin(21);
    measure(&b, 0.0, 0.0, &exact);
    cr_expect_eq(timing.strobes, 0);
    cr_expect_eq(timing.clock_by, HY_CLOCK_UNKNOWN);
    cr_expect_not_null(strstr(timing.note, "strobe never rises"));
    cr_expect_eq(hy_timing_verdict(&timing), HY_INCONCLUSIVE);
}

/* A dump of an analyser's program, whose time stamps are finer than its samples. */
Test(timing_verb, the_sample_rate_shows_in_the_edges)
{
    static const double rates[] = {24e6, 12e6, 1e6};
    for (unsigned i = 0; i < 3; i++) {
        board b = begin(22 + i);
        talk(&b, 30);
        measure(&b, rates[i], 0.0, &exact);
        cr_expect(fabs(timing.sample_ps * rates[i] / 1e12 - 1.0) < 1e-3, "%g Hz: %g ps", rates[i], timing.sample_ps);
        cr_expect_eq(timing.failed, 0);
        cr_expect_geq((double)timing.skew_ps, timing.sample_ps);
    }
}
