/* hyoid calibrate --capture: durations and request's delay of parts that nobody tuned, from captures at odd clocks. */
#include <criterion/criterion.h>
#include <stdlib.h>

#include "../../frontends/calibrate/pins.h"
#include "inputs.h"
#include "scratch.h"
#include "timing_board.h"

static hy_diag diag;
static hyoid_part part;
static unsigned strobes;

/* Durations by up to 10 % off and no whole milliseconds, which would be 20 cycles; any delay up to 5 clocks. */
static void make_part(uint64_t seed)
{
    board chance = {.seed = seed * 2 + 1};
    part = *hyoid_part_default();
    for (int i = 0; i < 10; i++) {
        board_random(&chance, 2);
    }
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        unsigned old = part.phoneme[c].duration;
        unsigned now = old * 9 / 10 + board_random(&chance, old / 5 + 1);
        part.phoneme[c].duration = (uint16_t)(now % 20 == 0 ? now + 7 : now);
    }
    part.request_delay = board_random(&chance, 6);
}

/* Every code twice, once where the clock's edges make the capture long, from a host whose answers fall anywhere within a filter cycle, into a file of the scratch folder. */
static const char *capture(double hz, double slope, uint64_t seed, double rate, int with_clock)
{
    board b;
    make_part(seed);
    board_start_part(&b, &part, hz, slope, seed);
    strobes = with_clock ? HYOID_PHONEMES : 2 * HYOID_PHONEMES;
    for (unsigned i = 0; i < strobes; i++) {
        board_say(&b, i < HYOID_PHONEMES ? i : 2 * HYOID_PHONEMES - 1 - i, 20.0 + board_random(&b, 100000) * 0.013,
                  0.0);
    }
    if (with_clock) {
        board_add_clock(&b);
    }
    FILE *in = board_capture(&b, rate, 0.0), *out = fopen(scratch("board.vcd"), "wb");
    cr_assert_not_null(out);
    static char block[65536];
    for (size_t n; (n = fread(block, 1, sizeof block, in)) > 0;) {
        cr_assert_eq(fwrite(block, 1, n, out), n);
    }
    cr_assert_eq(fclose(out), 0);
    fclose(in);
    board_free(&b);
    return scratch("board.vcd");
}

static int measure(hy_pins *pins, const char *path, double hz)
{
    hy_partfile *prior = hy_partfile_default(&diag);
    cr_assert_not_null(prior, "%s", diag.text);
    diag.text[0] = '\0';
    *pins = (hy_pins){.path = path};
    int status = hy_pins_measure(pins, prior, hz, &diag);
    hy_partfile_free(prior);
    return status;
}

/* What is told holds the truth, whatever the rate; returns how many durations are told exactly. */
static unsigned check(const hy_pins *pins, const char *what)
{
    unsigned exact = 0;
    cr_assert(pins->measured, "%s", what);
    cr_expect_eq(pins->contradicted, 0, "%s", what);
    cr_expect_eq(pins->strobes, strobes, "%s", what);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        unsigned truth = part.phoneme[c].duration;
        cr_expect(pins->least[c] <= truth && truth <= pins->most[c], "%s, code %02x: %u..%u, not %u", what, c,
                  pins->least[c], pins->most[c], truth);
        exact += pins->least[c] == pins->most[c];
    }
    cr_expect_eq(exact, pins->exact, "%s", what);
    cr_expect(pins->delay_least < 0 ||
                  (pins->delay_least <= (int)part.request_delay && (int)part.request_delay <= pins->delay_most),
              "%s: delay %d..%d, not %u", what, pins->delay_least, pins->delay_most, part.request_delay);
    return exact;
}

