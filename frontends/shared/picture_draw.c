#include <math.h>
#include <stdio.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "picture_private.h"

/* The page from top to bottom. */
static const hy_strip marks = {50, 18};
static const hy_strip phonemes = {72, 58};
static const hy_strip spectrum = {130, HY_ROWS};
static const hy_strip level = {586, 80};
static const hy_strip request = {682, 28};
static const hy_strip clock_hz = {726, 116};
enum { AXIS_Y = 850 };

static void span_text(const hy_picture *picture, char *text, size_t size)
{
    double s = picture->empty ? 0 : (double)picture->duration / (double)HYOID_PS_PER_S;
    const char *sample_rate = "samples/s";
    if (s >= 60) {
        int64_t whole = (int64_t)(s + 0.5);
        snprintf(text, size, "%d:%02d:%02d h  \u00b7  %u %s", (int)(whole / 3600), (int)(whole / 60 % 60),
                 (int)(whole % 60), (unsigned)picture->rate, sample_rate);
    } else if (s >= 1) {
        snprintf(text, size, "%.3f s  \u00b7  %u %s", s, (unsigned)picture->rate, sample_rate);
    } else {
        snprintf(text, size, "%.3f ms  \u00b7  %u %s", 1000 * s, (unsigned)picture->rate, sample_rate);
    }
}

static void head(cairo_t *cr, const hy_picture *picture)
{
    char text[96];
    span_text(picture, text, sizeof text);
    double right = HY_PLOT_X + HY_COLUMNS;
    double used = hy_text_width(cr, HY_STRONG, 0, text);
    hy_text(cr, right, 32, 1, HY_STRONG, 0, HY_SOFT, text);
    hy_text_within(cr, 20, 32, 19, 1, HY_INK, picture->title, right - used - 20 - 40);
}

cairo_t *hy_picture_draw(const hy_picture *picture)
{
    cairo_t *cr = hy_page_new(HY_PAGE_WIDTH, HY_PAGE_HEIGHT);
    if (cr == NULL) {
        return NULL;
    }
    head(cr, picture);
    hy_draw_spectrogram(cr, picture, spectrum);
    hy_draw_time_axis(cr, picture, spectrum.y, AXIS_Y);
    hy_draw_signal(cr, picture, level);
    hy_draw_request(cr, picture, request);
    hy_draw_clock(cr, picture, clock_hz);
    hy_draw_marks(cr, picture, marks, clock_hz.y + clock_hz.height);
    hy_draw_phonemes(cr, picture, phonemes, spectrum.y + spectrum.height);
    hy_text_within(cr, HY_PLOT_X, HY_PAGE_HEIGHT - 10, HY_SMALL, 0, HY_FLAG, picture->note, HY_COLUMNS);
    if (picture->empty) {
        hy_text(cr, HY_PLOT_X + HY_COLUMNS / 2.0, spectrum.y + spectrum.height / 2, 0.5, 16, 0, HY_SOFT,
                "Nothing sounded: the length is 0");
    }
    return cr;
}
