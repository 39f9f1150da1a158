#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture_private.h"

#define WINDOW_S 0.008 /* shows formants and, if the time axis is wide enough, single pitch pulses */
#define HOP_S 0.002    /* Hann windows at a quarter of their length weigh every sample the same */
#define TOP_HZ 10000.0
#define FINEST_HZ 25.0      /* a row of the picture */
enum { MOST_FRAMES = 256 }; /* in a column; beyond 12 minutes a column is a sample of its time, evenly spread */

struct hy_spectrum {
    uint32_t rate;
    double top;
    int window, fft;
    double *shape, *in;
    fftw_complex *out;
    fftw_plan plan;
    float *ring; /* the last `window` samples, oldest at ring[seen % window] */
    uint64_t seen;
    /* frames: number k is centred on sample floor((k + 0.5) * spacing), a little further in at both ends */
    int per_column;
    double spacing;
    uint64_t first_centre, last_centre;
    int64_t next;
    uint64_t done_centre; /* of the frame in `last` */
    float last[HY_ROWS];
    float *cell; /* HY_COLUMNS * HY_ROWS */
};

hy_spectrum *hy_spectrum_new(uint32_t rate, double total)
{
    hy_spectrum *s = calloc(1, sizeof *s);
    if (s == NULL) {
        return NULL;
    }
    s->rate = rate;
    s->top = rate / 2.0 < TOP_HZ ? rate / 2.0 : TOP_HZ;
    s->window = 2 * (int)(rate * WINDOW_S / 2);
    s->fft = 64;
    while (s->fft < s->window || rate / (double)s->fft > FINEST_HZ) {
        s->fft *= 2;
    }
    double column = total / HY_COLUMNS;
    double frames = ceil(column / (rate * HOP_S));
    s->per_column = frames < 1 ? 1 : frames > MOST_FRAMES ? MOST_FRAMES : (int)frames;
    s->spacing = column / s->per_column;
    s->done_centre = UINT64_MAX;
    /* A window that reaches over an end would show the cut as a click. */
    uint64_t half = (uint64_t)s->window / 2;
    if (total >= s->window) {
        s->first_centre = half;
        s->last_centre = (uint64_t)total - half;
    } else {
        s->last_centre = (uint64_t)total;
    }
    s->shape = malloc((size_t)s->window * sizeof *s->shape);
    s->ring = calloc((size_t)s->window, sizeof *s->ring);
    s->cell = calloc((size_t)HY_COLUMNS * HY_ROWS, sizeof *s->cell);
    s->in = fftw_alloc_real((size_t)s->fft);
    s->out = fftw_alloc_complex((size_t)s->fft / 2 + 1);
    if (s->shape == NULL || s->ring == NULL || s->cell == NULL || s->in == NULL || s->out == NULL) {
        hy_spectrum_free(s);
        return NULL;
    }
    s->plan = fftw_plan_dft_r2c_1d(s->fft, s->in, s->out, FFTW_ESTIMATE); /* measuring would vary from run to run */
    if (s->plan == NULL) {
        hy_spectrum_free(s);
        return NULL;
    }
    memset(s->in, 0, (size_t)s->fft * sizeof *s->in);
    for (int i = 0; i < s->window; i++) {
        s->shape[i] = 0.5 - 0.5 * cos(2 * 3.14159265358979323846 * (i + 0.5) / s->window);
    }
    return s;
}

static uint64_t centre(const hy_spectrum *s, int64_t frame)
{
    uint64_t at = (uint64_t)(((double)frame + 0.5) * s->spacing);
    return at < s->first_centre ? s->first_centre : at > s->last_centre ? s->last_centre : at;
}

static void analyse(hy_spectrum *s)
{
    for (int i = 0; i < s->window; i++) {
        s->in[i] = s->shape[i] * (double)s->ring[(s->seen + (uint64_t)i) % (uint64_t)s->window];
    }
    fftw_execute(s->plan);
    for (int row = 0; row < HY_ROWS; row++) {
        double at = s->top * (row + 0.5) / HY_ROWS * s->fft / s->rate;
        int bin = (int)at;
        double above = at - bin;
        const double *a = s->out[bin];
        const double *b = s->out[bin + 1 <= s->fft / 2 ? bin + 1 : bin];
        double power = (1 - above) * (a[0] * a[0] + a[1] * a[1]) + above * (b[0] * b[0] + b[1] * b[1]);
        s->last[row] = (float)power;
    }
}

/* Takes the frame whose last sample has just come. */
static void take_frame(hy_spectrum *s)
{
    uint64_t at = centre(s, s->next);
    if (at != s->done_centre) { /* a short signal has more columns than samples */
        analyse(s);
        s->done_centre = at;
    }
    float *cell = s->cell + s->next / s->per_column * HY_ROWS;
    for (int row = 0; row < HY_ROWS; row++) {
        cell[row] += s->last[row] / (float)s->per_column;
    }
    s->next++;
}

static int64_t all_frames(const hy_spectrum *s)
{
    return (int64_t)HY_COLUMNS * s->per_column;
}

void hy_spectrum_frames(hy_spectrum *s, const float *frames, size_t count)
{
    while (s->next < all_frames(s)) {
        uint64_t until = centre(s, s->next) + (uint64_t)s->window / 2;
        uint64_t window = (uint64_t)s->window;
        if (s->seen + window < until) { /* a gap between the frames of a long signal */
            uint64_t gap = until - window - s->seen;
            size_t skip = count < gap ? count : (size_t)gap;
            s->seen += skip;
            count -= skip;
            frames = frames != NULL ? frames + skip : NULL;
        }
        while (count > 0 && s->seen < until) {
            float x = frames != NULL ? *frames++ : 0;
            s->ring[s->seen++ % window] = hy_tame(x);
            count--;
        }
        if (s->seen < until) {
            return;
        }
        take_frame(s);
    }
}

void hy_spectrum_end(hy_spectrum *s)
{
    hy_spectrum_frames(s, NULL, SIZE_MAX);
}

const float *hy_spectrum_column(const hy_spectrum *s, int column)
{
    return s->cell + (size_t)column * HY_ROWS;
}

double hy_spectrum_top(const hy_spectrum *s)
{
    return s->top;
}

void hy_spectrum_free(hy_spectrum *s)
{
    if (s != NULL) {
        if (s->plan != NULL) {
            fftw_destroy_plan(s->plan);
        }
        fftw_free(s->in);
        fftw_free(s->out);
        free(s->shape);
        free(s->ring);
        free(s->cell);
        free(s);
    }
}
