/* The search's moves, each on speech of the model whose truth is known. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <criterion/criterion.h>

#include "../../frontends/calibrate/fit_private.h"
#include "partfile_fields.h"

enum { ROOM = 400000, ITEMS = 96 };

typedef struct bench {
    hyoid_part truth;
    hy_said said[ITEMS];
    uint32_t onset[ITEMS + 1];
    hy_material material;
    float *sound;
    hy_fit *fit;
} bench;

static const uint8_t ALL[] = {0x2a, 0x24, 0x3c, 0x2a, 0x15, 0x0d, 0x1f, 0x29, 0x12, 0x2f, 0x24, 0x0c};
static const uint8_t HELD[] = {0x24, 0x3c, 0x1f, 0x15, 0x0d, 0x29, 0x12, 0x2f, 0x11, 0x17, 0x0c, 0x16}; /* no stops */
static const uint8_t VOICES[] = {0x24, 0x3c, 0x0c, 0x15, 0x0d, 0x29, 0x2f, 0x18, 0x2c, 0x17, 0x0c, 0x16};

/* Twelve codes in turn, shuffled. */
static bench *speak(const hyoid_part *truth, const uint8_t codes[12], float sign)
{
    bench *b = calloc(1, sizeof *b);
    b->truth = *truth;
    for (size_t i = 0; i < ITEMS; i++) {
        b->said[i] = (hy_said){codes[(i * 5 + i / 12) % 12], (uint8_t)(i / 7 % 4), 1, 0};
    }
    b->sound = malloc(ROOM * sizeof *b->sound);
    b->material = (hy_material){.sound = b->sound, .said = b->said, .items = ITEMS, .onset = b->onset};
    b->material.count = hy_speech_render(truth, (hy_start){0}, b->said, ITEMS, b->sound, ROOM, b->onset);
    cr_assert_lt(b->material.count, (size_t)ROOM);
    for (size_t i = 0; i < b->material.count; i++) {
        b->sound[i] *= sign;
    }
    for (int k = 0; k < HY_TICK_BANDS; k++) {
        b->material.mask[k] = 1e-9f;
    }
    b->fit = hy_fit_new(&b->material, 1, NULL, hyoid_part_default(), 2);
    cr_assert_not_null(b->fit);
    return b;
}

static void drop(bench *b)
{
    hy_fit_free(b->fit);
    free(b->sound);
    free(b);
}

/* From the first cycle on: pulses begin a whole period apart, the first where the counter says. */
Test(calibrate_fit, settled_speech_has_its_period_at_once)
{
    static float levels[4000];
    uint32_t onset[2];
    hyoid_part part = *hyoid_part_default();
    const hy_said vowel = {0x24, 1, 0, 4000};
    const uint32_t period = hy_said_period(&part, &vowel);
    cr_assert_gt(period, part.pitch_period[1]);
    /* what a start of `place` brings is what one of 0 brings `place` cycles later; the tail, as amplitudes rise from power-up */
    float *later = malloc(sizeof levels);
    for (uint32_t place = period - 20; place < period; place += 7) {
        hy_speech_render(&part, (hy_start){.settled = 1, .pitch = place}, &vowel, 1, levels, 4000, onset);
        hy_speech_render(&part, (hy_start){.settled = 1}, &vowel, 1, later, 4000, onset);
        double off = 0, all = 0;
        for (int i = 3000; i < 4000 - (int)place; i++) {
            off += pow((double)(levels[i] - later[i + (int)place]), 2);
            all += pow((double)levels[i], 2);
        }
        cr_assert(all > 0 && off < 1e-3 * all, "place %u of %u: %g of %g", place, period, off, all);
    }
    free(later);
}

/* The voice is put where the waveform has it although formants are others, and whichever way round the recorder is: if the sound comes
 * later, so does the voice. The frames that bands are compared by were made before. */
