/* Targets, registers, delays, stops and the gate (rules 5 to 9 of docs/chip.md), tick by tick. */
#include <criterion/criterion.h>

#include "core_bench.h"

enum { FILTER = 36, FORMANT_MOVE = 48 };

/* A chip whose clock stands just after a filter cycle's start; `ticks` further ones are then exact. */
static void tick(bench *b, uint32_t ticks)
{
    hyoid_chip_step(&b->chip, (uint64_t)FILTER * ticks);
}

static bench *at_a_tick(void)
{
    bench *b = bench_new();
    hyoid_chip_step(&b->chip, FILTER);
    return b;
}

/* The first code with this property in the default part. */
static unsigned find_stop(const bench *b)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        if (b->part.phoneme[code].closure && b->part.phoneme[code].fa > 0) {
            return code;
        }
    }
    cr_assert_fail("the part has no stop");
    return 0;
}

/* A part whose code 0 is a plain sound and code 1 a stop, code 2 a pause, with delays worth testing. */
static bench *constructed(void)
{
    bench *b = bench_new();
    b->part.phoneme[0] = (hyoid_phoneme){
        .f1 = 15, .f2 = 31, .f3 = 15, .bw2 = 3, .va = 12, .fa = 9, .fc = 15, .vd = 5, .cld = 9, .duration = 1000};
    b->part.phoneme[1] = (hyoid_phoneme){.f1 = 3,
                                         .f2 = 4,
                                         .f3 = 5,
                                         .bw2 = 6,
                                         .va = 7,
                                         .fa = 8,
                                         .fc = 9,
                                         .vd = 2,
                                         .cld = 4,
                                         .closure = 1,
                                         .duration = 1000};
    b->part.phoneme[2] = (hyoid_phoneme){.f1 = 1,
                                         .f2 = 1,
                                         .f3 = 1,
                                         .bw2 = 1,
                                         .va = 5,
                                         .fa = 5,
                                         .fc = 1,
                                         .vd = 1,
                                         .cld = 1,
                                         .pause = 1,
                                         .duration = 1000};
    bench_power_up(b);
    hyoid_chip_step(&b->chip, FILTER);
    return b;
}

static void say(bench *b, unsigned code)
{
    hyoid_chip_write(&b->chip, code);
}

Test(transitions, targets_of_formants_load_with_the_latch)
{
    bench *b = constructed();
    say(b, 0);
    hyoid_chip_step(&b->chip, 1);
    cr_assert_eq(b->chip.t_f1, 255);
    cr_assert_eq(b->chip.t_f2, 255);
    cr_assert_eq(b->chip.t_f3, 255);
    cr_assert_eq(b->chip.t_fc, 255);
    cr_assert_eq(b->chip.bw2, 3);
    say(b, 1);
    hyoid_chip_step(&b->chip, 1);
    cr_assert_eq(b->chip.t_f1, 3 * 17);
    cr_assert_eq(b->chip.t_f2, 4 * 8 + 1);
    cr_assert_eq(b->chip.t_f3, 5 * 17);
    cr_assert_eq(b->chip.t_fc, 9 * 17);
    free(b);
}

Test(transitions, voice_and_noise_load_at_their_sixteenth)
{
    bench *b = constructed();
    say(b, 0);
    /* 5/16 of 1000 is 312.5, 9/16 is 562.5: the first tick at or after each */
    tick(b, 312);
    cr_assert_eq(b->chip.n, 312);
    cr_assert_eq(b->chip.t_va, 0);
    tick(b, 1);
    cr_assert_eq(b->chip.t_va, 12 * 17);
    tick(b, 562 - 313);
    cr_assert_eq(b->chip.t_fa, 0);
    tick(b, 1);
    cr_assert_eq(b->chip.t_fa, 9 * 17);
    free(b);
}

Test(transitions, a_phoneme_cut_before_its_delays_leaves_the_older_targets)
{
    bench *b = constructed();
    say(b, 0);
    tick(b, 1000);
    b->part.phoneme[3] = (hyoid_phoneme){.va = 1, .fa = 1, .vd = 8, .cld = 8, .duration = 1000};
    say(b, 3);
    tick(b, 499);
    cr_assert_eq(b->chip.t_va, 12 * 17);
    cr_assert_eq(b->chip.t_fa, 9 * 17);
    say(b, 0); /* cut: code 3's amplitudes never came into force */
    tick(b, 1);
    cr_assert_eq(b->chip.t_va, 12 * 17);
    cr_assert_eq(b->chip.t_fa, 9 * 17);
    free(b);
}

Test(transitions, a_pause_silences_at_its_latch_even_if_cut_within_its_first_filter_cycle)
{
    bench *b = constructed();
    say(b, 0);
    tick(b, 1000);
    say(b, 2);
    hyoid_chip_step(&b->chip, 1);
    cr_assert_eq(b->chip.t_va, 0);
    cr_assert_eq(b->chip.t_fa, 0);
    cr_assert_eq(b->chip.t_f1, 17, "a pause leaves the formants to its own codes");
    say(b, 0);
    tick(b, 100);
    cr_assert_eq(b->chip.t_va, 0);
    tick(b, 900);
    say(b, 2);
    tick(b, 1000); /* its own amplitudes never load, whatever its word says */
    cr_assert_eq(b->chip.t_va, 0);
    cr_assert_eq(b->chip.t_fa, 0);
    free(b);
}

