/* Two parts compared: every number that was changed is found, no other is, and what it sounds like follows from the laws. And
 * the ranges of the part files are those of the core. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "acoustics.h"
#include "partdiff.h"
#include "partfile_private.h"

static hy_diag diag;

/* A part as it was read, with one of its numbers changed behind its back. */
static hy_partfile *fresh(void)
{
    hy_partfile *file = hy_partfile_default(&diag);
    cr_assert_not_null(file, "%s", diag.text);
    return file;
}

static hy_diff compared(const hy_partfile *a, const hy_partfile *b)
{
    hy_diff d;
    cr_assert_eq(hy_diff_make(&d, a, "a", b, "b", &diag), 0, "%s", diag.text);
    return d;
}

Test(part_diff, a_part_is_equal_to_itself)
{
    hy_partfile *a = fresh();
    hy_partfile *b = fresh();
    hy_diff d = compared(a, b);
    cr_expect_eq(d.count, 0);
    cr_expect_eq(d.known_otherwise, 0);
    hy_diff_free(&d);
    b->phonemes[3][2].known.confidence = "measured";
    d = compared(a, b);
    cr_expect_eq(d.count, 0);
    cr_expect_eq(d.known_otherwise, 1);
    hy_diff_free(&d);
    hy_partfile_free(a);
    hy_partfile_free(b);
}

Test(part_diff, every_phoneme_number_is_seen)
{
    hy_partfile *a = fresh();
    for (unsigned code = 0; code < HYOID_PHONEMES; code += 7) {
        for (int q = 0; q < HY_QUANTITIES; q++) {
            hy_partfile *b = fresh();
            hyoid_phoneme *p = &b->part.phoneme[code];
            if (q == HY_DURATION) {
                p->duration++;
                b->phonemes[code][q].known.value = "another";
            } else {
                uint8_t *field = (uint8_t *)p + hy_quantities[q].offset;
                *field = *field > 0 ? (uint8_t)(*field - 1) : 1;
            }
            hy_diff d = compared(a, b);
            cr_assert_eq(d.count, 1, "0x%02x %s: %zu differences", code, hy_quantities[q].name, d.count);
            cr_expect_eq(d.phonemes, 1);
            cr_expect_eq(d.difference[0].code, (int)code);
            cr_expect_str_eq(d.difference[0].quantity, hy_quantities[q].name);
            cr_expect_not_null(strstr(d.difference[0].name, hy_quantities[q].name));
            hy_diff_free(&d);
            hy_partfile_free(b);
        }
    }
    hy_partfile_free(a);
}

static void nudge(hyoid_part *part, const hy_constant *c, unsigned index)
{
    char *at = (char *)part + c->offset;
    if (c->kind == HY_KIND_REAL) {
        double v;
        memcpy(&v, at, sizeof v);
        v = v * 1.25 + 1e-6;
        memcpy(at, &v, sizeof v);
    } else if (c->kind == HY_KIND_STEP) {
        part->pulse[index]++;
    } else {
        uint32_t v;
        memcpy(&v, at + index * sizeof v, sizeof v);
        v++;
        memcpy(at + index * sizeof v, &v, sizeof v);
    }
}

Test(part_diff, every_constant_is_seen_and_sounds_otherwise)
{
    hy_partfile *a = fresh();
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        hy_partfile *b = fresh();
        nudge(&b->part, c, 0);
        hy_diff d = compared(a, b);
        cr_assert_eq(d.count, 1, "%s: %zu differences", c->name, d.count);
        cr_expect_eq(d.phonemes, 0);
        cr_expect_eq(strncmp(d.difference[0].name, c->name, strlen(c->name)), 0);
        hy_sense *s = d.difference[0].sense;
        if (s[0].unit[0] != '\0' && isfinite(s[0].value)) {
            cr_expect(s[0].value != s[1].value, "%s sounds alike: %g %s", c->name, s[0].value, s[0].unit);
        }
        hy_diff_free(&d);
        hy_partfile_free(b);
    }
    hy_partfile_free(a);
}

static double sense_of(const hyoid_part *part, const char *name)
{
    size_t constant;
    int slot = hy_constant_find(name, &constant);
    cr_assert(slot >= 0, "%s", name);
    unsigned index = (unsigned)slot - hy_constant_slot(constant);
    return hy_sense_of_constant(part, &hy_constants[constant], index).value;
}

