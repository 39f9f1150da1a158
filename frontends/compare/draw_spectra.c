/* The spectrograms of a row. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw_private.h"

#define RANGE_DB 60.0
#define EMPHASIS_HZ 50.0

/* From paper to ink, lightness falling evenly. */
static unsigned shade(double t)
{
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    unsigned r = (unsigned)(253 - 225 * t), g = (unsigned)(253 - 205 * t + 60 * t * (1 - t));
    unsigned b = (unsigned)(251 - 165 * t + 90 * t * (1 - t));
    return r << 16 | g << 8 | b;
}

typedef struct heard {
    const float *x;
    size_t count;
    int is_model;
} heard;

static double place(const hy_sheet *s, const heard *h, double t)
{
    return (h->is_model ? hy_align_model_time(&s->c->alignment, t) : t) * HY_ANALYSIS_RATE;
}

/* Power of one column, SPECTRUM_H rows from 0 Hz up, emphasised by 6 dB an octave as speech falls by as much. */
static void column_of(const hy_sheet *s, const heard *h, int column, float *row)
{
    float power[FFT / 2 + 1];
    double width = (s->to - s->from) / PLOT_W, t = s->from + (column + 0.5) * width;
    int frames = (int)ceil(width / 0.004);
    frames = frames < 1 ? 1 : frames > FRAMES_MAX ? FRAMES_MAX : frames;
    memset(row, 0, SPECTRUM_H * sizeof *row);
    for (int f = 0; f < frames; f++) {
        double at = place(s, h, t + ((f + 0.5) / frames - 0.5) * width);
        if (at < 0 || at >= (double)h->count) {
            continue;
        }
        hy_stft_power(s->stft, h->x, h->count, lround(at), power);
        for (int k = 0; k < SPECTRUM_H; k++) {
            double hz = s->top_hz * (k + 0.5) / SPECTRUM_H, bin = hz * FFT / HY_ANALYSIS_RATE;
            int low = (int)bin;
            double part = bin - low, p = (1 - part) * (double)power[low] + part * (double)power[low + 1];
            row[k] += (float)(p * (hz * hz + EMPHASIS_HZ * EMPHASIS_HZ) / frames);
        }
    }
}

static float *spectra(hy_sheet *s, const heard *h)
{
    float *all = malloc((size_t)PLOT_W * SPECTRUM_H * sizeof *all);
    for (int c = 0; all != NULL && c < PLOT_W; c++) {
        column_of(s, h, c, all + (size_t)c * SPECTRUM_H);
    }
    return all;
}

static void paint(hy_sheet *s, const float *all, double most, double y)
{
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, PLOT_W, SPECTRUM_H);
    unsigned char *data = cairo_image_surface_get_data(image);
    if (data == NULL) {
        s->failed = 1;
        cairo_surface_destroy(image);
        return;
    }
    int stride = cairo_image_surface_get_stride(image);
    for (int k = 0; k < SPECTRUM_H; k++) {
        uint32_t *line = (uint32_t *)(void *)(data + (ptrdiff_t)(SPECTRUM_H - 1 - k) * stride);
        for (int c = 0; c < PLOT_W; c++) {
            double p = (double)all[(size_t)c * SPECTRUM_H + (size_t)k];
            line[c] = shade(p > 0 ? 1 + 10 * log10(p / most) / RANGE_DB : 0);
        }
    }
    cairo_surface_mark_dirty(image);
    cairo_set_source_surface(s->cr, image, PLOT_X, y);
    cairo_paint(s->cr);
    cairo_surface_destroy(image);
}

static void hertz_axis(hy_sheet *s, double y)
{
    double step = hy_nice_step(s->top_hz / 1000, 5);
    for (int i = 0; i * step <= s->top_hz / 1000; i++) {
        char text[32];
        double at = y + SPECTRUM_H * (1 - i * step * 1000 / s->top_hz);
        snprintf(text, sizeof text, "%g", i * step);
        hy_text(s->cr, PLOT_X - 8, at < y + 6 ? at + 9 : at + 4, 1, HY_SMALL, 0, HY_SOFT, text);
    }
}

/* Outside the recording's band nothing was judged. */
static void veil(hy_sheet *s, double y)
{
    const hy_alignment *a = &s->c->alignment;
    double low = y + SPECTRUM_H * (1 - a->low_hz / s->top_hz), high = y + SPECTRUM_H * (1 - a->high_hz / s->top_hz);
    high = high < y ? y : high;
    hy_set_colour(s->cr, HY_SOFT, 0.18);
    if (a->low_hz > HY_CUT_LOW_HZ) {
        cairo_rectangle(s->cr, PLOT_X, low, PLOT_W, y + SPECTRUM_H - low);
    }
    if (a->high_hz < 0.97 * s->top_hz) {
        cairo_rectangle(s->cr, PLOT_X, y, PLOT_W, high - y);
    }
    cairo_fill(s->cr);
}

static double largest(const float *all)
{
    double most = 1e-30;
    for (size_t i = 0; i < (size_t)PLOT_W * SPECTRUM_H; i++) {
        most = (double)all[i] > most ? (double)all[i] : most;
    }
    return most;
}

void hy_sheet_spectra(hy_sheet *s, double y, double second)
{
    const hy_alignment *a = &s->c->alignment;
    const heard recording = {a->recording->samples, a->recording->count, 0};
    const heard model = {a->model->samples, a->model->count, 1};
    float *above = spectra(s, &recording), *below = spectra(s, &model);
    if (above != NULL && below != NULL) {
        double gain = pow(10, a->gain_db / 10);
        double most = largest(above), most_below = largest(below) * gain;
        most = most_below > most ? most_below : most; /* one scale for both: equal levels look alike */
        paint(s, above, most, y);
        paint(s, below, most / gain, second);
    } else {
        s->failed = 1;
    }
    free(above);
    free(below);
    veil(s, y);
    veil(s, second);
    hertz_axis(s, y);
    hertz_axis(s, second);
}
