/* Taps change nothing and see everything; each fault does what its line says, and switched off leaves no trace. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "core_bench.h"

enum { FILTER = 36, LEVELS = 40000 };

static hyoid_level levels[LEVELS];

/* Says some phonemes of all kinds for two seconds. */
static size_t say(bench *b)
{
    static const unsigned codes[] = {0x2c, 0x1f, 0x15, 0x19, 0x2e, 0x0c, 0x2a, 0x28, 0x0e, 0x11, 0x3e, 0x12};
    size_t count = 0;
    for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
        hyoid_chip_write(&b->chip, codes[i]);
        count += hyoid_chip_run(&b->chip, 120000, levels + count, LEVELS - count);
    }
    return count;
}

static double energy(size_t from, size_t to)
{
    double sum = 0.0;
    for (size_t i = from; i < to; i++) {
        sum += levels[i].value * levels[i].value;
    }
    return sum / (double)(to - from);
}

typedef struct watched {
    uint64_t cycles, last;
    double level;
    bool moved;
} watched;

static void watch(void *user, const hyoid_chip *chip, uint64_t cycle, double voice, double noise, double level)
{
    watched *w = user;
    cr_assert(w->last == 0 || cycle == w->last + FILTER);
    cr_assert_eq(cycle % FILTER, 0);
    cr_assert(fabs(noise) <= 1.0 && fabs(voice) <= 2.0);
    w->moved |= chip->y1 != 0.0;
    w->last = cycle;
    w->level = level;
    w->cycles++;
}

Test(taps, see_every_filter_cycle_and_change_no_bit)
{
    static hyoid_level plain[LEVELS];
    bench *a = bench_new(), *b = bench_new();
    size_t count = say(a);
    memcpy(plain, levels, count * sizeof plain[0]);
    watched w = {0};
    hyoid_chip_set_tap(&b->chip, watch, &w);
    cr_assert_eq(say(b), count);
    cr_assert_eq(memcmp(plain, levels, count * sizeof plain[0]), 0);
    /* the last filter cycle has started, its level is still on the way to the pin */
    cr_assert_eq(w.cycles, count + 1);
    cr_assert(w.level == b->chip.level_next);
    cr_assert(w.moved);
    hyoid_chip_set_tap(&b->chip, NULL, NULL);
    a->chip.part = b->chip.part;
    cr_assert_eq(memcmp(&a->chip, &b->chip, sizeof a->chip), 0);
    free(a), free(b);
}

Test(faults, all_have_distinct_names_and_a_line)
{
    cr_assert_geq(HYOID_FAULTS, 20);
    for (int i = 0; i < HYOID_FAULTS; i++) {
        const hyoid_fault_info *info = hyoid_fault_describe((hyoid_fault)i);
        cr_assert_not_null(info);
        cr_assert(info->name != NULL && info->what != NULL, "fault %d", i);
        for (int k = 0; k < i; k++) {
            cr_assert_neq(strcmp(info->name, hyoid_fault_describe((hyoid_fault)k)->name), 0);
        }
    }
    cr_assert_null(hyoid_fault_describe(HYOID_FAULTS));
    bench *b = bench_new();
    cr_assert_eq(hyoid_chip_set_fault(&b->chip, HYOID_FAULTS, 1.0), HYOID_E_RANGE);
    cr_assert_eq(hyoid_chip_set_fault(&b->chip, HYOID_FAULT_HUM, 1.5), HYOID_E_RANGE);
    cr_assert_eq(hyoid_chip_set_fault(&b->chip, HYOID_FAULT_HUM, NAN), HYOID_E_RANGE);
    cr_assert_eq(hyoid_chip_set_fault(NULL, HYOID_FAULT_HUM, 1.0), HYOID_E_NULL);
    free(b);
}