Test(part_diff, senses_follow_the_laws)
{
    hyoid_part part = *hyoid_part_default();
    part.nominal_hz = 720e3;
    part.filter_clocks = 36;
    part.pitch_period[2] = 200;
    part.noise_bits = 15;
    part.formant_cycles = 64;
    part.transition_shift = 1;
    part.output_gain = 0.5;
    part.lowpass_k = 1;
    cr_expect_float_eq(sense_of(&part, "filter_clocks"), 20e3, 1e-6);
    cr_expect_float_eq(sense_of(&part, "pitch_period[2]"), 100, 1e-9);
    cr_expect_float_eq(sense_of(&part, "noise_bits"), 32767 / 20.0, 1e-6);
    cr_expect_float_eq(sense_of(&part, "formant_cycles"), 3.2 / log(2), 1e-6);
    cr_expect_float_eq(sense_of(&part, "output_gain"), -6.0206, 1e-4);
    cr_expect_float_eq(sense_of(&part, "lowpass_k"), 20e3 * log(2) / 6.283185307179586, 1e-6);
    cr_expect_float_eq(sense_of(&part, "f1.k0"), hy_resonance_hz(part.f1.k0, part.f1.k6, 20e3), 1e-9);
    part.phoneme[9] = (hyoid_phoneme){.va = 15, .vd = 4, .duration = 1600};
    cr_expect_float_eq(hy_sense_of_quantity(&part, 9, hy_quantity_find("va")).value, 0, 1e-9);
    cr_expect_float_eq(hy_sense_of_quantity(&part, 9, hy_quantity_find("vd")).value, 20, 1e-9);
    cr_expect_float_eq(hy_sense_of_quantity(&part, 9, hy_quantity_find("duration")).value, 80, 1e-9);
    hy_sense silent = hy_sense_of_quantity(&part, 9, hy_quantity_find("fa"));
    cr_expect_str_eq(hy_sense_say(&silent).text, "silent");
    hy_sense a = {1000, "Hz", ""};
    hy_sense b = {1020, "Hz", ""};
    cr_expect_str_eq(hy_sense_difference(&a, &b).text, "+20.0 Hz (+2.0 %)");
    cr_expect_str_eq(hy_sense_difference(&a, &a).text, "");
}

Test(part_diff, a_longer_pulse_has_entries_that_the_other_lacks)
{
    hy_partfile *a = fresh();
    hy_partfile *b = fresh();
    size_t constant;
    int slot = hy_constant_find("pulse[0]", &constant);
    cr_assert(slot >= 0);
    unsigned length = b->part.pulse_length;
    b->part.pulse_length++;
    b->constants[(unsigned)slot + length] = (hy_entry){{"7", "step", "measured", "a test"}, 999};
    b->part.pulse[length] = 7;
    hy_diff d = compared(a, b);
    cr_assert_eq(d.count, 2, "%zu", d.count);
    cr_expect_str_eq(d.difference[0].name, "pulse_length");
    cr_expect_null(d.difference[1].known[0]);
    cr_expect_str_eq(d.difference[1].known[1]->value, "7");
    hy_diff_free(&d);
    hy_partfile_free(a);
    hy_partfile_free(b);
}

/* ---- ranges ---- */

static int accepted(const hyoid_part *part)
{
    const char *problem = NULL;
    return hyoid_part_check(part, &problem) == HYOID_OK;
}

static void set(hyoid_part *part, const hy_constant *c, double value)
{
    char *at = (char *)part + c->offset;
    if (c->kind == HY_KIND_REAL) {
        memcpy(at, &value, sizeof value);
    } else if (c->kind == HY_KIND_COUNT) {
        uint32_t count = (uint32_t)value;
        memcpy(at, &count, sizeof count);
    }
}

/* A part in which a number may go to either end of its own range: what else binds it is out of the way. */
static hyoid_part roomy(const char *name)
{
    hyoid_part part = *hyoid_part_default();
    part.request_delay = 0;
    if (strcmp(name, "output_clocks") == 0 || strcmp(name, "request_delay") == 0) {
        part.filter_clocks = 4096;
    } else {
        part.output_clocks = 1;
    }
    if (strcmp(name, "noise_bits") == 0) {
        part.noise_taps = part.noise_seed = 1;
    } else {
        part.noise_bits = 31;
    }
    hyoid_section *sections[] = {&part.f1, &part.f2, &part.f3};
    for (int i = 0; i < 3; i++) {
        sections[i]->k0 = 1e-9;
        sections[i]->ks = 0;
    }
    return part;
}

Test(part_diff, ranges_of_the_files_are_those_of_the_core)
{
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        if (c->kind == HY_KIND_STEP) {
            continue; /* any int16_t */
        }
        int real = c->kind == HY_KIND_REAL;
        double step_low = real ? fmax(1e-9 * c->low, 1e-12) : 1;
        double step_high = real ? 1e-9 * c->high : 1;
        int only_together = strstr(c->name, ".ks") != NULL || strcmp(c->name, "request_delay") == 0;
        hyoid_part part = roomy(c->name);
        cr_assert(accepted(&part), "%s", c->name);
        set(&part, c, c->open ? c->low + step_low : c->low);
        cr_expect(accepted(&part), "%s at its low end %g", c->name, c->low);
        int narrower =
            strcmp(c->name, "nominal_hz") == 0; /* in a file below 1 Hz is a slip, to the core it is only a label */
        if (!narrower && (real || c->low > 0)) {
            set(&part, c, c->open ? c->low : c->low - step_low);
            cr_expect(!accepted(&part), "%s below its low end %g", c->name, c->low);
        }
        if (!only_together) {
            part = roomy(c->name);
            set(&part, c, c->open ? c->high - step_high : c->high);
            cr_expect(accepted(&part), "%s at its high end %g", c->name, c->high);
        }
        if (real || c->high < 4294967295.0) {
            part = roomy(c->name);
            set(&part, c, c->open ? c->high : c->high + step_high);
            cr_expect(!accepted(&part), "%s above its high end %g", c->name, c->high);
        }
    }
    for (int q = 0; q < HY_DURATION; q++) {
        hyoid_part part = roomy("");
        uint8_t *field = (uint8_t *)&part.phoneme[5] + hy_quantities[q].offset;
        *field = (uint8_t)hy_quantities[q].most;
        cr_expect(accepted(&part), "%s at its high end", hy_quantities[q].name);
        *field = (uint8_t)(hy_quantities[q].most + 1);
        cr_expect(!accepted(&part), "%s above its high end", hy_quantities[q].name);
    }
}
