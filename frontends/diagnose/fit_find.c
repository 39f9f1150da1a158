/* Where a reference lies in a recording: envelopes correlated at clocks side by side, then refined by the levels themselves. */
#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit.h"

enum { GROUPS = 4, PER_GROUP = HY_BANDS / GROUPS, BIN_RATE = 50 };
#define CLOCK_STEP 0.005 /* ratio of neighbours */

typedef struct search {
    const hy_heard *heard;
    const hy_reference *reference;
    double gain; /* energy of the recording against the reference's */
    double floor[GROUPS];
    size_t size, bins; /* transform; bins of the recording */
    float *time;
    float *height; /* the reference's levels, GROUPS for each slice */
    fftwf_complex *heard_at[GROUPS], *ours, *product;
    fftwf_plan there, back;
} search;

/* Level above the floor, dB: silence is 0 and loud sounds do not drown the others. */
static float level(double energy, double floor)
{
    return (float)(10.0 * log10((energy + floor) / floor));
}

static void centre(float *x, size_t count)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        sum += (double)x[i];
    }
    for (size_t i = 0; i < count; i++) {
        x[i] -= (float)(sum / (double)count);
    }
}

static double group_energy(const float *energy, int group)
{
    double sum = 0.0;
    for (int b = 0; b < PER_GROUP; b++) {
        sum += (double)energy[group * PER_GROUP + b];
    }
    return sum / PER_GROUP;
}

static void transform_recording(search *s)
{
    for (int g = 0; g < GROUPS; g++) {
        memset(s->time, 0, s->size * sizeof *s->time);
        for (size_t i = 0; i < s->bins; i++) {
            float energy[HY_BANDS] = {0};
            hy_heard_energy(s->heard, (double)i / BIN_RATE, (double)(i + 1) / BIN_RATE, energy);
            s->time[i] = level(group_energy(energy, g), s->floor[g]);
        }
        centre(s->time, s->bins);
        fftwf_execute_dft_r2c(s->there, s->time, s->heard_at[g]);
    }
}

/* The reference's envelope in one group of bands at a clock; returns its bins. */
static size_t draw(search *s, int group, double clock)
{
    const hy_reference *r = s->reference;
    memset(s->time, 0, s->size * sizeof *s->time);
    size_t most = s->size - s->bins, used = 0;
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = (at->host_s + at->chip_s / clock) * BIN_RATE;
        double length = (at[1].host_s + at[1].chip_s / clock) * BIN_RATE - from;
        for (uint32_t k = 0; k < at->slices; k++) {
            const float height = s->height[(size_t)(at->first + k) * GROUPS + (size_t)group];
            size_t first = (size_t)(from + length * k / at->slices + 0.5);
            size_t last = (size_t)(from + length * (k + 1) / at->slices + 0.5);
            for (size_t b = first; b < last && b < most; b++) {
                s->time[b] = height;
                used = b + 1;
            }
        }
    }
    return used;
}

/* The best delay at a clock, in bins, and its likeness. */
static double correlate(search *s, double clock, long *delay)
{
    double own = 0.0, whole = 0.0;
    size_t spectrum = s->size / 2 + 1;
    memset(s->product, 0, spectrum * sizeof *s->product);
    for (int g = 0; g < GROUPS; g++) {
        size_t used = draw(s, g, clock);
        if (used == 0) {
            continue;
        }
        centre(s->time, used);
        for (size_t i = 0; i < used; i++) {
            own += (double)s->time[i] * (double)s->time[i];
        }
        fftwf_execute_dft_r2c(s->there, s->time, s->ours);
        for (size_t k = 0; k < spectrum; k++) {
            const float *a = s->heard_at[g][k], *b = s->ours[k];
            s->product[k][0] += a[0] * b[0] + a[1] * b[1];
            s->product[k][1] += a[1] * b[0] - a[0] * b[1];
            double twice = k == 0 || k + 1 == spectrum ? 1.0 : 2.0;
            whole += twice * ((double)a[0] * (double)a[0] + (double)a[1] * (double)a[1]) / (double)s->size;
        }
    }
    fftwf_execute_dft_c2r(s->back, s->product, s->time);
    size_t best = 0;
    for (size_t i = 1; i < s->size; i++) {
        best = s->time[i] > s->time[best] ? i : best;
    }
    *delay = best < s->bins ? (long)best : (long)best - (long)s->size;
    return own > 0.0 && whole > 0.0 ? (double)s->time[best] / (double)s->size / sqrt(own * whole) : 0.0;
}

