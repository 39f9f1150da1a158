/* Both signals on the recording's time axis, in rows of a few seconds: recording, phonemes, model, clock. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare.h"
#include "outfile.h"
#include "picture_private.h"
#include "score.h"

/* A row, from top to bottom, pixels. */
enum {
    PLOT_X = 100,
    PLOT_W = 1200,
    PAGE_W = PLOT_X + PLOT_W + 30,
    HEAD_H = 56,
    SPECTRUM_H = 150,
    NAMES_H = 30,
    CLOCK_H = 70,
    GAP_H = 14,
    AXIS_H = 40,
    ROW_H = 2 * SPECTRUM_H + NAMES_H + GAP_H + CLOCK_H + AXIS_H,
    ROWS_MAX = 8,
    FRAMES_MAX = 6 /* in a column */
};
#define ROW_SECONDS 5.0
#define RANGE_DB 60.0
#define EMPHASIS_HZ 50.0

typedef struct sheet {
    cairo_t *cr;
    const hy_comparison *c;
    hy_stft *stft;
    double top_hz;
    double from, to; /* the row's times in the recording */
    double y;
    double clock_low, clock_high; /* Hz */
    double *at, *hz;              /* the clock as the pitch tells it */
    size_t points, room;
    int failed;
} sheet;

static double x_of(const sheet *s, double t)
{
    return PLOT_X + PLOT_W * (t - s->from) / (s->to - s->from);
}

/* ---- spectrograms ---- */

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

static double place(const sheet *s, const heard *h, double t)
{
    return (h->is_model ? hy_align_model_time(&s->c->alignment, t) : t) * HY_ANALYSIS_RATE;
}

/* Power of one column, SPECTRUM_H rows from 0 Hz up, emphasised by 6 dB an octave as speech falls by as much. */
static void column_of(const sheet *s, const heard *h, int column, float *row)
{
    float power[512 / 2 + 1];
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
            double hz = s->top_hz * (k + 0.5) / SPECTRUM_H, bin = hz * 512 / HY_ANALYSIS_RATE;
            int low = (int)bin;
            double part = bin - low, p = (1 - part) * (double)power[low] + part * (double)power[low + 1];
            row[k] += (float)(p * (hz * hz + EMPHASIS_HZ * EMPHASIS_HZ) / frames);
        }
    }
}

static float *spectra(sheet *s, const heard *h)
{
    float *all = malloc((size_t)PLOT_W * SPECTRUM_H * sizeof *all);
    for (int c = 0; all != NULL && c < PLOT_W; c++) {
        column_of(s, h, c, all + (size_t)c * SPECTRUM_H);
    }
    return all;
}

static void paint(sheet *s, const float *all, double most, double y)
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

static void frame(sheet *s, double y, double height, const char *name, const char *unit)
{
    hy_set_colour(s->cr, HY_RULE, 1);
    cairo_set_line_width(s->cr, 1);
    cairo_rectangle(s->cr, PLOT_X - 0.5, y - 0.5, PLOT_W + 1, height + 1);
    cairo_stroke(s->cr);
    hy_text(s->cr, 8, y + 14, 0, HY_NORMAL, 1, HY_INK, name);
    hy_text(s->cr, 8, y + 29, 0, HY_SMALL, 0, HY_SOFT, unit);
}

