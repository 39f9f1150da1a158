#include <math.h>
#include <stdio.h>

#include <hyoid/hyoid.h>

#include "picture_private.h"

void hy_draw_signal(cairo_t *cr, const hy_picture *picture, hy_strip strip)
{
    float peak = 0;
    for (int i = 0; i < HY_COLUMNS; i++) {
        peak = fmaxf(peak, fmaxf(-picture->column[i].low, picture->column[i].high));
    }
    double middle = strip.y + strip.height / 2;
    double scale = peak > 0 ? (strip.height / 2 - 3) / (double)peak : 0;
    hy_set_colour(cr, HY_GRID, 1);
    cairo_rectangle(cr, HY_PLOT_X, floor(middle), HY_COLUMNS, 1);
    cairo_fill(cr);
    hy_set_colour(cr, 0x2f6b78, 1);
    for (int i = 0; i < HY_COLUMNS; i++) {
        double top = middle - scale * (double)picture->column[i].high;
        double bottom = middle - scale * (double)picture->column[i].low;
        cairo_rectangle(cr, HY_PLOT_X + i, top - 0.5, 1, bottom - top + 1);
    }
    cairo_fill(cr);
    hy_strip_frame(cr, strip);
    hy_strip_name(cr, strip, "Signal", NULL);
    char text[40];
    if (peak > 0) {
        double db = 20 * log10((double)peak);
        snprintf(text, sizeof text, "%s%.1f dBFS", db < -0.05 ? "\u2212" : db > 0.05 ? "+" : "", fabs(db));
    } else {
        snprintf(text, sizeof text, "silence");
    }
    hy_text(cr, HY_PLOT_X + HY_COLUMNS + 12, strip.y + 11, 0, HY_NORMAL, 0, HY_SOFT, "peak");
    hy_text(cr, HY_PLOT_X + HY_COLUMNS + 12, strip.y + 27, 0, HY_NORMAL, 0, HY_SOFT, text);
}

void hy_draw_request(cairo_t *cr, const hy_picture *picture, hy_strip strip)
{
    double high = floor(strip.y + 3) + 0.5;
    double low = floor(strip.y + strip.height - 3) - 0.5;
    int level = 1; /* as after power-up */
    hy_set_colour(cr, HY_INK, 1);
    cairo_set_line_width(cr, 1.2);
    cairo_move_to(cr, HY_PLOT_X, high);
    for (int i = 0; i < HY_COLUMNS; i++) {
        const hy_column *c = &picture->column[i];
        double x = HY_PLOT_X + i + 0.5;
        if (c->request_end < 0) {
            continue;
        }
        cairo_line_to(cr, x, level ? high : low);
        cairo_line_to(cr, x, level ? low : high);
        if ((c->request_seen == 3 || c->request_end == level) && c->request_end == level) {
            cairo_line_to(cr, x, level ? high : low); /* a pulse within the column */
        }
        level = c->request_end;
        cairo_line_to(cr, x, level ? high : low);
    }
    cairo_line_to(cr, HY_PLOT_X + HY_COLUMNS, level ? high : low);
    cairo_stroke(cr);
    hy_strip_name(cr, strip, "Request", NULL);
    hy_text(cr, HY_PLOT_X - 10, high + 4, 1, HY_NORMAL, 0, HY_SOFT, "1");
    hy_text(cr, HY_PLOT_X - 10, low + 4, 1, HY_NORMAL, 0, HY_SOFT, "0");
}

/* The clock's axis: what it shows and how. */
typedef struct scale {
    double low, high; /* kHz, or their logarithms */
    int logarithmic;
    hy_strip strip;
} scale;

static double clock_y(const scale *s, double khz)
{
    double v = s->logarithmic ? log10(khz) : khz;
    double share = (v - s->low) / (s->high - s->low);
    return s->strip.y + s->strip.height * (1 - (share < 0 ? 0 : share > 1 ? 1 : share));
}

static int clock_scale(const hy_picture *picture, hy_strip strip, scale *s)
{
    double low = INFINITY;
    double high = 0;
    for (int i = 0; i < HY_COLUMNS; i++) {
        if (picture->column[i].has_clock) {
            low = fmin(low, picture->column[i].clock_low / 1000);
            high = fmax(high, picture->column[i].clock_high / 1000);
        }
    }
    if (isinf(low)) {
        return 0;
    }
    s->strip = strip;
    s->logarithmic = low > 0 && high / low >= 5;
    s->low = s->logarithmic ? log10(low) : low;
    s->high = s->logarithmic ? log10(high) : high;
    double range = s->high - s->low;
    double least = s->logarithmic ? 0 : high > 0 ? 0.02 * high : 1;
    double pad = range > least ? 0.09 * range : least;
    s->low -= low > 0 || s->logarithmic ? pad : 0; /* 0 Hz is the axis itself */
    s->high += pad;
    return 1;
}

