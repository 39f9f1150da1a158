/* A batch is each chip alone, bit for bit: any count, mixed parts, inputs, faults, cuts. */
#include <criterion/criterion.h>
#include <string.h>

#include "core_bench.h"

enum { ROOM = 4096 };

static hyoid_part parts[HYOID_BATCH];
static hyoid_chip together[HYOID_BATCH], alone[HYOID_BATCH];
static double levels[HYOID_BATCH * ROOM];
static hyoid_level expected[ROOM];

static void power_up(uint64_t *seed)
{
    for (size_t i = 0; i < HYOID_BATCH; i++) {
        parts[i] = *hyoid_part_default();
        for (size_t k = 0; i > 0 && k < HYOID_PHONEMES; k++) { /* a part of its own for each but the first */
            parts[i].phoneme[k].f2 = (uint8_t)(bench_random(seed) % 32);
            parts[i].phoneme[k].duration = (uint16_t)(1 + bench_random(seed) % 2000);
            parts[i].phoneme[k].vd = (uint8_t)(bench_random(seed) % 16);
        }
        parts[i].request_delay = 0;
        parts[i].lowpass_k = i == 3 ? 0.7 : 0.0;
        parts[i].formant_cycles = i == 4 ? 37 : 64;
        cr_assert_eq(hyoid_chip_init(&together[i], &parts[i]), HYOID_OK);
        cr_assert_eq(hyoid_chip_init(&alone[i], &parts[i]), HYOID_OK);
    }
}

Test(batch, is_each_chip_alone_bit_for_bit)
{
    for (uint64_t first_seed = 1; first_seed <= 24; first_seed++) {
        cr_log_info("seed %llu", (unsigned long long)first_seed);
        uint64_t seed = first_seed;
        power_up(&seed);
        const size_t count = 1 + first_seed % HYOID_BATCH;
        hyoid_chip *chips[HYOID_BATCH];
        for (size_t i = 0; i < count; i++) {
            chips[i] = &together[i];
        }
        if (first_seed % 5 == 0) {
            hyoid_chip_set_fault(&together[0], HYOID_FAULT_TIMER_SLOW, 1.0);
            hyoid_chip_set_fault(&alone[0], HYOID_FAULT_TIMER_SLOW, 1.0);
        }
        for (int step = 0; step < 200; step++) {
            for (size_t i = 0; i < count; i++) {
                if (bench_random(&seed) % 3 == 0) {
                    unsigned code = bench_random(&seed) % 64, inflection = bench_random(&seed) % 4;
                    hyoid_chip_write(&together[i], code), hyoid_chip_write(&alone[i], code);
                    hyoid_chip_set_inflection(&together[i], inflection),
                        hyoid_chip_set_inflection(&alone[i], inflection);
                }
            }
            const uint64_t clocks = bench_random(&seed) % (step % 4 == 0 ? 100 : 60000);
            size_t stored;
            cr_assert_eq(hyoid_batch_run(chips, count, clocks, levels, ROOM, &stored), HYOID_OK);
            for (size_t i = 0; i < count; i++) {
                size_t n = hyoid_chip_run(&alone[i], clocks, expected, ROOM);
                cr_assert_eq(n, stored);
                for (size_t k = 0; k < n; k++) {
                    cr_assert_eq(memcmp(&levels[i * ROOM + k], &expected[k].value, sizeof(double)), 0,
                                 "seed %llu step %d chip %zu level %zu", (unsigned long long)first_seed, step, i, k);
                }
                cr_assert_eq(memcmp(&together[i], &alone[i], sizeof alone[i]), 0, "seed %llu step %d chip %zu",
                             (unsigned long long)first_seed, step, i);
            }
        }
    }
}

/* A divider that turns slow in mid-cycle leaves the next filter cycle where it was: there may be one level more than the slow
 * divider alone would give. */
Test(batch, needs_no_more_room_than_it_says)
{
    for (uint64_t before = 0; before < 80; before++) {
        for (uint64_t clocks = 0; clocks < 120; clocks++) {
            uint64_t seed = 1;
            power_up(&seed);
            hyoid_chip_step(&together[0], before);
            hyoid_chip_set_fault(&together[0], HYOID_FAULT_DIVIDER_SLOW, 1.0);
            alone[0] = together[0];
            hyoid_chip *chips[1] = {&together[0]};
            size_t stored, room = 0;
            double exact[8];
            while (hyoid_batch_run(chips, 1, clocks, exact, room, &stored) == HYOID_E_RANGE) {
                cr_assert_lt(room, 8);
                room++;
            }
            cr_assert_eq(stored, room, "before %llu clocks %llu", (unsigned long long)before,
                         (unsigned long long)clocks);
            cr_assert_leq(room, clocks / parts[0].filter_clocks + 1, "what the header says always does");
            cr_assert_eq(hyoid_chip_run(&alone[0], clocks, expected, ROOM), stored);
        }
    }
}

Test(batch, refuses_what_is_not_in_step)
{
    uint64_t seed = 1;
    power_up(&seed);
    hyoid_chip *chips[2] = {&together[0], &together[1]};
    size_t stored;
    cr_assert_eq(hyoid_batch_run(chips, 2, 36 * 10, levels, 8, &stored), HYOID_E_RANGE, "9 levels come");
    cr_assert_eq(hyoid_batch_run(chips, 0, 1, levels, ROOM, &stored), HYOID_E_RANGE);
    cr_assert_eq(hyoid_batch_run(chips, HYOID_BATCH + 1, 1, levels, ROOM, &stored), HYOID_E_RANGE);
    cr_assert_eq(hyoid_batch_run(NULL, 2, 1, levels, ROOM, &stored), HYOID_E_NULL);
    cr_assert_eq(hyoid_batch_run(chips, 2, 1, NULL, ROOM, &stored), HYOID_E_NULL);
    cr_assert_eq(hyoid_batch_run(chips, 2, 1, levels, ROOM, NULL), HYOID_E_NULL);
    hyoid_chip_step(&together[1], 1);
    cr_assert_eq(hyoid_batch_run(chips, 2, 1000, levels, ROOM, &stored), HYOID_E_RANGE);
    chips[1] = NULL;
    cr_assert_eq(hyoid_batch_run(chips, 2, 1000, levels, ROOM, &stored), HYOID_E_NULL);
}