Test(pins, constants_come_back_exactly, .init = scratch_begin, .fini = scratch_end)
{
    static const struct {
        double rate, hz;
        int with_clock, delay_told; /* delay_told: it must be */
        unsigned exact;             /* so many durations must be */
    } cases[] = {{1e6, 693217, 0, 0, 60},  {4e6, 693217, 0, 0, 60},  {4e6, 781003, 1, 0, 56},
                 {24e6, 651907, 1, 1, 56}, {24e6, 693217, 0, 1, 60}, {0, 1013579, 1, 1, 56}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char what[80];
        hy_pins pins;
        const char *path = capture(cases[i].hz, 0.0, 40 + i, cases[i].rate, cases[i].with_clock);
        snprintf(what, sizeof what, "seed %zu, %g MHz, %g Hz", 40 + i, cases[i].rate * 1e-6, cases[i].hz);
        cr_assert_eq(measure(&pins, path, cases[i].with_clock ? 0.0 : cases[i].hz), 0, "%s: %s", what, diag.text);
        unsigned exact = check(&pins, what);
        fprintf(stderr, "%s: %u of 64 exact, delay %d..%d (%u)\n", what, exact, pins.delay_least, pins.delay_most,
                part.request_delay);
        cr_expect_geq(exact, cases[i].exact, "%s: %u exact", what, exact);
        cr_expect(!cases[i].delay_told || hy_pins_delay(&pins) == (int)part.request_delay, "%s: delay %d, not %u",
                  what, hy_pins_delay(&pins), part.request_delay);
        if (cases[i].with_clock && cases[i].rate > 0) { /* a simulator's rounding looks like a clock that moves */
            cr_expect_float_eq(pins.clock_hz, cases[i].hz, 1e-5 * cases[i].hz, "%s: clock %.3f", what, pins.clock_hz);
        }
    }
}

Test(pins, no_clock_no_figures, .init = scratch_begin, .fini = scratch_end)
{
    hy_pins pins;
    cr_assert_eq(measure(&pins, capture(693217, 0.0, 3, 24e6, 0), 0.0), 0, "%s", diag.text);
    cr_expect_not(pins.measured);
    cr_expect_eq(hy_pins_duration(&pins, 3, 1000), 0);
    cr_expect_eq(hy_pins_delay(&pins), -1);
}

/* The nominal clock given for another, or one that drifted: every duration would be wrong, and some would be called exact. */
Test(pins, a_wrong_clock_is_refused, .init = scratch_begin, .fini = scratch_end)
{
    static const double wrong[] = {0.96, 0.995, 0.999, 1.001, 1.005, 1.04};
    hy_pins pins;
    const char *path = capture(693217, 0.0, 5, 4e6, 0);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        cr_expect_eq(measure(&pins, path, 693217 * wrong[i]), -1, "%g", wrong[i]);
        cr_expect(strstr(diag.text, "no whole filter cycles") != NULL, "%g: %s", wrong[i], diag.text);
    }
    cr_expect_eq(measure(&pins, path, 693217 * 1.00005), 0, "50 ppm: %s", diag.text);
    check(&pins, "50 ppm off");
}

/* A clock that moves is followed on its pin, but is no clock of a recording's. */
Test(pins, a_moving_clock_is_counted, .init = scratch_begin, .fini = scratch_end)
{
    hy_pins pins;
    cr_assert_eq(measure(&pins, capture(693217, 2e-3, 8, 24e6, 1), 0.0), 0, "%s", diag.text);
    cr_expect_geq(check(&pins, "moving"), 56);
    cr_expect_eq(pins.clock_hz, 0.0);
}

Test(pins, the_nearest_of_what_fits)
{
    hy_pins pins = {.measured = 1, .delay_least = 1, .delay_most = 2};
    pins.least[7] = 100;
    pins.most[7] = 103;
    cr_expect_eq(hy_pins_duration(&pins, 7, 90), 100);
    cr_expect_eq(hy_pins_duration(&pins, 7, 101.6), 102);
    cr_expect_eq(hy_pins_duration(&pins, 7, 1e6), 103);
    cr_expect_eq(hy_pins_duration(&pins, 8, 1000), 0);
    cr_expect_eq(hy_pins_delay(&pins), -1);
}