static void clock_tick(cairo_t *cr, const scale *s, double khz)
{
    char text[32];
    double y = floor(clock_y(s, khz)) + 0.5;
    hy_set_colour(cr, HY_GRID, 1);
    cairo_set_line_width(cr, 1);
    cairo_move_to(cr, HY_PLOT_X, y);
    cairo_line_to(cr, HY_PLOT_X + HY_COLUMNS, y);
    cairo_stroke(cr);
    snprintf(text, sizeof text, "%.6g", khz);
    hy_text(cr, HY_PLOT_X - 10, y + 4, 1, HY_NORMAL, 0, HY_SOFT, text);
}

static void clock_axis(cairo_t *cr, const scale *s)
{
    if (!s->logarithmic) {
        double step = hy_nice_step(s->high - s->low, 5);
        for (double i = ceil(s->low / step); i * step <= s->high; i++) {
            clock_tick(cr, s, i * step);
        }
        return;
    }
    double last = s->strip.y + s->strip.height + 40;
    for (int decade = (int)floor(s->low); decade <= (int)ceil(s->high); decade++) {
        for (int i = 0; i < 3; i++) {
            double khz = pow(10, decade) * (i == 0 ? 1 : i == 1 ? 2 : 5);
            double y = clock_y(s, khz);
            if (log10(khz) >= s->low && log10(khz) <= s->high && last - y >= 15) {
                clock_tick(cr, s, khz);
                last = y;
            }
        }
    }
}

static void clock_curve(cairo_t *cr, const hy_picture *picture, const scale *s)
{
    int before = 0;
    hy_set_colour(cr, HY_WARM, 1);
    cairo_set_line_width(cr, 1.8);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    for (int i = 0; i < HY_COLUMNS; i++) {
        const hy_column *c = &picture->column[i];
        if (!c->has_clock) {
            before = 0;
            continue;
        }
        double x = HY_PLOT_X + i;
        if (before) {
            cairo_line_to(cr, x, clock_y(s, c->clock_first / 1000));
        } else {
            cairo_move_to(cr, x, clock_y(s, c->clock_first / 1000));
        }
        if (c->clock_low < fmin(c->clock_first, c->clock_last) ||
            c->clock_high > fmax(c->clock_first, c->clock_last)) {
            cairo_line_to(cr, x + 0.5, clock_y(s, c->clock_low / 1000));
            cairo_line_to(cr, x + 0.5, clock_y(s, c->clock_high / 1000));
        }
        cairo_line_to(cr, x + 1, clock_y(s, c->clock_last / 1000));
        before = 1;
    }
    cairo_stroke(cr);
}

void hy_draw_clock(cairo_t *cr, const hy_picture *picture, hy_strip strip)
{
    scale s;
    if (clock_scale(picture, strip, &s)) {
        clock_axis(cr, &s);
        clock_curve(cr, picture, &s);
    }
    hy_strip_frame(cr, strip);
    hy_strip_name(cr, strip, "Clock", "kHz");
}

static double time_step(double seconds, const char **unit)
{
    static const double long_steps[] = {10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400};
    if (seconds < 120) {
        *unit = seconds >= 1 ? "s" : seconds >= 1e-3 ? "ms" : "\u00b5s";
        return hy_nice_step(seconds, 20);
    }
    *unit = seconds < 7200 ? "min:s" : "h:min";
    size_t i = 0;
    while (i + 1 < sizeof long_steps / sizeof long_steps[0] && seconds / long_steps[i] > 15) {
        i++;
    }
    return long_steps[i];
}

static void time_text(char *text, size_t size, double t, double seconds)
{
    int64_t whole = (int64_t)(t + 0.5);
    if (seconds >= 7200) {
        snprintf(text, size, "%d:%02d", (int)(whole / 3600), (int)(whole / 60 % 60));
    } else if (seconds >= 120) {
        snprintf(text, size, "%d:%02d", (int)(whole / 60), (int)(whole % 60));
    } else {
        snprintf(text, size, "%.6g", seconds >= 1 ? t : seconds >= 1e-3 ? t * 1e3 : t * 1e6);
    }
}

void hy_draw_time_axis(cairo_t *cr, const hy_picture *picture, double top, double y)
{
    double seconds = (double)picture->duration / (double)HYOID_PS_PER_S;
    const char *unit;
    double step = time_step(seconds, &unit);
    for (int i = 0; i * step <= seconds * (1 + 1e-9); i++) {
        char text[32];
        double x = floor(HY_PLOT_X + HY_COLUMNS * i * step / seconds);
        hy_set_colour(cr, HY_GRID, 1);
        cairo_rectangle(cr, x, top + HY_ROWS, 1, y - top - HY_ROWS);
        cairo_fill(cr);
        hy_set_colour(cr, HY_SOFT, 1);
        cairo_rectangle(cr, x, y - 6, 1, 5);
        cairo_fill(cr);
        time_text(text, sizeof text, i * step, seconds);
        hy_text(cr, x + 0.5, y + 14, 0.5, HY_NORMAL, 0, HY_SOFT, text);
    }
    hy_strip_name(cr, (hy_strip){y + 3, 100}, "Time", unit);
}
