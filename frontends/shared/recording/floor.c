#include "floor.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double two_pi = 6.283185307179586476925286766559;

#define DECIMATED_HZ 1500.0
enum { DECIMATION = HY_ANALYSIS_RATE / 1500, PIECES_MAX = 400 };
#define PIECE_S 0.5        /* long enough to tell 50 from 60 Hz and their harmonics from their neighbours */
#define BESIDE_DB 5.0      /* once one stands out, others of the same mains need not stand out so far */
#define STANDS_OUT_DB 10.0 /* a line above its neighbours, in the quieter pieces */
#define SPREAD_HZ 0.6      /* mains may be this far from nominal */
#define BLOCK_S 4.0        /* over which phase and size of a line are taken as constant */

/* Strength of one frequency in x[0..n), Hann-weighted: mean square of that line. */
static double line_power(const float *x, size_t n, double hz, double rate)
{
    double re = 0, im = 0, sum = 0;
    double step = two_pi * hz / rate, c = cos(step), s = sin(step), wr = 1, wi = 0;
    double hann = two_pi / (double)n;
    for (size_t i = 0; i < n; i++) {
        double w = 0.5 - 0.5 * cos(hann * ((double)i + 0.5));
        re += w * (double)x[i] * wr;
        im += w * (double)x[i] * wi;
        sum += w;
        double next = wr * c - wi * s;
        wi = wr * s + wi * c;
        wr = next;
    }
    return 2 * (re * re + im * im) / (sum * sum);
}

/* A low quantile over pieces of the line's power: what is there at all times. */
static double lasting_power(const float *x, size_t count, double hz)
{
    size_t n = (size_t)(PIECE_S * DECIMATED_HZ);
    size_t pieces = count / n;
    size_t stride = pieces > PIECES_MAX / 4 ? pieces / (PIECES_MAX / 4) : 1;
    double power[PIECES_MAX];
    size_t used = 0;
    for (size_t p = 0; p < pieces && used < PIECES_MAX; p += stride) {
        power[used++] = line_power(x + p * n, n, hz, DECIMATED_HZ);
    }
    return hy_quantile(power, used, 0.25);
}

/* How far a harmonic stands above what is 7 and 11 Hz beside it, dB. */
static double prominence(const float *x, size_t count, double hz)
{
    double line = lasting_power(x, count, hz);
    double beside = 0.25 * (lasting_power(x, count, hz - 7) + lasting_power(x, count, hz + 7) +
                            lasting_power(x, count, hz - 11) + lasting_power(x, count, hz + 11));
    return 10 * log10((line + 1e-20) / (beside + 1e-20));
}

/* Mains frequency from the strongest line, over blocks as long as the recording allows. */
static double mains_frequency(const float *x, size_t count, double nominal, int line)
{
    size_t n = (size_t)(BLOCK_S * DECIMATED_HZ);
    n = n < count ? n : count;
    size_t stride = count / n > 8 ? count / n / 8 : 1;
    double best = nominal, most = -1;
    for (double off = -SPREAD_HZ; off <= SPREAD_HZ; off += 0.02) {
        double sum = 0;
        for (size_t p = 0; (p + 1) * n <= count; p += stride) {
            sum += line_power(x + p * n, n, (nominal + off) * line, DECIMATED_HZ);
        }
        if (sum > most) {
            most = sum;
            best = nominal + off;
        }
    }
    return best;
}