static void hertz_axis(sheet *s, double y)
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
static void veil(sheet *s, double y)
{
    const hy_alignment *a = &s->c->alignment;
    double low = y + SPECTRUM_H * (1 - a->low_hz / s->top_hz), high = y + SPECTRUM_H * (1 - a->high_hz / s->top_hz);
    high = high < y ? y : high;
    hy_set_colour(s->cr, HY_SOFT, 0.18);
    if (a->low_hz > 150) {
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

/* ---- phonemes ---- */

static unsigned colour_of(const sheet *s, unsigned code)
{
    for (size_t i = 0; i < s->c->figures.count; i++) {
        if (s->c->code[i].figures->code == code) {
            hy_verdict v = s->c->code[i].verdict;
            return v == HY_FAIL ? 0xa3271c : v == HY_PASS ? 0x1d6b3a : 0x8a6100;
        }
    }
    return HY_SOFT;
}

static void phonemes(sheet *s, double y, double top, double bottom)
{
    const hy_alignment *a = &s->c->alignment;
    double right_of_text = -1e9;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        double from = a->edge[i].recording, to = a->edge[i + 1].recording;
        if (to < s->from || from > s->to) {
            continue;
        }
        unsigned code = a->model->spoken[i].code, rgb = colour_of(s, code);
        double left = x_of(s, from < s->from ? s->from : from), right = x_of(s, to > s->to ? s->to : to);
        hy_set_colour(s->cr, rgb, 0.16);
        cairo_rectangle(s->cr, left, y, right - left, NAMES_H);
        cairo_fill(s->cr);
        if (from >= s->from) {
            int seen = isfinite(a->edge[i].uncertainty);
            hy_set_colour(s->cr, HY_INK, seen ? 0.45 : 0.15);
            cairo_rectangle(s->cr, floor(left), top, 1, bottom - top);
            cairo_fill(s->cr);
        }
        const char *symbol = hy_symbols[code].symbol;
        double width = hy_text_width(s->cr, HY_NORMAL, 1, symbol), middle = (left + right) / 2;
        if (middle - width / 2 > right_of_text && width <= right - left + 2) {
            hy_text(s->cr, middle, y + 20, 0.5, HY_NORMAL, 1, rgb, symbol);
            right_of_text = middle + width / 2 + 2;
        }
    }
}

/* ---- the clock ---- */

static void see_pitch(void *user, size_t spoken, double at, double recording_hz, double model_hz)
{
    sheet *s = user;
    if (s->points == s->room) {
        size_t room = s->room > 0 ? 2 * s->room : 1024;
        double *when = realloc(s->at, room * sizeof *when);
        s->at = when != NULL ? when : s->at;
        double *hz = realloc(s->hz, room * sizeof *hz);
        s->hz = hz != NULL ? hz : s->hz;
        if (when == NULL || hz == NULL) {
            s->failed = 1;
            return;
        }
        s->room = room;
    }
    s->at[s->points] = hy_align_recording_time(&s->c->alignment, at);
    s->hz[s->points++] = s->c->alignment.model->spoken[spoken].clock_hz * recording_hz / model_hz;
}

static int measure_clock(sheet *s, hy_diag *diag)
{
    const hy_alignment *a = &s->c->alignment;
    hy_pitch_signal recording = {0}, model = {0};
    int failed = hy_pitch_signal_make(&recording, a->recording->samples, a->recording->count, diag) != 0 ||
                 hy_pitch_signal_make(&model, a->model->samples, a->model->count, diag) != 0;
    if (!failed) {
        hy_align_pitches(a, &recording, &model, see_pitch, s);
    }
    hy_pitch_signal_free(&recording);
    hy_pitch_signal_free(&model);
    s->clock_low = INFINITY;
    s->clock_high = 0;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        double hz = a->model->spoken[i].clock_hz;
        s->clock_low = hz < s->clock_low ? hz : s->clock_low;
        s->clock_high = hz > s->clock_high ? hz : s->clock_high;
    }
    s->clock_low *= 0.97;
    s->clock_high *= 1.03;
    return failed || s->failed ? -1 : 0;
}

static double clock_y(const sheet *s, double y, double hz)
{
    double part = (hz - s->clock_low) / (s->clock_high - s->clock_low);
    return y + CLOCK_H * (1 - (part < 0 ? 0 : part > 1 ? 1 : part));
}

static void clock_curve(sheet *s, double y)
{
    const hy_alignment *a = &s->c->alignment;
    frame(s, y, CLOCK_H, "Clock", "kHz");
    for (int i = 0; i <= 2; i++) {
        double hz = s->clock_low + (s->clock_high - s->clock_low) * i / 2;
        char text[32];
        snprintf(text, sizeof text, "%.4g", hz * 1e-3);
        hy_text(s->cr, PLOT_X - 8, clock_y(s, y, hz) + (i == 0 ? 0 : i == 2 ? 9 : 4), 1, HY_SMALL, 0, HY_SOFT, text);
    }
    cairo_set_line_width(s->cr, 1.5);
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        double from = a->edge[i].recording, to = a->edge[i + 1].recording;
        if (to < s->from || from > s->to) {
            continue;
        }
        double hz = a->model->spoken[i].clock_hz;
        double left = x_of(s, from < s->from ? s->from : from), right = x_of(s, to > s->to ? s->to : to);
        hy_set_colour(s->cr, HY_SOFT, 0.8); /* as stated */
        cairo_move_to(s->cr, left, clock_y(s, y, hz / a->model->scale));
        cairo_line_to(s->cr, right, clock_y(s, y, hz / a->model->scale));
        cairo_stroke(s->cr);
        hy_set_colour(s->cr, HY_WARM, 1); /* as found */
        cairo_move_to(s->cr, left, clock_y(s, y, hz));
        cairo_line_to(s->cr, right, clock_y(s, y, hz));
        cairo_stroke(s->cr);
    }
    hy_set_colour(s->cr, HY_WARM, 0.5);
    for (size_t i = 0; i < s->points; i++) {
        if (s->at[i] >= s->from && s->at[i] <= s->to) {
            cairo_arc(s->cr, x_of(s, s->at[i]), clock_y(s, y, s->hz[i]), 1.6, 0, 6.2832);
            cairo_fill(s->cr);
        }
    }
}

/* ---- the page ---- */

