#include <math.h>
#include <stdio.h>

#include "picture_private.h"

static double emphasised(const hy_picture *picture, int column, int row)
{
    double hz = hy_spectrum_top(picture->spectrum) * (row + 0.5) / HY_ROWS;
    return hy_emphasised((double)hy_spectrum_column(picture->spectrum, column)[row], hz);
}

static double largest(const hy_picture *picture)
{
    double most = 0;
    for (int column = 0; column < HY_COLUMNS; column++) {
        for (int row = 0; row < HY_ROWS; row++) {
            double power = emphasised(picture, column, row);
            most = power > most ? power : most;
        }
    }
    return most;
}

static void paint(cairo_t *cr, const hy_picture *picture, hy_strip strip, const unsigned shade[256])
{
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, HY_COLUMNS, HY_ROWS);
    unsigned char *data = cairo_image_surface_get_data(image);
    if (data == NULL) {
        cairo_surface_destroy(image); /* out of memory: the page's own status tells */
        return;
    }
    int stride = cairo_image_surface_get_stride(image);
    double most = largest(picture);
    for (int row = 0; row < HY_ROWS; row++) {
        uint32_t *line = (uint32_t *)(void *)(data + (ptrdiff_t)(HY_ROWS - 1 - row) * stride);
        for (int column = 0; column < HY_COLUMNS; column++) {
            double power = emphasised(picture, column, row);
            double t = most > 0 && power > 0 ? 1 + 10 * log10(power / most) / HY_SHADE_RANGE_DB : 0;
            line[column] = shade[t <= 0 ? 0 : t >= 1 ? 255 : (int)(t * 255)];
        }
    }
    cairo_surface_mark_dirty(image);
    cairo_set_source_surface(cr, image, HY_PLOT_X, strip.y);
    cairo_paint(cr);
    cairo_surface_destroy(image);
}

static void frequency_axis(cairo_t *cr, const hy_picture *picture, hy_strip strip)
{
    double top = hy_spectrum_top(picture->spectrum) / 1000;
    double step = hy_nice_step(top, 10);
    for (int i = 0; i * step <= top * 1.0001; i++) {
        char text[32];
        double y = strip.y + strip.height * (1 - i * step / top);
        snprintf(text, sizeof text, "%g", i * step);
        hy_text(cr, HY_PLOT_X - 10, y + 4, 1, HY_NORMAL, 0, HY_SOFT, text);
        hy_set_colour(cr, HY_SOFT, 1);
        cairo_rectangle(cr, HY_PLOT_X - 6, floor(y) - (i * step >= top * 0.9999 ? 0 : 0.5), 5, 1);
        cairo_fill(cr);
    }
    hy_strip_name(cr, strip, "Spectrum", "kHz");
}

static void shade_scale(cairo_t *cr, hy_strip strip, const unsigned shade[256])
{
    const double x = HY_PLOT_X + HY_COLUMNS + 18;
    const double height = 160;
    for (int i = 0; i < (int)height; i++) {
        hy_set_colour(cr, shade[255 - i * 255 / ((int)height - 1)], 1);
        cairo_rectangle(cr, x, strip.y + i, 14, 1);
        cairo_fill(cr);
    }
    hy_set_colour(cr, HY_RULE, 1);
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, x - 0.5, strip.y - 0.5, 15, height + 1);
    cairo_stroke(cr);
    for (int db = 0; db <= 60; db += 20) {
        char text[16];
        snprintf(text, sizeof text, db == 0 ? "0 dB" : "\u2212%d", db);
        hy_text(cr, x + 21,
                strip.y + height * db / HY_SHADE_RANGE_DB +
                    (db == 0    ? 9
                     : db == 60 ? 0
                                : 4),
                0, HY_NORMAL, 0, HY_SOFT, text);
    }
}

void hy_draw_spectrogram(cairo_t *cr, const hy_picture *picture, hy_strip strip)
{
    unsigned shade[256];
    for (int i = 0; i < 256; i++) {
        shade[i] = hy_shade(i / 255.0);
    }
    paint(cr, picture, strip, shade);
    hy_strip_frame(cr, strip);
    frequency_axis(cr, picture, strip);
    shade_scale(cr, strip, shade);
}