/* Weights that let a line be fitted where it is quiet: 1 / (power around a sample + what is quiet). */
static float *quiet_weights(const float *x, size_t count)
{
    const size_t block = HY_ANALYSIS_RATE / 50, blocks = count / block + 1;
    float *weight = malloc(count * sizeof *weight);
    double *power = calloc(2 * blocks, sizeof *power);
    if (weight == NULL || power == NULL) {
        free(weight);
        free(power);
        return NULL;
    }
    for (size_t i = 0; i < count; i++) {
        power[i / block] += (double)x[i] * (double)x[i] / (double)block;
    }
    memcpy(power + blocks, power, blocks * sizeof *power);
    double quiet = hy_quantile(power + blocks, blocks, 0.1) + 1e-12;
    for (size_t i = 0; i < count; i++) {
        size_t b = i / block;
        double around = power[b];
        around = b > 0 && power[b - 1] > around ? power[b - 1] : around;
        around = b + 1 < blocks && power[b + 1] > around ? power[b + 1] : around;
        weight[i] = (float)(quiet / (around + quiet));
    }
    free(power);
    return weight;
}

typedef struct line {
    double hz, re, im;
} line;

/* Fits one line over x[from..to) by weighted least squares. */
static void fit_line(line *l, const float *x, const float *weight, long from, long to)
{
    double step = two_pi * l->hz / HY_ANALYSIS_RATE, c = cos(step), s = sin(step);
    double wr = cos(step * (double)from), wi = sin(step * (double)from);
    double cc = 1e-30, ss = 1e-30, cs = 0, xc = 0, xs = 0;
    for (long i = from; i < to; i++) {
        double w = (double)weight[i], v = w * (double)x[i];
        cc += w * wr * wr;
        ss += w * wi * wi;
        cs += w * wr * wi;
        xc += v * wr;
        xs += v * wi;
        double next = wr * c - wi * s;
        wi = wr * s + wi * c;
        wr = next;
    }
    double det = cc * ss - cs * cs;
    l->re = det > 1e-9 * cc * ss ? (xc * ss - xs * cs) / det : 0.0;
    l->im = det > 1e-9 * cc * ss ? (xs * cc - xc * cs) / det : 0.0;
}

/* Takes one line out of the samples, fitted in blocks; the blocks overlap by half and their windows sum to 1. */
static double take_out(float *x, size_t count, const float *from, const float *weight, double hz)
{
    size_t n = (size_t)(BLOCK_S * HY_ANALYSIS_RATE);
    n = n < count ? n : count;
    const long hop = (long)(n / 2), all = (long)count;
    double power = 0, length = 0;
    double step = two_pi * hz / HY_ANALYSIS_RATE, c = cos(step), s = sin(step);
    for (long start = -hop; start < all; start += hop) {
        long first = start < 0 ? 0 : start, last = start + 2 * hop < all ? start + 2 * hop : all;
        /* the fit takes all that a block's length allows, the subtraction its window's share */
        long fit = first + (long)n <= all ? first : all - (long)n;
        line l = {.hz = hz};
        fit_line(&l, from, weight, fit, fit + (long)n);
        power += 0.5 * (l.re * l.re + l.im * l.im) * (double)(last - first);
        length += (double)(last - first);
        double wr = cos(step * (double)first), wi = sin(step * (double)first);
        for (long i = first; i < last; i++) {
            double w = 0.5 - 0.5 * cos(two_pi * (double)(i - start) / (double)(2 * hop));
            x[i] -= (float)(w * (l.re * wr + l.im * wi));
            double next = wr * c - wi * s;
            wi = wr * s + wi * c;
            wr = next;
        }
    }
    return length > 0 ? power / length : 0.0;
}

/* Which harmonics of 50 or 60 Hz stand out. The best known sign is the fundamental: the chip's own pitch never comes so low. */
static int lines_of(const float *low, size_t count, double nominal, double *stands)
{
    int lines = 0;
    for (int k = 0; k < HY_HUM_LINES; k++) {
        stands[k] = prominence(low, count, nominal * (k + 1));
        lines += stands[k] >= STANDS_OUT_DB;
    }
    return stands[0] >= STANDS_OUT_DB || stands[1] >= STANDS_OUT_DB ? lines : 0;
}