Test(faults, each_changes_what_a_bench_can_see_and_none_leaves_a_trace_once_off)
{
    static hyoid_level healthy[LEVELS];
    for (int i = 0; i < HYOID_FAULTS; i++) {
        const char *name = hyoid_fault_describe((hyoid_fault)i)->name;
        /* a level that the stuck inflection pins would change */
        const unsigned inflection = i == HYOID_FAULT_I1_LOW ? 2 : i == HYOID_FAULT_I0_HIGH ? 0 : 1;
        bench *a = bench_new(), *b = bench_new(), *c = bench_new();
        hyoid_chip_set_inflection(&a->chip, inflection);
        hyoid_chip_set_inflection(&b->chip, inflection);
        hyoid_chip_set_inflection(&c->chip, inflection);
        size_t count = say(a);
        memcpy(healthy, levels, count * sizeof healthy[0]);

        hyoid_chip_set_fault(&b->chip, (hyoid_fault)i, 1.0);
        bool pin = hyoid_chip_request(&b->chip) == 0; /* at power-up it should be high */
        size_t n = say(b);
        bool sound = n != count || memcmp(healthy, levels, count * sizeof healthy[0]) != 0;
        pin |=
            b->chip.rise_cycle != a->chip.rise_cycle || hyoid_chip_request(&b->chip) != hyoid_chip_request(&a->chip);
        hyoid_chip_write(&b->chip, 0);
        hyoid_chip_step(&b->chip, 10);
        pin |= hyoid_chip_request(&b->chip) != 0; /* after a strobe it should be low */
        cr_assert(sound || pin, "%s changes nothing", name);
        for (size_t k = 0; k < n; k++) {
            cr_assert(levels[k].value > -10.0 && levels[k].value < 10.0, "%s", name);
        }

        hyoid_chip_set_fault(&c->chip, (hyoid_fault)i, 1.0);
        hyoid_chip_set_fault(&c->chip, (hyoid_fault)i, 0.0);
        cr_assert_eq(say(c), count);
        cr_assert_eq(memcmp(healthy, levels, count * sizeof healthy[0]), 0, "%s left a trace", name);
        free(a), free(b), free(c);
    }
}

/* How a held vowel sounds, after a pause that lets everything settle. */
static double held(bench *b)
{
    hyoid_chip_write(&b->chip, 0x3e);
    hyoid_chip_step(&b->chip, 1440000);
    hyoid_chip_write(&b->chip, 0x15);
    hyoid_chip_step(&b->chip, 720000);
    size_t count = hyoid_chip_run(&b->chip, 720000, levels, LEVELS);
    return energy(0, count);
}

Test(faults, a_chip_recovers_once_a_fault_is_gone)
{
    bench *a = bench_new();
    const double healthy = held(a);
    for (int i = 0; i < HYOID_FAULTS; i++) {
        bench *b = bench_new();
        hyoid_chip_set_fault(&b->chip, (hyoid_fault)i, 1.0);
        say(b);
        hyoid_chip_set_fault(&b->chip, (hyoid_fault)i, 0.0);
        const double again = held(b);
        cr_assert(fabs(again / healthy - 1.0) < 0.02, "%s: %g of %g", hyoid_fault_describe((hyoid_fault)i)->name,
                  again, healthy);
        cr_assert_eq(hyoid_chip_request(&b->chip), 1);
        free(b);
    }
    free(a);
}

/* The sounding phoneme goes on where it was: no strobe is needed. */
Test(faults, a_closed_gate_opens_again_when_the_fault_goes)
{
    bench *b = bench_new();
    hyoid_chip_write(&b->chip, 0x15);
    hyoid_chip_step(&b->chip, 720000);
    hyoid_chip_set_fault(&b->chip, HYOID_FAULT_GATE_CLOSED, 1.0);
    size_t count = hyoid_chip_run(&b->chip, 36000, levels, LEVELS);
    cr_assert_eq(energy(1, count), 0.0);
    hyoid_chip_set_fault(&b->chip, HYOID_FAULT_GATE_CLOSED, 0.0);
    count = hyoid_chip_run(&b->chip, 36000, levels, LEVELS);
    cr_assert_gt(energy(1, count), 1e-3);
    free(b);
}

