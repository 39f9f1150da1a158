#include "scope.h"

#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SILENCE_DB (-120.0F)
#define PI 3.14159265358979323846

typedef struct column {
    float db[HY_SCOPE_BANDS];
    float low, high;
} column;

struct hy_scope {
    uint32_t rate;
    size_t size, hop; /* samples: of the transform (a power of two below a column), of a column */
    size_t filled;
    float *samples; /* of the column under way */
    double *in, *window;
    fftw_complex *out;
    fftw_plan plan;
    column columns[HY_SCOPE_COLUMNS];
    uint64_t count;
};

hy_scope *hy_scope_new(uint32_t rate)
{
    hy_scope *s = calloc(1, sizeof *s);
    if (s == NULL) {
        return NULL;
    }
    s->rate = rate;
    s->hop = (size_t)rate * HY_SCOPE_MS / 1000;
    s->size = 64;
    while (s->size * 2 <= s->hop) {
        s->size *= 2;
    }
    s->samples = calloc(s->hop, sizeof *s->samples);
    s->window = calloc(s->size, sizeof *s->window);
    s->in = fftw_alloc_real(s->size);
    s->out = fftw_alloc_complex(s->size / 2 + 1);
    if (s->samples == NULL || s->window == NULL || s->in == NULL || s->out == NULL) {
        hy_scope_free(s);
        return NULL;
    }
    s->plan = fftw_plan_dft_r2c_1d((int)s->size, s->in, s->out, FFTW_ESTIMATE);
    for (size_t i = 0; i < s->size; i++) { /* Hann, scaled so that a sine of full scale is 0 dB */
        s->window[i] = (1.0 - cos(2.0 * PI * (double)i / (double)s->size)) * 2.0 / (double)s->size;
    }
    for (size_t i = 0; i < HY_SCOPE_COLUMNS; i++) {
        for (size_t b = 0; b < HY_SCOPE_BANDS; b++) {
            s->columns[i].db[b] = SILENCE_DB;
        }
    }
    return s;
}

void hy_scope_free(hy_scope *s)
{
    if (s != NULL) {
        if (s->plan != NULL) {
            fftw_destroy_plan(s->plan);
            fftw_cleanup();
        }
        free(s->samples);
        free(s->window);
        fftw_free(s->in);
        fftw_free(s->out);
        free(s);
    }
}

/* The strongest line of each band. */
static void analyse(hy_scope *s, column *c)
{
    for (size_t i = 0; i < s->size; i++) {
        s->in[i] = s->samples[s->hop - s->size + i] * s->window[i];
    }
    fftw_execute(s->plan);
    for (size_t b = 0; b < HY_SCOPE_BANDS; b++) {
        c->db[b] = SILENCE_DB;
    }
    for (size_t i = 1; i <= s->size / 2; i++) {
        const size_t band = (size_t)((double)i * s->rate / (double)s->size / HY_SCOPE_BAND_HZ);
        const double power = s->out[i][0] * s->out[i][0] + s->out[i][1] * s->out[i][1];
        const float db = power > 1e-12 ? (float)(10.0 * log10(power)) : SILENCE_DB;
        if (band < HY_SCOPE_BANDS && db > c->db[band]) {
            c->db[band] = db;
        }
    }
}

static void finish_column(hy_scope *s)
{
    column *c = &s->columns[s->count % HY_SCOPE_COLUMNS];
    analyse(s, c);
    c->low = c->high = s->samples[0];
    for (size_t i = 1; i < s->hop; i++) {
        c->low = fminf(c->low, s->samples[i]);
        c->high = fmaxf(c->high, s->samples[i]);
    }
    s->count++;
    s->filled = 0;
}

void hy_scope_feed(hy_scope *s, const float *samples, size_t count)
{
    while (count > 0) {
        const size_t n = count < s->hop - s->filled ? count : s->hop - s->filled;
        memcpy(s->samples + s->filled, samples, n * sizeof *samples);
        s->filled += n;
        samples += n;
        count -= n;
        if (s->filled == s->hop) {
            finish_column(s);
        }
    }
}

static const column *column_at(const hy_scope *s, unsigned back)
{
    return back < HY_SCOPE_COLUMNS && back < s->count ? &s->columns[(s->count - 1 - back) % HY_SCOPE_COLUMNS] : NULL;
}

float hy_scope_band(const hy_scope *s, unsigned back, unsigned band)
{
    const column *c = column_at(s, back);
    return c != NULL && band < HY_SCOPE_BANDS ? c->db[band] : SILENCE_DB;
}

void hy_scope_wave(const hy_scope *s, unsigned back, float *low, float *high)
{
    const column *c = column_at(s, back);
    *low = c != NULL ? c->low : 0.0F;
    *high = c != NULL ? c->high : 0.0F;
}

uint64_t hy_scope_count(const hy_scope *s)
{
    return s->count;
}
