#include "tick_bands.h"

#include <fftw3.h>
#include <math.h>
#include <stdlib.h>

static const double TWO_PI = 6.28318530717958647692;

enum { SIZE = 1024, BINS = SIZE / 2 + 1 };

struct hy_tick_bands {
    double window[HY_TICK_WINDOW];
    double *in;
    fftw_complex *out;
    fftw_plan plan;
    unsigned char first[BINS]; /* the lower of the two bands that share a bin */
    float share[BINS];         /* and its share; 0 below the lowest, 1 - share goes to the next */
};

/* Bands are even up to 1.5 kHz (at a filter rate of 20 kHz) and widen from there: 100 Hz, then by the same ratio up to 9 kHz. */
double hy_tick_band_centre(size_t band)
{
    enum { EVEN = 15 };
    double even = 0.005, last = EVEN * even;
    if (band < EVEN) {
        return (double)(band + 1) * even;
    }
    double ratio = pow(0.45 / last, 1.0 / (HY_TICK_BANDS - EVEN));
    return last * pow(ratio, (double)(band - EVEN + 1));
}

double hy_tick_band_hold(size_t band)
{
    double x = TWO_PI / 2 * hy_tick_band_centre(band), sinc = sin(x) / x;
    return sinc * sinc;
}

hy_tick_bands *hy_tick_bands_new(void)
{
    hy_tick_bands *b = calloc(1, sizeof *b);
    if (b == NULL) {
        return NULL;
    }
    b->in = fftw_alloc_real(SIZE);
    b->out = fftw_alloc_complex(BINS);
    if (b->in != NULL && b->out != NULL) {
        b->plan = fftw_plan_dft_r2c_1d(SIZE, b->in, b->out, FFTW_ESTIMATE);
    }
    if (b->plan == NULL) {
        hy_tick_bands_free(b);
        return NULL;
    }
    for (int i = 0; i < HY_TICK_WINDOW; i++) {
        b->window[i] = 0.5 - 0.5 * cos(TWO_PI * (i + 0.5) / HY_TICK_WINDOW);
    }
    for (int k = 0; k < BINS; k++) {
        double f = (double)k / SIZE;
        b->first[k] = HY_TICK_BANDS;
        for (size_t i = 0; i + 1 < HY_TICK_BANDS; i++) {
            double low = hy_tick_band_centre(i), high = hy_tick_band_centre(i + 1);
            if (f >= low && f < high) {
                b->first[k] = (unsigned char)i;
                b->share[k] = (float)((high - f) / (high - low));
            }
        }
    }
    return b;
}

void hy_tick_bands_free(hy_tick_bands *b)
{
    if (b != NULL) {
        if (b->plan != NULL) {
            fftw_destroy_plan(b->plan);
        }
        fftw_free(b->in);
        fftw_free(b->out);
        free(b);
    }
}

void hy_tick_bands_frame(hy_tick_bands *b, const float *sound, size_t count, long centre, hy_tick_frame *frame)
{
    long from = centre - HY_TICK_WINDOW / 2;
    for (long i = 0; i < HY_TICK_WINDOW; i++) {
        long at = from + i;
        b->in[i] = at >= 0 && (size_t)at < count ? (double)sound[at] * b->window[i] : 0;
    }
    for (int i = HY_TICK_WINDOW; i < SIZE; i++) {
        b->in[i] = 0;
    }
    fftw_execute(b->plan);
    for (int i = 0; i < HY_TICK_BANDS; i++) {
        frame->power[i] = 0;
    }
    for (int k = 0; k < BINS; k++) {
        if (b->first[k] < HY_TICK_BANDS) {
            float power = (float)(b->out[k][0] * b->out[k][0] + b->out[k][1] * b->out[k][1]);
            frame->power[b->first[k]] += power * b->share[k];
            frame->power[b->first[k] + 1] += power * (1 - b->share[k]);
        }
    }
}