/* `slowest`: of the clocks that will be tried. */
static int prepare(search *s, double slowest)
{
    size_t most = (size_t)(s->reference->seconds / slowest * BIN_RATE) + 2;
    s->bins = (size_t)(s->heard->seconds * BIN_RATE) + 1;
    for (s->size = 1024; s->size < s->bins + most; s->size *= 2) {
    }
    size_t spectrum = s->size / 2 + 1;
    s->time = fftwf_alloc_real(s->size);
    s->height = malloc((s->reference->slices * GROUPS + 1) * sizeof *s->height);
    s->ours = fftwf_alloc_complex(spectrum);
    s->product = fftwf_alloc_complex(spectrum);
    int failed = s->time == NULL || s->height == NULL || s->ours == NULL || s->product == NULL;
    for (int g = 0; g < GROUPS; g++) {
        s->heard_at[g] = fftwf_alloc_complex(spectrum);
        failed = failed || s->heard_at[g] == NULL;
        s->floor[g] = group_energy(s->heard->noise, g) + 1e-5 * s->heard->loud;
    }
    for (size_t i = 0; !failed && i < s->reference->slices; i++) {
        for (int g = 0; g < GROUPS; g++) {
            double energy = s->gain * group_energy(s->reference->energy + i * HY_BANDS, g);
            s->height[i * GROUPS + (size_t)g] = level(energy, s->floor[g]);
        }
    }
    if (!failed) { /* estimated plans are the same on every run */
        s->there = fftwf_plan_dft_r2c_1d((int)s->size, s->time, s->ours, FFTW_ESTIMATE);
        s->back = fftwf_plan_dft_c2r_1d((int)s->size, s->product, s->time, FFTW_ESTIMATE);
        failed = s->there == NULL || s->back == NULL;
    }
    return failed ? -1 : 0;
}

static void let_go(search *s)
{
    for (int g = 0; g < GROUPS; g++) {
        fftwf_free(s->heard_at[g]);
    }
    fftwf_free(s->time);
    free(s->height);
    fftwf_free(s->ours);
    fftwf_free(s->product);
    if (s->there != NULL) {
        fftwf_destroy_plan(s->there);
    }
    if (s->back != NULL) {
        fftwf_destroy_plan(s->back);
    }
}

/* ---- refining ---- */

/* Levels of eight broad bands, slice by slice: quick, and fine enough for times. */
enum { PER_BROAD = HY_BANDS / HY_BROAD };

static void broaden(const float *energy, double gain, const float *noise, float *levels)
{
    for (int g = 0; g < HY_BROAD; g++) {
        float sum = 0.0f;
        for (int b = g * PER_BROAD; b < (g + 1) * PER_BROAD; b++) {
            sum += (float)gain * energy[b] + noise[b];
        }
        levels[g] = 10.0f * log10f(sum + 1e-20f);
    }
}

static double apart(const search *s, const float *ours, double clock, double delay)
{
    const hy_reference *r = s->reference;
    double sum = 0.0, weight = 0.0;
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = delay + at->host_s + at->chip_s / clock;
        double length = delay + at[1].host_s + at[1].chip_s / clock - from;
        for (uint32_t k = 0; k < at->slices; k++) {
            float energy[HY_BROAD];
            if (!hy_heard_broad(s->heard, from + length * k / at->slices, from + length * (k + 1) / at->slices,
                                energy)) {
                sum += 20.0 * length / at->slices; /* outside the recording */
                weight += length / at->slices;
                continue;
            }
            const float *mine = ours + (size_t)(at->first + k) * HY_BROAD;
            float difference = 0.0f;
            for (int g = 0; g < HY_BROAD; g++) {
                difference += fminf(fabsf(10.0f * log10f(energy[g] + 1e-20f) - mine[g]), 20.0f);
            }
            sum += (double)difference / HY_BROAD * length / at->slices;
            weight += length / at->slices;
        }
    }
    return weight > 0.0 ? sum / weight : 20.0;
}

