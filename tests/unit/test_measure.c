/* What is measured on a held phoneme: against sounds whose formants are known, and against the part's own capacitors. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "acoustics.h"
#include "measure/formants.h"
#include "measure/grid.h"
#include "measure/held.h"
#include "measure/measure.h"

static const double pi = 3.14159265358979323846;
static hy_diag diag;

enum { RATE = 18400, COUNT = 18400 };

/* A pulse train at f0, through two-pole resonators in cascade. */
static float *resonant(double f0, const double hz[4], double width)
{
    float *x = calloc(COUNT, sizeof *x);
    cr_assert_not_null(x);
    double phase = 1;
    double flow = 0; /* falls by 6 dB an octave, as a voice does with its radiation */
    for (int i = 0; i < COUNT; i++, phase += f0 / RATE) {
        flow *= exp(-2 * pi * 50 / RATE);
        if (phase >= 1) {
            phase -= 1;
            flow += 1;
        }
        x[i] = (float)flow;
    }
    for (int k = 0; k < 4; k++) {
        double r = exp(-pi * width / RATE);
        double b = 2 * r * cos(2 * pi * hz[k] / RATE);
        double y1 = 0;
        double y2 = 0;
        for (int i = 0; i < COUNT; i++) {
            double y = (1 - b + r * r) * (double)x[i] + b * y1 - r * r * y2;
            y2 = y1;
            y1 = y;
            x[i] = (float)y;
        }
    }
    return x;
}

Test(measure, formants_of_known_resonators)
{
    static const double sounds[][4] = {{300, 2300, 3000, 3900}, {700, 1100, 2450, 3700}, {450, 1350, 1700, 3600}};
    for (size_t s = 0; s < 3; s++) {
        float *x = resonant(110, sounds[s], 80);
        double hz[HY_FORMANTS_MEASURED];
        cr_assert_eq(hy_formants_measure(x, COUNT, RATE, hz, &diag), 0, "%s", diag.text);
        for (int k = 0; k < HY_FORMANTS_MEASURED; k++) {
            double most = 0.03 * sounds[s][k] + 15; /* a harmonic pulls by some hertz */
            cr_expect(fabs(hz[k] - sounds[s][k]) < most, "F%d of %zu: %.1f, should be %.0f", k + 1, s, hz[k],
                      sounds[s][k]);
        }
        free(x);
    }
}

Test(measure, no_formants_where_windows_disagree)
{
    float *x = calloc(COUNT, sizeof *x);
    cr_assert_not_null(x);
    double hz[HY_FORMANTS_MEASURED] = {1, 1, 1};
    cr_assert_eq(hy_formants_measure(x, COUNT, RATE, hz, &diag), 0);
    cr_expect(isnan(hz[0]) && isnan(hz[1]) && isnan(hz[2]), "silence has formants: %g %g %g", hz[0], hz[1], hz[2]);
    cr_assert_eq(hy_formants_measure(x, 100, RATE, hz, &diag), 0);
    cr_expect(isnan(hz[0]), "less than a window");
    free(x);
}

static hyoid_part *bent(void)
{
    hyoid_part *part = malloc(sizeof *part);
    cr_assert_not_null(part);
    *part = *hyoid_part_default();
    return part;
}

static hy_measured measured(const hyoid_part *part, unsigned code)
{
    hy_measured m;
    cr_assert_eq(hy_measure(&m, part, code, &diag), 0, "%s", diag.text);
    return m;
}

Test(measure, formants_are_near_the_capacitors)
{
    const hyoid_part *part = hyoid_part_default();
    unsigned voiced = 0;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        hy_measured m = measured(part, code);
        hy_formants f = hy_phoneme_formants(part, code);
        if (isnan(m.f1) || isnan(m.f2)) {
            continue;
        }
        voiced++;
        cr_expect(fabs(m.f1 - f.f1) < 0.05 * f.f1 + 50, "0x%02x F1: %.0f, capacitors %.0f", code, m.f1, f.f1);
        cr_expect(fabs(m.f2 - f.f2) < 0.10 * f.f2 + 50, "0x%02x F2: %.0f, capacitors %.0f", code, m.f2, f.f2);
    }
    cr_expect(voiced >= 25, "only %u codes have formants", voiced);
}

