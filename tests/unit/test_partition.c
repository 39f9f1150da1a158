/* Cutting time into calls differently changes no bit; a copy is a snapshot; a part is checked. */
#include <criterion/criterion.h>
#include <string.h>

#include "core_bench.h"

enum { LEVELS = 4096 };

typedef struct script {
    uint64_t at;
    unsigned code, inflection;
} script;

static size_t make_script(uint64_t seed, script *s, size_t count)
{
    uint64_t at = 0;
    for (size_t i = 0; i < count; i++) {
        at += bench_random(&seed) % (i % 5 == 0 ? 40 : 40000);
        s[i] = (script){at, bench_random(&seed) % 64, bench_random(&seed) % 4};
    }
    return count;
}

/* Runs the script, cutting by `cuts` (0: never), and returns a hash of every level with its clock. */
static uint64_t play(bench *b, const script *s, size_t count, uint64_t cuts, int singles)
{
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    hyoid_level levels[LEVELS];
    for (size_t i = 0; i <= count; i++) {
        uint64_t end = i < count ? s[i].at : s[count - 1].at + 100000;
        while (b->chip.cycle < end) {
            uint64_t span = end - b->chip.cycle;
            if (singles) {
                span = 1;
            } else if (cuts != 0) {
                uint64_t cut = bench_random(&cuts) % (bench_random(&cuts) % 4 == 0 ? 5000 : 80) + 1;
                span = cut < span ? cut : span;
            }
            size_t n = hyoid_chip_run(&b->chip, span, levels, LEVELS);
            for (size_t k = 0; k < n; k++) {
                const unsigned char *bytes = (const unsigned char *)&levels[k].value;
                for (size_t m = 0; m < sizeof levels[k].value; m++) {
                    hash = (hash ^ bytes[m]) * UINT64_C(0x100000001b3);
                }
                hash = (hash ^ levels[k].cycle) * UINT64_C(0x100000001b3);
            }
        }
        if (i < count) {
            hyoid_chip_set_inflection(&b->chip, s[i].inflection);
            hyoid_chip_write(&b->chip, s[i].code);
        }
    }
    return hash;
}

Test(partition, any_cutting_gives_the_same_levels_and_the_same_state)
{
    enum { WRITES = 60 };
    script s[WRITES];
    for (uint64_t seed = 1; seed <= 8; seed++) {
        cr_log_info("seed %llu", (unsigned long long)seed);
        make_script(seed, s, WRITES);
        bench *whole = bench_new(), *cut = bench_new(), *single = bench_new();
        uint64_t expected = play(whole, s, WRITES, 0, 0);
        cr_assert_eq(play(cut, s, WRITES, seed * 77 + 1, 0), expected, "seed %llu", (unsigned long long)seed);
        cr_assert_eq(play(single, s, WRITES, 0, 1), expected, "seed %llu", (unsigned long long)seed);
        /* the parts differ in address only */
        cut->chip.part = single->chip.part = whole->chip.part;
        cr_assert_eq(memcmp(&cut->chip, &whole->chip, sizeof(hyoid_chip)), 0);
        cr_assert_eq(memcmp(&single->chip, &whole->chip, sizeof(hyoid_chip)), 0);
        free(whole), free(cut), free(single);
    }
}

Test(partition, step_and_run_are_one_machine)
{
    enum { WRITES = 40 };
    script s[WRITES];
    make_script(99, s, WRITES);
    bench *ran = bench_new(), *stepped = bench_new();
    play(ran, s, WRITES, 0, 0);
    uint64_t seed = 5;
    for (size_t i = 0; i <= WRITES; i++) {
        uint64_t end = i < WRITES ? s[i].at : s[WRITES - 1].at + 100000;
        while (stepped->chip.cycle < end) {
            uint64_t span = bench_random(&seed) % 3000 + 1, left = end - stepped->chip.cycle;
            hyoid_chip_step(&stepped->chip, span < left ? span : left);
        }
        if (i < WRITES) {
            hyoid_chip_set_inflection(&stepped->chip, s[i].inflection);
            hyoid_chip_write(&stepped->chip, s[i].code);
        }
    }
    stepped->chip.part = ran->chip.part;
    cr_assert_eq(memcmp(&stepped->chip, &ran->chip, sizeof(hyoid_chip)), 0);
    free(ran), free(stepped);
}

/* What a tap sees, all of it. */
static void hash_view(void *user, const hyoid_chip *chip, uint64_t cycle, double voice, double noise, double level)
{
    uint64_t *hash = user;
    hyoid_chip view = *chip;
    view.part = NULL;
    view.tap = NULL;
    view.tap_user = NULL;
    view.quiet_until = 0; /* the end of the last call's look ahead: no state of the chip */
    const double beside[] = {(double)cycle, voice, noise, level};
    const unsigned char *bytes[] = {(const unsigned char *)&view, (const unsigned char *)beside};
    const size_t sizes[] = {sizeof view, sizeof beside};
    for (size_t k = 0; k < 2; k++) {
        for (size_t i = 0; i < sizes[k]; i++) {
            *hash = (*hash ^ bytes[k][i]) * UINT64_C(0x100000001b3);
        }
    }
}

Test(partition, a_tap_sees_the_same_however_time_is_cut)
{
    enum { WRITES = 10 };
    script s[WRITES];
    make_script(11, s, WRITES);
    uint64_t hashes[3] = {1, 1, 1};
    for (int i = 0; i < 3; i++) {
        bench *b = bench_new();
        hyoid_chip_set_tap(&b->chip, hash_view, &hashes[i]);
        play(b, s, WRITES, i == 1 ? 5 : 0, i == 2);
        free(b);
    }
    cr_assert_eq(hashes[0], hashes[1]);
    cr_assert_eq(hashes[0], hashes[2]);
}

Test(partition, a_copy_is_a_snapshot)
{
    enum { WRITES = 50 };
    script s[WRITES];
    make_script(3, s, WRITES);
    bench *b = bench_new();
    for (size_t i = 0; i < WRITES; i++) {
        hyoid_chip_step(&b->chip, s[i].at - b->chip.cycle);
        hyoid_chip_write(&b->chip, s[i].code);
        hyoid_chip copy = b->chip, again = b->chip;
        hyoid_chip_step(&copy, 12345);
        hyoid_chip_step(&again, 12345);
        cr_assert_eq(memcmp(&copy, &again, sizeof copy), 0);
        cr_assert_eq(memcmp(&b->chip.cycle, &s[i].at, sizeof s[i].at), 0, "the original stood still");
    }
    free(b);
}

Test(part, a_broken_part_is_refused_by_name)
{
    hyoid_part part = *hyoid_part_default();
    const char *problem = NULL;
    cr_assert_eq(hyoid_part_check(&part, &problem), HYOID_OK);
    part.f1.ks = 0.1;
    hyoid_chip chip;
    cr_assert_eq(hyoid_chip_init(&chip, &part), HYOID_E_PART);
    cr_assert_eq(hyoid_part_check(&part, &problem), HYOID_E_PART);
    cr_assert(strstr(problem, "k0 + 255 ks") != NULL, "%s", problem);
    cr_assert_eq(hyoid_chip_init(NULL, &part), HYOID_E_NULL);
    cr_assert_eq(hyoid_chip_init(&chip, NULL), HYOID_E_NULL);
    cr_assert_eq(hyoid_part_check(NULL, NULL), HYOID_E_NULL);
}
