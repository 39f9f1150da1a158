/* Strobe, latch, request: every rule and every row of the case table in docs/chip.md, clock by clock. */
#include <criterion/criterion.h>

#include "core_bench.h"

enum { FILTER = 36 };

Test(handshake, request_is_high_and_the_pin_silent_at_power_up)
{
    bench *b = bench_new();
    cr_assert_eq(hyoid_chip_request(&b->chip), 1);
    for (int i = 0; i < 10000; i++) {
        hyoid_chip_step(&b->chip, 1);
        cr_assert_eq(hyoid_chip_request(&b->chip), 1);
        cr_assert(hyoid_chip_output(&b->chip) == 0.0);
    }
    free(b);
}

/* Rules 3 and 4: the fall `request_delay` clocks after the latch; the rise at the D-th filter cycle that starts after
 * the latch's clock; for all codes and for every position of the latch within a filter cycle that matters. */
Test(handshake, every_code_lasts_its_duration_from_every_phase)
{
    static const unsigned phases[] = {0, 1, 17, 18, 34, 35};
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (size_t i = 0; i < sizeof phases / sizeof phases[0]; i++) {
            bench *b = bench_new();
            hyoid_chip_step(&b->chip, phases[i]);
            hyoid_chip_write(&b->chip, code);
            cr_assert_eq(hyoid_chip_request(&b->chip), 1, "a strobe between clocks changes nothing yet");
            const uint64_t latch = phases[i] + 1, d = bench_duration(b, code);
            const uint64_t fall = bench_until_request(b, 0, 100);
            cr_assert_eq(b->chip.latch_cycle, latch);
            cr_assert_eq(fall, latch + 1, "code %02x phase %u: fell in clock %llu", code, phases[i],
                         (unsigned long long)fall);
            const uint64_t rise = bench_until_request(b, 1, FILTER * 10000);
            const uint64_t first_counted = (latch / FILTER + 1) * FILTER;
            cr_assert_eq(rise, first_counted + FILTER * (d - 1), "code %02x phase %u", code, phases[i]);
            cr_assert(rise - latch > FILTER * (d - 1) && rise - latch <= FILTER * d);
            free(b);
        }
    }
}

Test(handshake, a_host_that_answers_at_once_gives_onsets_exactly_d_filter_cycles_apart)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        bench *b = bench_new();
        uint64_t latched[4];
        for (int i = 0; i < 4; i++) {
            bench_until_request(b, 1, FILTER * 10000);
            hyoid_chip_write(&b->chip, code);
            hyoid_chip_step(&b->chip, 1);
            latched[i] = b->chip.latch_cycle;
            hyoid_chip_step(&b->chip, 1);
        }
        cr_assert_eq(latched[2] - latched[1], (uint64_t)FILTER * bench_duration(b, code));
        cr_assert_eq(latched[3] - latched[2], (uint64_t)FILTER * bench_duration(b, code));
        free(b);
    }
}

Test(handshake, a_strobe_in_the_clock_in_which_the_timer_ends_wins_for_every_code)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        bench *b = bench_new();
        hyoid_chip_write(&b->chip, code);
        const uint64_t rise = hyoid_chip_request_cycle(&b->chip);
        hyoid_chip_step(&b->chip, rise - 1);
        cr_assert_eq(hyoid_chip_request(&b->chip), 0);
        hyoid_chip_write(&b->chip, 0x2c);
        hyoid_chip_step(&b->chip, 1);
        cr_assert_eq(b->chip.cycle, rise);
        cr_assert_eq(hyoid_chip_request(&b->chip), 0, "code %02x", code);
        cr_assert_eq(b->chip.phoneme, 0x2c);
        /* the filter cycle that starts in this very clock does not count */
        cr_assert_eq(bench_until_request(b, 1, FILTER * 10000), rise + FILTER * bench_duration(b, 0x2c));
        free(b);
    }
}

Test(handshake, a_strobe_one_clock_after_request_leaves_a_pulse_of_one_clock_plus_the_delay)
{
    for (uint32_t delay = 0; delay < 40; delay++) {
        bench *b = bench_new();
        b->part.request_delay = delay;
        bench_power_up(b);
        hyoid_chip_write(&b->chip, 0x00);
        bench_until_request(b, 0, 100);
        const uint64_t rise = bench_until_request(b, 1, FILTER * 10000);
        hyoid_chip_write(&b->chip, 0x01);
        const uint64_t fall = bench_until_request(b, 0, 100);
        cr_assert_eq(fall - rise, 1 + delay);
        free(b);
    }
}

Test(handshake, the_rising_edge_alone_counts)
{
    bench *b = bench_new();
    hyoid_chip_set_code(&b->chip, 0x0b);
    hyoid_chip_set_strobe(&b->chip, 1);
    hyoid_chip_step(&b->chip, 50);
    const uint64_t latch = b->chip.latch_cycle;
    cr_assert_eq(latch, 1);
    cr_assert_eq(b->chip.phoneme, 0x0b);
    hyoid_chip_set_code(&b->chip, 0x3d); /* while strobe is high */
    hyoid_chip_step(&b->chip, 500);
    hyoid_chip_set_strobe(&b->chip, 1); /* still high: no edge */
    hyoid_chip_step(&b->chip, 500);
    hyoid_chip_set_strobe(&b->chip, 0); /* falling edge */
    hyoid_chip_step(&b->chip, 500);
    cr_assert_eq(b->chip.latch_cycle, latch);
    cr_assert_eq(b->chip.phoneme, 0x0b);
    cr_assert_eq(bench_until_request(b, 1, FILTER * 10000), (uint64_t)FILTER * bench_duration(b, 0x0b));
    free(b);
}