static int strongest(const double *stands)
{
    int best = 0;
    for (int k = 1; k < HY_HUM_LINES; k++) {
        best = stands[k] > stands[best] ? k : best;
    }
    return best + 1;
}

int hy_hum_remove(hy_recording *r, hy_hum *hum, hy_diag *diag)
{
    *hum = (hy_hum){.level_db = -INFINITY};
    for (int k = 0; k < HY_HUM_LINES; k++) {
        hum->line_db[k] = -INFINITY;
    }
    if (r->count < HY_ANALYSIS_RATE) {
        return 0;
    }
    size_t low_count;
    float *low = hy_decimate(r->samples, r->count, DECIMATION, &low_count, diag);
    if (low == NULL) {
        return -1;
    }
    double at50[HY_HUM_LINES], at60[HY_HUM_LINES];
    int lines50 = lines_of(low, low_count, 50.0, at50), lines60 = lines_of(low, low_count, 60.0, at60);
    if (lines50 == 0 && lines60 == 0) {
        free(low);
        return 0;
    }
    int is60 = lines60 > lines50 || (lines60 == lines50 && at60[strongest(at60) - 1] > at50[strongest(at50) - 1]);
    const double *stands = is60 ? at60 : at50;
    hum->nominal_hz = is60 ? 60.0 : 50.0;
    hum->mains_hz = mains_frequency(low, low_count, hum->nominal_hz, strongest(stands));
    free(low);
    float *from = malloc(r->count * sizeof *from), *weight = quiet_weights(r->samples, r->count);
    if (from == NULL || weight == NULL) {
        free(from);
        free(weight);
        return hy_fail(diag, "memory is out");
    }
    memcpy(from, r->samples, r->count * sizeof *from);
    double sum = 0;
    for (int k = 0; k < HY_HUM_LINES; k++) {
        if (stands[k] >= BESIDE_DB) {
            double power = take_out(r->samples, r->count, from, weight, hum->mains_hz * (k + 1));
            hum->line_db[k] = 10 * log10(power + 1e-20);
            sum += power;
        }
    }
    free(from);
    free(weight);
    hum->level_db = 10 * log10(sum + 1e-20);
    return 0;
}

/* ---- noise ---- */

void hy_noise_sum(hy_noise *noise)
{
    hy_bands bands;
    hy_bands_make(&bands, HY_BAND_FFT);
    double power = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        double from = b > 0 ? bands.centre[b - 1] : 100.0;
        power += (double)noise->energy[b] * (bands.centre[b] - from);
    }
    noise->level_db = 10 * log10(power + 1e-20);
}

static double total_of(const hy_frames *frames, size_t i)
{
    double sum = 0;
    for (size_t b = 0; b < HY_BANDS; b++) {
        sum += (double)frames->energy[i * HY_BANDS + b];
    }
    return sum;
}

void hy_noise_guess(hy_noise *noise, const hy_frames *frames, hy_diag *diag)
{
    double *value = malloc((frames->count > 0 ? frames->count : 1) * sizeof *value);
    memset(noise, 0, sizeof *noise);
    if (value == NULL) {
        hy_fail(diag, "memory is out");
        return;
    }
    for (size_t i = 0; i < frames->count; i++) {
        value[i] = total_of(frames, i);
    }
    double loud = hy_quantile(value, frames->count, 0.95);
    size_t first = 0, last = frames->count;
    while (first < last && total_of(frames, first) < 0.01 * loud) {
        first++;
    }
    while (last > first && total_of(frames, last - 1) < 0.01 * loud) {
        last--;
    }
    for (size_t b = 0; b < HY_BANDS; b++) {
        size_t used = 0;
        for (size_t i = first; i < last; i++) {
            value[used++] = (double)frames->energy[i * HY_BANDS + b];
        }
        noise->energy[b] =
            (float)(hy_quantile(value, used, 0.05) * 2.0); /* bands average several bins: twice is fair */
    }
    free(value);
    hy_noise_sum(noise);
}
