#include "spectrum.h"

#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "recording.h"

static const double pi = 3.14159265358979323846;

struct hy_stft {
    int window, fft;
    double scale;
    float *shape, *in;
    fftwf_complex *out;
    fftwf_plan plan;
};

hy_stft *hy_stft_new(int window, int fft)
{
    hy_stft *s = calloc(1, sizeof *s);
    if (s == NULL) {
        return NULL;
    }
    s->window = window;
    s->fft = fft;
    s->shape = malloc((size_t)window * sizeof *s->shape);
    s->in = fftwf_alloc_real((size_t)fft);
    s->out = fftwf_alloc_complex((size_t)fft / 2 + 1);
    if (s->shape == NULL || s->in == NULL || s->out == NULL) {
        hy_stft_free(s);
        return NULL;
    }
    s->plan = fftwf_plan_dft_r2c_1d(fft, s->in, s->out, FFTW_ESTIMATE); /* measuring would vary from run to run */
    if (s->plan == NULL) {
        hy_stft_free(s);
        return NULL;
    }
    memset(s->in, 0, (size_t)fft * sizeof *s->in);
    double sum = 0;
    for (int i = 0; i < window; i++) {
        double w = 0.5 - 0.5 * cos(2 * pi * (i + 0.5) / window);
        s->shape[i] = (float)w;
        sum += w * w;
    }
    s->scale = 2.0 / (HY_ANALYSIS_RATE * sum);
    return s;
}

void hy_stft_free(hy_stft *s)
{
    if (s != NULL) {
        if (s->plan != NULL) {
            fftwf_destroy_plan(s->plan);
        }
        fftwf_free(s->in);
        fftwf_free(s->out);
        free(s->shape);
        free(s);
    }
}

int hy_stft_bins(const hy_stft *s)
{
    return s->fft / 2 + 1;
}

void hy_stft_power(hy_stft *s, const float *x, size_t count, long centre, float *power)
{
    long from = centre - s->window / 2;
    for (int i = 0; i < s->window; i++) {
        long at = from + i;
        s->in[i] = at >= 0 && at < (long)count ? s->shape[i] * x[at] : 0.0f;
    }
    fftwf_execute(s->plan);
    for (int k = 0; k <= s->fft / 2; k++) {
        const float *c = s->out[k];
        power[k] = (float)s->scale * (c[0] * c[0] + c[1] * c[1]);
    }
}

static double mel(double hz)
{
    return 2595.0 * log10(1.0 + hz / 700.0);
}

static double hz_of_mel(double m)
{
    return 700.0 * (pow(10.0, m / 2595.0) - 1.0);
}

void hy_bands_make(hy_bands *b, int fft)
{
    memset(b, 0, sizeof *b);
    b->bins = fft / 2 + 1;
    double low = mel(100.0), step = (mel(10000.0) - low) / (HY_BANDS + 1);
    double bin = (double)HY_ANALYSIS_RATE / fft;
    for (int i = 0; i < HY_BANDS; i++) {
        b->low[i] = hz_of_mel(low + step * i);
        b->centre[i] = hz_of_mel(low + step * (i + 1));
        b->high[i] = hz_of_mel(low + step * (i + 2));
        b->first[i] = (int)ceil(b->low[i] / bin);
        double sum = 0;
        for (int k = b->first[i]; k * bin < b->high[i] && k < b->bins; k++) {
            double hz = k * bin;
            double w = hz < b->centre[i] ? (hz - b->low[i]) / (b->centre[i] - b->low[i])
                                         : (b->high[i] - hz) / (b->high[i] - b->centre[i]);
            b->weight[i][b->count[i]++] = (float)(w > 1e-6 ? w : 1e-6);
            sum += w > 1e-6 ? w : 1e-6;
        }
        if (b->count[i] == 0) { /* narrower than a bin */
            b->first[i] = (int)(b->centre[i] / bin + 0.5);
            b->count[i] = 1;
            b->weight[i][0] = 1.0f;
            sum = 1.0;
        }
        for (int k = 0; k < b->count[i]; k++) {
            b->weight[i][k] /= (float)sum;
        }
    }
}

void hy_bands_take(const hy_bands *b, const float *power, float *energy)
{
    for (int i = 0; i < HY_BANDS; i++) {
        float sum = 0;
        for (int k = 0; k < b->count[i]; k++) {
            sum += b->weight[i][k] * power[b->first[i] + k];
        }
        energy[i] = sum;
    }
}

int hy_frames_make(hy_frames *f, const float *x, size_t count, int hop, hy_diag *diag)
{
    f->hop = hop;
    f->count = count / (size_t)hop + 1;
    f->energy = malloc(f->count * HY_BANDS * sizeof *f->energy);
    hy_bands *bands = malloc(sizeof *bands);
    hy_stft *stft = hy_stft_new(HY_BAND_WINDOW, HY_BAND_FFT);
    int failed = f->energy == NULL || bands == NULL || stft == NULL;
    if (!failed) {
        float power[HY_BAND_FFT / 2 + 1];
        hy_bands_make(bands, HY_BAND_FFT);
        for (size_t i = 0; i < f->count; i++) {
            hy_stft_power(stft, x, count, (long)(i * (size_t)hop), power);
            hy_bands_take(bands, power, f->energy + i * HY_BANDS);
        }
    } else {
        hy_frames_free(f);
    }
    free(bands);
    hy_stft_free(stft);
    return failed ? hy_fail(diag, "memory is out") : 0;
}

void hy_frames_free(hy_frames *f)
{
    free(f->energy);
    f->energy = NULL;
    f->count = 0;
}

static void swap(double *a, double *b)
{
    double keep = *a;
    *a = *b;
    *b = keep;
}

/* Puts the value of this rank in its place, smaller ones before it, larger ones behind (Hoare's selection). */
static void select_rank(double *v, size_t count, size_t rank)
{
    size_t low = 0, high = count - 1;
    while (low < high) {
        double pivot = v[low + (high - low) / 2];
        size_t i = low, k = high;
        while (i <= k) {
            while (v[i] < pivot) {
                i++;
            }
            while (v[k] > pivot) {
                k--;
            }
            if (i <= k) {
                swap(&v[i++], &v[k]);
                if (k == 0) {
                    break;
                }
                k--;
            }
        }
        if (rank <= k) {
            high = k;
        } else if (rank >= i) {
            low = i;
        } else {
            return;
        }
    }
}

double hy_quantile(double *values, size_t count, double part)
{
    if (count == 0) {
        return 0.0;
    }
    double at = part * (double)(count - 1);
    size_t low = (size_t)at;
    select_rank(values, count, low);
    double next = values[low];
    for (size_t i = low + 1; i < count; i++) { /* the least of what lies behind */
        next = i == low + 1 || values[i] < next ? values[i] : next;
    }
    return values[low] + (at - (double)low) * (next - values[low]);
}
