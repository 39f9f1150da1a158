#include "measure.h"

#include <fftw3.h>
#include <math.h>

#include "acoustics.h"
#include "formants.h"
#include "held.h"

enum { LEVEL = 1, LENGTH = 512 };
#define SOUND_MS 1000.0

static const double pi = 3.14159265358979323846;

/* Four resonances lie below it: as a phonetician does, who sets it by the size of the speaker. */
static double ceiling_hz(const hyoid_part *part)
{
    double f4 = hy_resonance_hz(part->f4_k, part->f4_k6, hy_cycle_hz(part));
    double ceiling = isfinite(f4) ? 100 * floor(0.0118 * f4 + 0.5) : 4600; /* 4600 Hz where the fixed one is 3900 */
    return fmin(fmax(ceiling, 2000), 20000);
}

/* Sums the power spectra of overlapping Hann windows; NaN if memory is out. */
static double gravity_hz(const hy_held *held)
{
    double *in = fftw_alloc_real(LENGTH);
    fftw_complex *out = fftw_alloc_complex(LENGTH / 2 + 1);
    fftw_plan plan = in != NULL && out != NULL ? fftw_plan_dft_r2c_1d(LENGTH, in, out, FFTW_ESTIMATE) : NULL;
    double sum = 0;
    double moment = 0;
    for (size_t at = 0; plan != NULL && at + LENGTH <= held->count; at += LENGTH / 2) {
        for (size_t i = 0; i < LENGTH; i++) {
            in[i] = (double)held->frames[at + i] * (0.5 - 0.5 * cos(2 * pi * ((double)i + 0.5) / LENGTH));
        }
        fftw_execute(plan);
        for (int k = 1; k < LENGTH / 2; k++) {
            double power = out[k][0] * out[k][0] + out[k][1] * out[k][1];
            sum += power;
            moment += power * k * held->rate / LENGTH;
        }
    }
    if (plan != NULL) {
        fftw_destroy_plan(plan);
    }
    fftw_free(in);
    fftw_free(out);
    return sum > 0 ? moment / sum : NAN;
}

/* Power of the changes from sample to sample: as linear prediction sees a sound, which it gets with its highs raised. */
static double power_of_changes(const hy_held *held)
{
    double power = 0;
    for (size_t i = 1; i < held->count; i++) {
        double change = (double)held->frames[i] - (double)held->frames[i - 1];
        power += change * change;
    }
    return power;
}

/* Whether a formant of the voice can be told: linear prediction takes noise for resonances of its own. 1, 0, or -1. */
static int clearly_voiced(const hyoid_part *part, unsigned code, const hy_held *whole, hy_diag *diag)
{
    if (!whole->voiced || !whole->noisy) {
        return whole->voiced;
    }
    hy_held noise;
    hy_hold_how how = {.level = LEVEL, .rate = HY_GRAVITY_RATE, .ms = SOUND_MS, .without_voice = 1};
    if (hy_hold(&noise, part, code, &how, diag) != 0) {
        return -1;
    }
    int clear = power_of_changes(&noise) <= 0.01 * power_of_changes(whole);
    hy_held_free(&noise);
    return clear;
}

static int formants(hy_measured *measured, const hyoid_part *part, unsigned code, hy_diag *diag)
{
    hy_held held;
    hy_hold_how how = {.level = LEVEL, .rate = (uint32_t)(4 * ceiling_hz(part)), .ms = SOUND_MS};
    if (hy_hold(&held, part, code, &how, diag) != 0) {
        return -1;
    }
    double hz[HY_FORMANTS_MEASURED];
    int status = hy_formants_measure(held.frames, held.count, held.rate, hz, diag);
    if (status == 0) {
        measured->f1 = hz[0];
        measured->f2 = hz[1];
        measured->f3 = hz[2];
    }
    hy_held_free(&held);
    return status;
}

int hy_measure(hy_measured *measured, const hyoid_part *part, unsigned code, hy_diag *diag)
{
    *measured = (hy_measured){.f1 = NAN, .f2 = NAN, .f3 = NAN, .level_db = NAN, .gravity_hz = NAN};
    hy_held held;
    hy_hold_how how = {.level = LEVEL, .rate = HY_GRAVITY_RATE, .ms = SOUND_MS};
    if (hy_hold(&held, part, code, &how, diag) != 0) {
        return -1;
    }
    double db = 10 * log10(hy_held_power(&held));
    int clear = 0;
    measured->settled = held.settled;
    if (held.settled && !held.silent && db >= HY_SILENCE_DB) { /* false for NaN too */
        measured->level_db = db;
        measured->gravity_hz = gravity_hz(&held);
        clear = clearly_voiced(part, code, &held, diag);
    }
    hy_held_free(&held);
    return clear == 1 ? formants(measured, part, code, diag) : clear;
}