Test(faults, a_fast_timer_does_not_stall_the_handshake_whatever_the_delay)
{
    bench *b = bench_new();
    uint32_t shortest = UINT32_MAX;
    unsigned code = 0;
    for (unsigned i = 0; i < HYOID_PHONEMES; i++) {
        if (b->part.phoneme[i].duration < shortest) {
            shortest = b->part.phoneme[i].duration;
            code = i;
        }
    }
    b->part.request_delay = FILTER * (shortest - 1);
    bench_power_up(b);
    hyoid_chip_set_fault(&b->chip, HYOID_FAULT_TIMER_FAST, 1.0);
    hyoid_chip_write(&b->chip, code);
    hyoid_chip_step(&b->chip, FILTER * shortest * 3);
    cr_assert_eq(hyoid_chip_request(&b->chip), 1);
    free(b);
}

Test(faults, stuck_inputs_latch_the_code_that_the_chip_sees)
{
    for (unsigned bit = 0; bit < 6; bit++) {
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            bench *b = bench_new();
            hyoid_chip_set_fault(&b->chip, (hyoid_fault)(HYOID_FAULT_P0_LOW + bit), 1.0);
            hyoid_chip_write(&b->chip, code);
            hyoid_chip_step(&b->chip, 1);
            cr_assert_eq(b->chip.phoneme, code & ~(1u << bit));
            hyoid_chip_set_fault(&b->chip, (hyoid_fault)(HYOID_FAULT_P0_LOW + bit), 0.0);
            hyoid_chip_set_fault(&b->chip, (hyoid_fault)(HYOID_FAULT_P0_HIGH + bit), 1.0);
            hyoid_chip_write(&b->chip, code);
            hyoid_chip_step(&b->chip, 1);
            cr_assert_eq(b->chip.phoneme, code | 1u << bit);
            free(b);
        }
    }
}

Test(faults, wrong_timers_are_foretold_and_kept)
{
    static const hyoid_fault timers[] = {HYOID_FAULT_TIMER_SLOW, HYOID_FAULT_TIMER_FAST, HYOID_FAULT_DIVIDER_SLOW};
    for (size_t i = 0; i < 3; i++) {
        bench *b = bench_new();
        hyoid_chip_set_fault(&b->chip, timers[i], 1.0);
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            hyoid_chip_write(&b->chip, code);
            const uint64_t foretold = hyoid_chip_request_cycle(&b->chip);
            hyoid_chip_step(&b->chip, 3);
            cr_assert_eq(bench_until_request(b, 1, 1000000), foretold, "%s code %02x",
                         hyoid_fault_describe(timers[i])->name, code);
            double lasted = (double)(b->chip.rise_cycle - b->chip.latch_cycle) / FILTER;
            double factor = i == 1 ? 0.5 : 2.0;
            cr_assert_leq(fabs(lasted - factor * bench_duration(b, code)), 2.0);
            hyoid_chip_step(&b->chip, code * 5);
        }
        free(b);
    }
}

Test(faults, graded_ones_grow_with_their_strength)
{
    double last = -1.0;
    for (int i = 0; i <= 4; i++) {
        bench *b = bench_new();
        hyoid_chip_set_fault(&b->chip, HYOID_FAULT_WEAK, i / 4.0);
        size_t count = say(b);
        double now = -energy(0, count);
        cr_assert(now > last || (i == 0), "strength %d", i);
        last = now;
        free(b);
    }
    bench *b = bench_new();
    hyoid_chip_set_fault(&b->chip, HYOID_FAULT_OFFSET, 0.5);
    hyoid_chip_step(&b->chip, 1000);
    cr_assert_eq(hyoid_chip_output(&b->chip), 0.25);
    free(b);
}

Test(faults, no_noise_and_no_voice_silence_the_sounds_that_need_them)
{
    static const struct {
        hyoid_fault fault;
        unsigned code;
    } cases[] = {{HYOID_FAULT_NO_NOISE, 0x1f},
                 {HYOID_FAULT_NO_VOICE, 0x15},
                 {HYOID_FAULT_GATE_CLOSED, 0x15},
                 {HYOID_FAULT_F4_DEAD, 0x15}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        bench *b = bench_new();
        hyoid_chip_set_fault(&b->chip, cases[i].fault, 1.0);
        hyoid_chip_write(&b->chip, cases[i].code);
        size_t count = hyoid_chip_run(&b->chip, 300000, levels, LEVELS);
        cr_assert_lt(energy(0, count), 1e-9, "%s", hyoid_fault_describe(cases[i].fault)->name);
        free(b);
    }
}
