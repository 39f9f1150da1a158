/* The pair: a design that does as the model says is never accused; one wrong bit in one clock is always found, where it is. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "fixed.h"
#include "random.h"
#include "report.h"
#include "stimulus.h"

enum { ALL = (1 << HY_FIELDS) - 1, BITS = 24, FRACTION = 20 };

/* The design under test: a chip of its own, with the register that the level in force stands in. */
typedef struct design {
    hyoid_chip chip;
    unsigned level, code, inflection, strobe;
} design;

static void clock_design(design *d)
{
    const int starts = d->chip.tick_at == d->chip.cycle + 1;
    hyoid_chip_step(&d->chip, 1);
    d->level = starts ? d->inflection : d->level;
}

static uint64_t word_of(const design *d)
{
    return hy_word_outputs((unsigned)hyoid_chip_request(&d->chip), d->chip.phoneme, hyoid_chip_slot(&d->chip),
                           d->level, hy_fixed(hyoid_chip_output(&d->chip), BITS, FRACTION, NULL)) |
           d->strobe << 8 | d->inflection << 6 | d->code;
}

typedef struct life {
    uint64_t seed, clocks;
    unsigned checks;
    int32_t tolerance;
    uint64_t wrong_clock; /* outputs after this clock are wrong, */
    uint64_t wrong_bits;  /* in these bits of the word */
    int32_t wrong_audio;  /* and by this much */
    uint64_t *trace;      /* words that the design gave, summed up */
} life;

static hy_pair pair;

static int live(const life *l)
{
    static design d;
    memset(&d, 0, sizeof d);
    const hy_pair_setup setup = {l->checks, BITS, FRACTION, l->tolerance, 200};
    cr_assert_eq(hy_pair_init(&pair, hyoid_part_default(), &setup), HYOID_OK);
    cr_assert_eq(hyoid_chip_init(&d.chip, hyoid_part_default()), HYOID_OK);
    hy_stimulus stimulus;
    hy_stimulus_init(&stimulus, l->seed, l->clocks, hyoid_part_default());
    for (uint64_t clock = 1; clock <= l->clocks; clock++) {
        while (hy_stimulus_pending(&stimulus) > 0) {
            const uint32_t pins = hy_stimulus_take(&stimulus);
            d.code = hy_word_code(pins);
            d.inflection = hy_word_inflection(pins);
            hyoid_chip_set_code(&d.chip, d.code);
            hyoid_chip_set_inflection(&d.chip, d.inflection);
            hyoid_chip_set_strobe(&d.chip, hy_word_strobe(pins));
            if (hy_word_strobe(pins) && !d.strobe) {
                hy_pair_strobe(&pair, d.code);
            }
            d.strobe = hy_word_strobe(pins);
        }
        uint64_t word = word_of(&d);
        if (l->trace != NULL) {
            *l->trace = (*l->trace ^ word) * UINT64_C(0x100000001b3);
        }
        if (clock - 1 == l->wrong_clock) {
            word = (word ^ l->wrong_bits) + ((uint64_t)(uint32_t)l->wrong_audio << 32);
        }
        const hy_progress progress = hy_pair_clock(&pair, word);
        if (progress == HY_DIFFERED) {
            return 1;
        }
        if (progress == HY_WORKED) {
            hy_stimulus_follow(&stimulus, &pair);
        }
        clock_design(&d);
    }
    return pair.difference.found;
}

Test(pair, a_good_design_passes)
{
    for (uint64_t seed = 1; seed <= 6; seed++) {
        const life l = {.seed = seed, .clocks = 700000, .checks = ALL, .wrong_clock = HYOID_NEVER};
        cr_assert_eq(live(&l), 0, "seed %d: clock %d, %s", (int)seed, (int)pair.difference.clock,
                     hy_field_name(pair.difference.field));
        cr_assert_gt(pair.edges, 5);
        cr_assert_gt(pair.rises, 0);
    }
}

Test(pair, one_wrong_bit_is_found)
{
    static const struct {
        hy_field field;
        uint64_t bits;
    } wrong[] = {
        {HY_REQUEST, UINT64_C(1) << 9}, {HY_PHONEME_CODE, UINT64_C(1) << 15}, {HY_SLOT, UINT64_C(1) << 16},
        {HY_LEVEL, UINT64_C(1) << 22},  {HY_AUDIO, UINT64_C(1) << 32},        {HY_REQUEST, HY_UNKNOWN(HY_REQUEST)},
        {HY_SLOT, HY_UNKNOWN(HY_SLOT)}, {HY_AUDIO, HY_UNKNOWN(HY_AUDIO)},     {HY_INPUTS, HY_UNKNOWN(HY_INPUTS)}};
    uint64_t random = 1;
    for (unsigned i = 0; i < 400; i++) {
        const unsigned w = i % (sizeof wrong / sizeof wrong[0]);
        const life l = {.seed = 1 + i % 7,
                        .clocks = 60000,
                        .checks = wrong[w].field < HY_FIELDS && i % 2 ? 1u << wrong[w].field : ALL,
                        .wrong_clock = hy_draw(&random, 0, 59000),
                        .wrong_bits = wrong[w].bits};
        cr_assert_eq(live(&l), 1, "%d: not found", (int)i);
        cr_assert_eq(pair.difference.clock, l.wrong_clock, "%d: clock %d, not %d", (int)i, (int)pair.difference.clock,
                     (int)l.wrong_clock);
        cr_assert_eq(pair.difference.field, wrong[w].field);
    }
}

Test(pair, what_is_not_compared_may_be_anything)
{
    const life l = {.seed = 3,
                    .clocks = 50000,
                    .checks = 1u << HY_REQUEST,
                    .wrong_clock = 20000,
                    .wrong_bits = ~(HY_PINS_MASK | hy_word_mask(HY_REQUEST) | HY_UNKNOWN(HY_INPUTS))};
    cr_assert_eq(live(&l), 0);
}

Test(pair, audio_has_a_tolerance)
{
    for (int32_t off = -4; off <= 4; off++) {
        const life l = {.seed = 2,
                        .clocks = 40000,
                        .checks = 1u << HY_AUDIO,
                        .tolerance = 3,
                        .wrong_clock = 33333,
                        .wrong_audio = off};
        cr_assert_eq(live(&l), off == -4 || off == 4, "%d", (int)off);
    }
}

Test(pair, a_seed_replays)
{
    uint64_t one = 0, two = 0, other = 0;
    life l = {.seed = 5, .clocks = 100000, .checks = ALL, .wrong_clock = HYOID_NEVER, .trace = &one};
    live(&l);
    l.trace = &two;
    live(&l);
    l.trace = &other;
    l.seed = 6;
    live(&l);
    cr_assert_eq(one, two);
    cr_assert_neq(one, other);
}

Test(pair, the_report_names_clock_pin_and_reason)
{
    const life l = {.seed = 1, .clocks = 60000, .checks = ALL, .wrong_clock = 41234, .wrong_bits = UINT64_C(1) << 9};
    cr_assert_eq(live(&l), 1);
    char *text = NULL;
    size_t size;
    FILE *memory = open_memstream(&text, &size);
    hy_report_print(&pair, 3, memory);
    fclose(memory);
    cr_assert(strstr(text, "MISMATCH in clock 41234: request: expected ") == text, "%s", text);
    cr_assert_not_null(strstr(text, "\n  model:  "), "%s", text);
    cr_assert_not_null(strstr(text, "\n>     41234  "), "%s", text);
    free(text);
}
