/* Both signals on the recording's time axis, in rows of a few seconds: recording, phonemes, model, clock. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw_private.h"
#include "outfile.h"
#include "score.h"

double hy_sheet_x(const hy_sheet *s, double t)
{
    return PLOT_X + PLOT_W * (t - s->from) / (s->to - s->from);
}

void hy_sheet_frame(hy_sheet *s, double y, double height, const char *name, const char *unit)
{
    hy_set_colour(s->cr, HY_RULE, 1);
    cairo_set_line_width(s->cr, 1);
    cairo_rectangle(s->cr, PLOT_X - 0.5, y - 0.5, PLOT_W + 1, height + 1);
    cairo_stroke(s->cr);
    hy_text(s->cr, 8, y + 14, 0, HY_NORMAL, 1, HY_INK, name);
    hy_text(s->cr, 8, y + 29, 0, HY_SMALL, 0, HY_SOFT, unit);
}

/* ---- phonemes ---- */

static unsigned colour_of(const hy_sheet *s, unsigned code)
{
    for (size_t i = 0; i < s->c->figures.count; i++) {
        if (s->c->code[i].figures->code == code) {
            hy_verdict v = s->c->code[i].verdict;
            return v == HY_FAIL ? 0xa3271c : v == HY_PASS ? 0x1d6b3a : 0x8a6100;
        }
    }
    return HY_SOFT;
}

static void phonemes(hy_sheet *s, double y, double top, double bottom)
{
    const hy_alignment *a = &s->c->alignment;
    double right_of_text = -1e9;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        double from = a->edge[i].recording, to = a->edge[i + 1].recording;
        if (to < s->from || from > s->to) {
            continue;
        }
        unsigned code = a->model->spoken[i].code, rgb = colour_of(s, code);
        double left = hy_sheet_x(s, from < s->from ? s->from : from), right = hy_sheet_x(s, to > s->to ? s->to : to);
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

/* ---- the page ---- */

static void time_axis(hy_sheet *s, double y)
{
    double step = hy_nice_step(s->to - s->from, 12);
    for (double t = ceil(s->from / step) * step; t <= s->to + 1e-9; t += step) {
        char text[32];
        snprintf(text, sizeof text, "%g s", fabs(t) < 1e-9 ? 0.0 : round(t * 1e6) / 1e6);
        hy_set_colour(s->cr, HY_SOFT, 1);
        cairo_rectangle(s->cr, floor(hy_sheet_x(s, t)), y, 1, 5);
        cairo_fill(s->cr);
        hy_text(s->cr, hy_sheet_x(s, t), y + 18, 0.5, HY_SMALL, 0, HY_SOFT, text);
    }
}

static void draw_row(hy_sheet *s)
{
    double y = s->y, names = y + SPECTRUM_H, second = names + NAMES_H, clock = second + SPECTRUM_H + GAP_H;
    hy_sheet_spectra(s, y, second);
    phonemes(s, names, y, second + SPECTRUM_H);
    hy_sheet_frame(s, y, SPECTRUM_H, "Recording", "kHz");
    hy_sheet_frame(s, second, SPECTRUM_H, "Model", "kHz");
    hy_sheet_clock(s, clock);
    time_axis(s, clock + CLOCK_H + 2);
}

static void head(hy_sheet *s)
{
    char text[300];
    const char *slash = strrchr(s->c->recording_name, '/');
    snprintf(text, sizeof text, "%s against the model", slash != NULL ? slash + 1 : s->c->recording_name);
    char *clean = hy_text_clean(text);
    if (clean == NULL) {
        s->failed = 1;
        return;
    }
    hy_text_within(s->cr, 8, 26, 18, 1, HY_INK, clean, PAGE_W - 16);
    free(clean);
    hy_text_within(
        s->cr, 8, 46, HY_NORMAL, 0, HY_SOFT,
        "Names are green where the phoneme passes, red where it fails, ochre where it can't be told. Dots: the "
        "clock as the pitch tells it; grey line: as stated.",
        PAGE_W - 16);
}

cairo_surface_t *hy_compare_draw(const hy_comparison *c, hy_diag *diag)
{
    const hy_alignment *a = &c->alignment;
    hy_sheet s = {.c = c, .stft = hy_stft_new(192, FFT), .top_hz = 0.999 * HY_ANALYSIS_RATE / 2};
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
    if (s.stft == NULL || hy_sheet_measure_clock(&s, diag) != 0) {
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
    hy_points_free(&s.clock);
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

hy_outfile *hy_compare_picture(const hy_comparison *c, const char *path, hy_diag *diag)
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
        return NULL;
    }
    return out;
}