Test(handshake, several_edges_within_one_clock_are_one_latch_of_the_last_code)
{
    bench *b = bench_new();
    hyoid_chip_step(&b->chip, 7);
    hyoid_chip_write(&b->chip, 0x10);
    hyoid_chip_write(&b->chip, 0x20);
    hyoid_chip_write(&b->chip, 0x2f);
    hyoid_chip_set_code(&b->chip, 0x01); /* after the edge: too late */
    hyoid_chip_step(&b->chip, 1);
    cr_assert_eq(b->chip.phoneme, 0x2f);
    cr_assert_eq(b->chip.latch_cycle, 8);
    hyoid_chip_step(&b->chip, 1000);
    cr_assert_eq(b->chip.latch_cycle, 8);
    free(b);
}

Test(handshake, an_early_strobe_cuts_at_once_and_request_never_rises_under_a_steady_hold)
{
    /* hosts that hurry: a new phoneme every 80 ms, 1600 filter cycles; codes that last longer never ask */
    bench *b = bench_new();
    const uint64_t hold = 1600 * FILTER;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        if (bench_duration(b, code) <= 1600) {
            continue;
        }
        for (int again = 0; again < 3; again++) {
            hyoid_chip_write(&b->chip, code);
            hyoid_chip_step(&b->chip, 2);
            for (uint64_t i = 2; i < hold; i++) {
                cr_assert_eq(hyoid_chip_request(&b->chip), 0, "code %02x", code);
                hyoid_chip_step(&b->chip, 1);
            }
        }
        cr_assert_eq(b->chip.latch_cycle, b->chip.cycle - hold + 1);
    }
    free(b);
}

Test(handshake, the_chip_goes_on_sounding_after_request)
{
    bench *b = bench_new();
    hyoid_chip_write(&b->chip, 0x24);
    bench_until_request(b, 0, 10);
    bench_until_request(b, 1, FILTER * 10000);
    hyoid_chip_step(&b->chip, 720000); /* a second later */
    double peak = 0.0;
    for (int i = 0; i < 20000; i++) {
        hyoid_chip_step(&b->chip, 1);
        double level = hyoid_chip_output(&b->chip);
        peak = level > peak ? level : peak;
    }
    cr_assert_gt(peak, 0.05);
    cr_assert_eq(hyoid_chip_request(&b->chip), 1);
    free(b);
}

Test(handshake, slots_are_sixteenths_of_every_phoneme)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        bench *b = bench_new();
        hyoid_chip_write(&b->chip, code);
        const uint32_t d = bench_duration(b, code);
        for (uint32_t n = 0; n <= d; n++) {
            unsigned expected = 16 * n / d < 16 ? 16 * n / d : 16;
            hyoid_chip_step(&b->chip, FILTER * n + 1 - b->chip.cycle);
            cr_assert_eq(hyoid_chip_slot(&b->chip), expected, "code %02x n %u", code, n);
        }
        hyoid_chip_step(&b->chip, 100000);
        cr_assert_eq(hyoid_chip_slot(&b->chip), 16);
        free(b);
    }
}

Test(handshake, request_cycle_foretells_the_rise)
{
    uint64_t seed = 20261124;
    bench *b = bench_new();
    cr_log_info("seed %llu", (unsigned long long)seed);
    for (int i = 0; i < 300; i++) {
        hyoid_chip_write(&b->chip, bench_random(&seed) % 64);
        if (bench_random(&seed) % 2) {
            hyoid_chip_step(&b->chip, bench_random(&seed) % 3000);
        }
        const uint64_t foretold = hyoid_chip_request_cycle(&b->chip);
        hyoid_chip_step(&b->chip, 3);
        if (foretold != HYOID_NEVER) {
            cr_assert_eq(bench_until_request(b, 1, FILTER * 10000), foretold);
        }
        cr_assert_eq(hyoid_chip_request_cycle(&b->chip), HYOID_NEVER);
        hyoid_chip_step(&b->chip, bench_random(&seed) % 100);
    }
    free(b);
}

Test(handshake, the_pin_takes_a_new_level_in_phase_two_and_holds_it)
{
    bench *b = bench_new();
    hyoid_chip_write(&b->chip, 0x15);
    hyoid_chip_step(&b->chip, 72000);
    double before = hyoid_chip_output(&b->chip);
    int changes = 0;
    for (int i = 0; i < 36000; i++) {
        hyoid_chip_step(&b->chip, 1);
        double now = hyoid_chip_output(&b->chip);
        if (now != before) {
            cr_assert_eq(b->chip.cycle % FILTER, 18);
            changes++;
        }
        before = now;
    }
    cr_assert_gt(changes, 990);
    free(b);
}