Test(calibrate_fit, voices_are_placed_on_the_waveform)
{
    enum {
        LATER = 17,
        NEAR = 6
    }; /* periods change on the way from the context's beginning: a place is stretched by that */
    for (int sign = -1; sign <= 1; sign += 2) {
        bench *b = speak(hyoid_part_default(), VOICES, (float)sign);
        hyoid_part *part = hy_fit_part(b->fit);
        part->f2.k0 *= 1.03;
        part->f3.k6 *= 1.3;
        b->fit->heard[0] = 1; /* and its gate not known: bands have no say */
        hy_fit_state *early = hy_fit_state_new(b->fit);
        cr_assert(early != NULL && hy_fit_phases(b->fit, 0, 0) == 0);
        cr_assert_eq(b->fit->sign[0], sign);
        hy_fit_state_keep(early, b->fit);
        memmove(b->sound + LATER, b->sound, (b->material.count - LATER) * sizeof *b->sound);
        cr_assert_eq(hy_fit_phases(b->fit, 0, 0), 0);
        int followed = 0;
        for (size_t i = 0; i < ITEMS; i++) {
            const int period = hy_judge_period(b->fit->judges[0], part, i);
            const int by = (early->pitch[0][i] - b->fit->pitch[0][i] + period) % period;
            followed += abs(by - LATER) <= NEAR;
        }
        cr_assert_geq(followed, ITEMS * 3 / 4, "%d of %d", followed, ITEMS);
        hy_fit_state_free(early);
        drop(b);
    }
}

Test(calibrate_fit, states_come_back)
{
    bench *b = speak(hyoid_part_default(), ALL, 1);
    hy_fit *f = b->fit;
    hy_fit_state *kept = hy_fit_state_new(f);
    cr_assert_not_null(kept);
    hy_fit_phases(f, 0, 0);
    const uint16_t place = f->pitch[0][30];
    const double cost = hy_fit_cost(f, 0);
    hy_fit_state_keep(kept, f);
    f->pitch[0][30] = (uint16_t)(place + 1);
    f->divider[0][1] = 7;
    f->part.f1.k6 *= 1.5;
    hy_fit_channel(f, 1);
    cr_assert_neq(hy_fit_cost(f, 0), cost);
    hy_fit_state_restore(kept, f);
    cr_assert_eq(f->pitch[0][30], place);
    cr_assert_eq(f->divider[0][1], HY_UNKNOWN);
    cr_assert_eq(hy_fit_cost(f, 0), cost);
    hy_fit_state_free(kept);
    drop(b);
}

/* From a pulse that closes half again as slowly as the truth's. */
Test(calibrate_fit, the_pulse_is_found_from_afar)
{
    hyoid_part truth = *hyoid_part_default();
    double opening, closing, there_opening, there_closing;
    hy_pulse_times(&truth, &opening, &closing);
    hy_pulse_shape(&truth, 0.9 * opening, 0.7 * closing);
    bench *b = speak(&truth, VOICES, 1);
    cr_assert_eq(hy_fit_phases(b->fit, 0, 0), 0);
    cr_assert_eq(hy_fit_pulse(b->fit, 0), 0);
    hy_pulse_times(hy_fit_part(b->fit), &there_opening, &there_closing);
    cr_assert_float_eq(there_closing / (0.7 * closing), 1.0, 0.15, "%g of %g", there_closing, 0.7 * closing);
    cr_assert_float_eq(there_opening / (0.9 * opening), 1.0, 0.15, "%g of %g", there_opening, 0.9 * opening);
    drop(b);
}