Test(measure, what_has_no_meaning_is_no_number)
{
    hyoid_part *part = bent();
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        if (part->phoneme[code].pause) {
            hy_measured m = measured(part, code);
            cr_expect(isnan(m.f1) && isnan(m.f2) && isnan(m.f3) && isnan(m.level_db) && isnan(m.gravity_hz),
                      "pause 0x%02x is measured", code);
        }
    }
    hyoid_phoneme *p = &part->phoneme[0];
    *p = (hyoid_phoneme){.f1 = 8, .f2 = 16, .f3 = 8, .bw2 = 4, .fa = 9, .fc = 8, .duration = 1000};
    hy_measured noise = measured(part, 0);
    cr_expect(isnan(noise.f1) && isnan(noise.f3), "noise has formants");
    cr_expect(isfinite(noise.level_db) && noise.gravity_hz > 500);
    *p = (hyoid_phoneme){.f1 = 8, .f2 = 16, .f3 = 8, .bw2 = 4, .va = 9, .fa = 9, .fc = 8, .duration = 1000};
    cr_expect(isnan(measured(part, 0).f1), "a voice under as much noise has formants");
    *p = (hyoid_phoneme){.f1 = 8, .f2 = 16, .f3 = 8, .bw2 = 4, .va = 9, .duration = 1000};
    cr_expect(isfinite(measured(part, 0).f1), "a clear voice has none");
    free(part);
}

Test(measure, level_and_formants_follow_the_part)
{
    hyoid_part *part = bent();
    hyoid_phoneme *p = &part->phoneme[0];
    *p = (hyoid_phoneme){.f1 = 8, .f2 = 16, .f3 = 8, .bw2 = 4, .va = 12, .vd = 15, .duration = 3000};
    hy_measured before = measured(part, 0);
    part->output_gain *= 2;
    hy_measured louder = measured(part, 0);
    cr_expect_float_eq(louder.level_db - before.level_db, 20 * log10(2), 0.01);
    cr_expect_float_eq(louder.f2, before.f2, 0.01 * before.f2);
    p->f2 = 24;
    cr_expect(measured(part, 0).f2 > before.f2 + 300);
    free(part);
}

Test(measure, a_part_that_hardly_runs_is_not_waited_for)
{
    hyoid_part *part = bent();
    part->nominal_hz = 1;
    hy_measured m = measured(part, 0); /* its filter cycle lasts 36 s */
    cr_expect(isnan(m.f1) && isnan(m.level_db) && !m.settled);
    free(part);
}

Test(measure, held_is_the_same_twice)
{
    const hy_hold_how how = {.level = 1, .rate = 22050, .ms = 200};
    hy_held a, b;
    cr_assert_eq(hy_hold(&a, hyoid_part_default(), 0, &how, &diag), 0);
    cr_assert_eq(hy_hold(&b, hyoid_part_default(), 0, &how, &diag), 0);
    cr_assert_eq(a.count, 4410);
    cr_assert_eq(b.count, a.count);
    cr_expect_eq(memcmp(a.frames, b.frames, a.count * sizeof *a.frames), 0);
    cr_expect(a.settled && a.voiced && !a.silent);
    hy_held_free(&a);
    hy_held_free(&b);
}

Test(measure, grid_shows_a_tone_where_it_is)
{
    enum { TONE_RATE = 22050, TONE_COUNT = 6615 };
    float *x = calloc(TONE_COUNT, sizeof *x);
    cr_assert_not_null(x);
    for (int i = 0; i < TONE_COUNT; i++) {
        x[i] = (float)(i >= TONE_COUNT / 2 ? sin(2 * pi * 3000 * i / TONE_RATE) : 0);
    }
    hy_grid grid;
    cr_assert_eq(hy_grid_make(&grid, 100, 80, 8000, x, TONE_COUNT, TONE_RATE), 0);
    int row = 30; /* 3000 Hz: a row is 100 Hz */
    double here = (double)grid.power[90 * 80 + row];
    cr_expect(here > 0.3 * hy_grid_most(&grid));
    cr_expect(here > 1e6 * (double)grid.power[90 * 80 + row + 20], "another frequency");
    cr_expect(here > 1e6 * (double)grid.power[30 * 80 + row], "before it begins");
    hy_grid_free(&grid);
    /* shorter than a window */
    cr_assert_eq(hy_grid_make(&grid, 10, 10, 8000, x, 3, TONE_RATE), 0);
    hy_grid_free(&grid);
    cr_assert_eq(hy_grid_make(&grid, 10, 10, 8000, x, 0, TONE_RATE), 0);
    cr_expect_eq(hy_grid_most(&grid), 0);
    hy_grid_free(&grid);
    free(x);
}