static int refine(search *s, double *clock, double *delay)
{
    const hy_reference *r = s->reference;
    float *ours = malloc((r->slices * HY_BROAD + 1) * sizeof *ours);
    if (ours == NULL) {
        return -1;
    }
    for (size_t i = 0; i < r->slices; i++) {
        broaden(r->energy + i * HY_BANDS, s->gain, s->heard->noise, ours + i * HY_BROAD);
    }
    /* a change of the clock turns the reference round its middle, so that both can be sought by turns */
    const hy_segment *end = &r->segment[r->segments];
    const double middle = end->chip_s / 2.0;
    double best = apart(s, ours, *clock, *delay);
    double step_s = 0.016, step = 0.0032;
    while (step_s > 0.0009) {
        int better = 0;
        for (int side = -1; side <= 1; side += 2) {
            double there = apart(s, ours, *clock, *delay + side * step_s);
            if (there < best) {
                best = there;
                *delay += side * step_s;
                better = 1;
            }
            double other = *clock * (1.0 + side * step);
            double turned = *delay + middle / *clock - middle / other;
            there = fabs(other - 1.0) <= HY_CLOCK_REACH * 1.05 ? apart(s, ours, other, turned) : best;
            if (there < best) {
                best = there;
                *clock = other;
                *delay = turned;
                better = 1;
            }
        }
        if (!better) {
            step_s /= 2.0;
            step /= 2.0;
        }
    }
    free(ours);
    return 0;
}

static search start(const hy_heard *heard, const hy_reference *reference, int gain_known)
{
    return (search){.heard = heard, .reference = reference, .gain = gain_known ? 1.0 : heard->loud / reference->loud};
}

static int scan(search *s, hy_fit *fit, double low, double high)
{
    if (prepare(s, low) != 0) {
        return -1;
    }
    const int steps = (int)ceil(log(high / low) / CLOCK_STEP);
    transform_recording(s);
    fit->likeness = -1.0;
    for (int i = 0; i <= steps; i++) {
        double clock = low * pow(high / low, (double)i / steps);
        long delay;
        double likeness = correlate(s, clock, &delay);
        if (likeness > fit->likeness) {
            fit->likeness = likeness;
            fit->clock = clock;
            fit->delay = (double)delay / BIN_RATE;
        }
    }
    return 0;
}

int hy_fit_scan(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, double low, double high,
                hy_diag *diag)
{
    *fit = (hy_fit){.clock = 1.0};
    if (!(reference->loud > 0.0)) {
        return 0;
    }
    search s = start(heard, reference, 0);
    int result = scan(&s, fit, low, high);
    let_go(&s);
    return result == 0 ? 0 : hy_fail(diag, "memory is short for the search");
}

int hy_fit_find(hy_fit *fit, const hy_heard *heard, const hy_reference *reference, const hy_fit_setup *setup,
                const hy_fit *near, hy_diag *diag)
{
    *fit = near != NULL ? *near : (hy_fit){.clock = 1.0};
    if (!(reference->loud > 0.0)) {
        return 0; /* silence lies anywhere */
    }
    search s = start(heard, reference, setup->gain_known);
    int result = near == NULL ? scan(&s, fit, 1.0 - HY_CLOCK_REACH, 1.0 + HY_CLOCK_REACH) : 0;
    result = result == 0 ? refine(&s, &fit->clock, &fit->delay) : -1;
    let_go(&s);
    return result == 0 ? 0 : hy_fail(diag, "memory is short for the search");
}