Test(transitions, a_register_covers_an_eighth_toward_zero_and_at_least_one_step)
{
    /* from 0 to 255 by hand: floor((255 - r) / 8), at least 1 */
    bench *b = constructed();
    tick(b, FORMANT_MOVE * 200); /* come to rest at the pause's targets */
    say(b, 0);
    unsigned expected = b->chip.r_f1;
    cr_assert_eq(expected, 17);
    while (b->chip.tick_at % (FILTER * FORMANT_MOVE) != 0) {
        tick(b, 1);
    }
    for (int i = 0; i < 60; i++) {
        tick(b, 1);
        unsigned step = (255 - expected) / 8;
        expected += step > 0 ? step : expected < 255;
        cr_assert_eq(b->chip.r_f1, expected, "move %d", i);
        tick(b, FORMANT_MOVE - 1);
        cr_assert_eq(b->chip.r_f1, expected, "nothing moves between");
    }
    cr_assert_eq(b->chip.r_f1, 255);
    say(b, 2);
    for (int i = 0; i < 60; i++) {
        tick(b, FORMANT_MOVE);
        unsigned step = (expected - 17) / 8;
        expected -= step > 0 ? step : expected > 17;
        cr_assert_eq(b->chip.r_f1, expected, "down, move %d", i);
    }
    free(b);
}

Test(transitions, the_noise_spectrum_of_a_stop_moves_by_halves)
{
    bench *b = constructed();
    b->part.phoneme[1].fc = 15;
    tick(b, FORMANT_MOVE * 200);
    cr_assert_eq(b->chip.r_fc, 17);
    say(b, 1);
    while (b->chip.tick_at % (FILTER * FORMANT_MOVE) != 0) {
        tick(b, 1);
    }
    tick(b, 1);
    cr_assert_eq(b->chip.r_fc, 17 + (255 - 17) / 2);
    tick(b, FORMANT_MOVE);
    cr_assert_eq(b->chip.r_fc, 136 + (255 - 136) / 2);
    free(b);
}

Test(transitions, a_stop_closes_halves_opens_and_bursts)
{
    bench *b = constructed();
    say(b, 0);
    tick(b, 1000);
    say(b, 1);
    tick(b, 249); /* 4/16 of 1000 */
    cr_assert_eq(b->chip.gate_closing, 0);
    cr_assert_eq(b->chip.gate, 255);
    cr_assert_eq(b->chip.t_fa, 0, "no noise before the burst");
    tick(b, 1);
    cr_assert_eq(b->chip.gate_closing, 1);
    unsigned expected = b->chip.gate;
    for (uint32_t n = 251; n <= 812; n++) {
        unsigned before = b->chip.gate;
        tick(b, 1);
        if (b->chip.gate != before) {
            expected = before / 2;
        }
        cr_assert_eq(b->chip.gate, expected);
    }
    cr_assert_eq(b->chip.gate, 0, "eight halvings and more have passed");
    cr_assert_eq(hyoid_chip_output(&b->chip), 0.0);
    tick(b, 1); /* 13/16 of 1000 is 812.5 */
    cr_assert_eq(b->chip.gate, 255);
    cr_assert_eq(b->chip.t_fa, 8 * 17);
    cr_assert_eq(b->chip.r_fa, 8 * 17, "the burst jumps");
    tick(b, 5000); /* outlives its time */
    cr_assert_eq(b->chip.t_fa, 8 * 17);
    cr_assert_eq(b->chip.t_va, 7 * 17);
    cr_assert_eq(b->chip.gate, 255);
    free(b);
}

Test(transitions, a_stop_that_is_cut_has_no_burst_and_the_gate_opens_at_the_next_filter_cycle)
{
    bench *b = constructed();
    say(b, 1);
    tick(b, 780); /* closing from 250: eight moves */
    cr_assert_eq(b->chip.gate, 0);
    say(b, 0);
    hyoid_chip_step(&b->chip, 1);
    cr_assert_eq(b->chip.gate, 0);
    hyoid_chip_step(&b->chip, FILTER - 1);
    cr_assert_eq(b->chip.gate, 255);
    cr_assert_eq(b->chip.t_fa, 0, "the stop's zero noise target survives until code 0's noise delay");
    tick(b, 561);
    cr_assert_eq(b->chip.t_fa, 0);
    tick(b, 1);
    cr_assert_eq(b->chip.t_fa, 9 * 17);
    free(b);
}

Test(transitions, a_chain_of_stops_cut_short_stays_shut_only_while_the_rule_says_so)
{
    bench *b = constructed();
    b->part.phoneme[1].cld = 0;
    say(b, 1);
    tick(b, 780); /* closing from 250: eight moves */
    cr_assert_eq(b->chip.gate, 0);
    say(b, 1); /* closure delay 0: closed from its first counted tick */
    tick(b, 1);
    cr_assert_eq(b->chip.gate, 0);
    free(b);
}

Test(transitions, stops_of_the_default_part_close_and_burst)
{
    bench *b = at_a_tick();
    unsigned code = find_stop(b);
    say(b, code);
    const uint32_t d = bench_duration(b, code);
    tick(b, (13 * d + 15) / 16 - 1);
    cr_assert_eq(b->chip.gate_closing, 1);
    tick(b, 1);
    cr_assert_eq(b->chip.gate, 255);
    cr_assert_eq(b->chip.r_fa, b->part.phoneme[code].fa * 17);
    free(b);
}

Test(transitions, a_tick_in_the_latch_s_own_clock_does_not_count)
{
    bench *b = constructed();
    say(b, 1);
    tick(b, 780); /* closing from 250: eight moves */
    hyoid_chip_step(&b->chip, FILTER - 1);
    say(b, 0);
    hyoid_chip_step(&b->chip, 1); /* latch and tick in one clock */
    cr_assert_eq(b->chip.cycle % FILTER, 0);
    cr_assert_eq(b->chip.n, 0);
    cr_assert_eq(b->chip.gate, 0, "nothing of the sequencer happens in it");
    tick(b, 1);
    cr_assert_eq(b->chip.n, 1);
    cr_assert_eq(b->chip.gate, 255);
    free(b);
}