static void time_axis(sheet *s, double y)
{
    double step = hy_nice_step(s->to - s->from, 12);
    for (double t = ceil(s->from / step) * step; t <= s->to + 1e-9; t += step) {
        char text[32];
        snprintf(text, sizeof text, "%g s", fabs(t) < 1e-9 ? 0.0 : round(t * 1e6) / 1e6);
        hy_set_colour(s->cr, HY_SOFT, 1);
        cairo_rectangle(s->cr, floor(x_of(s, t)), y, 1, 5);
        cairo_fill(s->cr);
        hy_text(s->cr, x_of(s, t), y + 18, 0.5, HY_SMALL, 0, HY_SOFT, text);
    }
}

static void draw_row(sheet *s)
{
    const hy_alignment *a = &s->c->alignment;
    const heard recording = {a->recording->samples, a->recording->count, 0};
    const heard model = {a->model->samples, a->model->count, 1};
    float *above = spectra(s, &recording), *below = spectra(s, &model);
    double y = s->y, names = y + SPECTRUM_H, second = names + NAMES_H, clock = second + SPECTRUM_H + GAP_H;
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
    phonemes(s, names, y, second + SPECTRUM_H);
    frame(s, y, SPECTRUM_H, "Recording", "kHz");
    frame(s, second, SPECTRUM_H, "Model", "kHz");
    hertz_axis(s, y);
    hertz_axis(s, second);
    clock_curve(s, clock);
    time_axis(s, clock + CLOCK_H + 2);
}

static void head(sheet *s)
{
    char text[300];
    const char *slash = strrchr(s->c->recording_name, '/');
    snprintf(text, sizeof text, "%s against the model", slash != NULL ? slash + 1 : s->c->recording_name);
    hy_text_within(s->cr, 8, 26, 18, 1, HY_INK, text, PAGE_W - 16);
    hy_text_within(
        s->cr, 8, 46, HY_NORMAL, 0, HY_SOFT,
        "Names are green where the phoneme passes, red where it fails, ochre where it can't be told. Dots: the "
        "clock as the pitch tells it; grey line: as stated.",
        PAGE_W - 16);
}

cairo_surface_t *hy_compare_draw(const hy_comparison *c, hy_diag *diag)
{
    const hy_alignment *a = &c->alignment;
    sheet s = {.c = c, .stft = hy_stft_new(192, 512), .top_hz = 0.999 * HY_ANALYSIS_RATE / 2};
    s.top_hz = s.top_hz < 10000 ? s.top_hz : 10000;
    double from = a->edge[0].recording - 0.2, to = a->edge[a->model->spoken_count].recording + 0.2;
    double end = (double)a->recording->count / HY_ANALYSIS_RATE;
    from = from < 0 ? 0 : from;
    to = to > end || to <= from ? end : to;
    int rows = (int)ceil((to - from) / ROW_SECONDS);
    rows = rows < 1 ? 1 : rows > ROWS_MAX ? ROWS_MAX : rows;
    cairo_surface_t *page = cairo_image_surface_create(CAIRO_FORMAT_RGB24, PAGE_W, HEAD_H + rows * ROW_H);
    s.cr = cairo_create(page);
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_set_font_options(s.cr, options);
    cairo_font_options_destroy(options);
    hy_set_colour(s.cr, HY_PAPER, 1);
    cairo_paint(s.cr);
    if (s.stft == NULL || measure_clock(&s, diag) != 0) {
        s.failed = 1;
    } else {
        head(&s);
        for (int r = 0; r < rows && !s.failed; r++) {
            s.from = from + (to - from) * r / rows;
            s.to = from + (to - from) * (r + 1) / rows;
            s.y = HEAD_H + r * ROW_H;
            draw_row(&s);
        }
    }
    s.failed = s.failed || cairo_status(s.cr) != CAIRO_STATUS_SUCCESS;
    cairo_destroy(s.cr);
    hy_stft_free(s.stft);
    free(s.at);
    free(s.hz);
    if (s.failed) {
        hy_fail(diag, "memory is out: no picture");
        cairo_surface_destroy(page);
        return NULL;
    }
    return page;
}

static cairo_status_t put(void *out, const unsigned char *bytes, unsigned size)
{
    return fwrite(bytes, 1, size, out) == size ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int hy_compare_picture(const hy_comparison *c, const char *path, hy_diag *diag)
{
    cairo_surface_t *page = hy_compare_draw(c, diag);
    hy_outfile *out = page != NULL ? hy_outfile_open(path, diag) : NULL;
    int failed = out == NULL;
    if (!failed) {
        cairo_status_t status = cairo_surface_write_to_png_stream(page, put, hy_outfile_stream(out));
        failed = hy_outfile_finish(out, diag) != 0;
        if (!failed && status != CAIRO_STATUS_SUCCESS) {
            failed = hy_fail(diag, "cannot write %s: %s", path, cairo_status_to_string(status));
        }
    }
    if (page != NULL) {
        cairo_surface_destroy(page);
    }
    if (failed) {
        hy_outfile_abandon(out);
        return -1;
    }
    return hy_outfile_commit(out, diag);
}