/* Codes and constants together come nearer to the truth; what was not said, and an amplitude of 0, stay what they were. */
Test(calibrate_fit, joint_steps_go_home_and_leave_the_rest)
{
    hyoid_part truth = *hyoid_part_default();
    truth.f2.k0 *= 1.02;
    truth.f2.ks *= 1.02;
    truth.f3.k6 *= 1.2;
    truth.phoneme[0x24].f1 += 1;
    truth.phoneme[0x24].f3 -= 1;
    truth.phoneme[0x0d].f2 += 2;
    bench *b = speak(&truth, HELD, 1);
    size_t heard;
    cr_assert(hy_fit_noise(b->fit, 0, &heard) == 0 && heard > 2, "%zu", heard);
    cr_assert_eq(hy_fit_phases(b->fit, 0, 0), 0);
    const double before = hy_fit_cost(b->fit, 0);
    cr_assert_eq(hy_fit_joint(b->fit, 4), 0);
    const double after = hy_fit_cost(b->fit, 0);
    cr_assert_lt(after, 0.6 * before, "%g of %g", after, before);
    const hyoid_part *found = hy_fit_part(b->fit);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        const hyoid_phoneme *was = &hyoid_part_default()->phoneme[c], *is = &found->phoneme[c];
        cr_assert((was->va == 0) == (is->va == 0) && (was->fa == 0) == (is->fa == 0), "code %02x", c);
        cr_assert(b->fit->by_code_count[c] > 0 || memcmp(was, is, sizeof *was) == 0, "code %02x", c);
    }
    drop(b);
}

Test(calibrate_fit, joint_steps_take_a_part_whose_counts_are_far_off)
{
    hyoid_part truth = *hyoid_part_default();
    truth.f3.k6 *= 1.3;
    bench *b = speak(&truth, ALL, 1);
    hy_fit_part(b->fit)->formant_cycles = 600; /* beyond what is searched, within what a part may have */
    cr_assert_eq(hy_fit_phases(b->fit, 0, 0), 0);
    const double before = hy_fit_cost(b->fit, 0);
    cr_assert_eq(hy_fit_joint(b->fit, 1), 0);
    cr_assert_lt(hy_fit_cost(b->fit, 0), before);
    drop(b);
}

Test(calibrate_fit, a_step_that_all_noises_have_in_common_goes_home)
{
    bench *b = speak(hyoid_part_default(), ALL, 1);
    hyoid_part *part = hy_fit_part(b->fit);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        part->phoneme[c].fa =
            (uint8_t)(part->phoneme[c].fa + 2 * (b->fit->by_code_count[c] > 0 && part->phoneme[c].fa > 0));
    }
    const double coupling = part->noise_f2;
    hy_fit_noises_home(b->fit);
    cr_assert_eq(memcmp(part->phoneme, hyoid_part_default()->phoneme, sizeof part->phoneme), 0);
    cr_assert_gt(part->noise_f2, 1.1 * coupling);
    drop(b);
}

Test(calibrate_fit, a_step_that_all_levels_have_in_common_goes_home)
{
    bench *b = speak(hyoid_part_default(), ALL, 1);
    hyoid_part *part = hy_fit_part(b->fit);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        if (b->fit->by_code_count[c] > 0) {
            part->phoneme[c].va = (uint8_t)(part->phoneme[c].va - (part->phoneme[c].va > 1));
            part->phoneme[c].fa = (uint8_t)(part->phoneme[c].fa - (part->phoneme[c].fa > 1));
        }
    }
    cr_assert_eq(hy_fit_levels_home(b->fit, 0), 0);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        const hyoid_phoneme *was = &hyoid_part_default()->phoneme[c];
        const int low = was->va == 1 || was->fa == 1; /* could not go down */
        cr_assert(low || (part->phoneme[c].va == was->va && part->phoneme[c].fa == was->fa), "code %02x", c);
    }
    /* half of them moved and half where they were is no common step, either way round */
    for (int by = -1; by <= 1; by += 2) {
        *part = *hyoid_part_default();
        int searched = 0, moved = 0;
        for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
            searched += b->fit->by_code_count[c] > 0 && hy_fit_searched(&part->phoneme[c], HY_VA, 0);
        }
        for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
            uint8_t *va = &part->phoneme[c].va;
            if (b->fit->by_code_count[c] > 0 && *va > 1 && *va < 15 && moved < searched / 2) {
                *va = (uint8_t)(*va + by);
                moved++;
            }
        }
        cr_assert_eq(2 * moved, searched);
        const hyoid_part half = *part;
        hy_fit_levels_home(b->fit, 0);
        cr_assert_eq(memcmp(part->phoneme, half.phoneme, sizeof half.phoneme), 0, "by %d", by);
    }
    drop(b);
}
