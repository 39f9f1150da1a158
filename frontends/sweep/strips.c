#include "strips.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "score.h"

enum { WIDTH = 1600, PLOT_X = 210, PLOT_W = 1350, TOP_Y = 96, MOST_SAID = 4000 };
#define TOP_HZ 10000.0

typedef struct strip {
    hy_sweep_step step; /* figures and names; no sound */
    hy_grid grid;
    int columns; /* that the sound takes */
} strip;

struct hy_strips {
    char *title, *note;
    double seconds;
    size_t planned, count;
    int height; /* of a strip */
    strip strip[HY_STRIPS_MAX];
};

hy_strips *hy_strips_new(size_t count, double longest_s, const char *title, const char *note, hy_diag *diag)
{
    hy_strips *s = calloc(1, sizeof *s);
    if (s == NULL) {
        hy_fail(diag, "out of memory");
        return NULL;
    }
    s->planned = count;
    s->seconds = longest_s > 0.001 ? longest_s : 0.001;
    s->height = count <= 10 ? 120 : 80;
    s->title = hy_text_clean(title);
    s->note = hy_text_clean(note);
    if (s->title == NULL || s->note == NULL) {
        hy_fail(diag, "out of memory");
        hy_strips_free(s);
        return NULL;
    }
    return s;
}

int hy_strips_add(hy_strips *s, const hy_sweep_step *step, hy_diag *diag)
{
    if (s->count == s->planned || s->count == HY_STRIPS_MAX) {
        return hy_fail(diag, "more strips than were planned");
    }
    strip *own = &s->strip[s->count];
    own->step = *step;
    own->step.frames = NULL;
    own->step.said = NULL;
    own->step.said_count = 0;
    size_t said = step->said_count < MOST_SAID ? step->said_count : MOST_SAID;
    if (said > 0) {
        own->step.said = malloc(said * sizeof *own->step.said);
        if (own->step.said == NULL) {
            return hy_fail(diag, "out of memory");
        }
        memcpy(own->step.said, step->said, said * sizeof *own->step.said);
        own->step.said_count = said;
    }
    s->count++;
    double share = step->rate > 0 ? (double)step->count / step->rate / s->seconds : 0;
    own->columns = (int)(PLOT_W * fmin(share, 1) + 0.5);
    if (own->columns > 0 &&
        hy_grid_make(&own->grid, own->columns, s->height, TOP_HZ, step->frames, step->count, step->rate) != 0) {
        return hy_fail(diag, "out of memory");
    }
    return 0;
}

static double strip_y(const hy_strips *s, size_t i)
{
    return TOP_Y + 22 + (double)i * (s->height + 30);
}

static void labels(cairo_t *cr, const hy_strips *s, const strip *own, double y)
{
    char text[64];
    const hy_sweep_step *step = &own->step;
    snprintf(text, sizeof text, "%.5g kHz", step->hz / 1000);
    hy_text(cr, 24, y + 14, 0, 15, 1, HY_INK, text);
    snprintf(text, sizeof text, "\u00d7 %.3f", step->ratio);
    hy_text(cr, 24, y + 33, 0, HY_NORMAL, 0, HY_SOFT, text);
    if (isfinite(step->semitones)) {
        snprintf(text, sizeof text, "%s%.1f semitones", step->semitones < -0.05 ? "\u2212" : "+",
                 fabs(step->semitones));
        hy_text(cr, 24, y + 50, 0, HY_NORMAL, 0, HY_SOFT, text);
    }
    if (isfinite(step->f0)) {
        snprintf(text, sizeof text, "f0 %.1f Hz", step->f0);
        hy_text(cr, 24, y + 67, 0, HY_NORMAL, 0, HY_SOFT, text);
    }
    for (int khz = 0; khz <= 10; khz += 5) {
        snprintf(text, sizeof text, "%d", khz);
        double at = y + s->height * (1 - khz * 1000 / TOP_HZ);
        hy_text(cr, PLOT_X - 8, at + (khz == 0 ? 1 : khz == 10 ? 9 : 4), 1, HY_SMALL, 0, HY_SOFT, text);
    }
    /* ahead of the strip's number, or of what the clock's table calls it */
    snprintf(text, sizeof text, "%s", step->label);
    hy_text(cr, 24, y - 8, 0, HY_NORMAL, 0, HY_SOFT, text);
}

/* Everything above half the filter rate is images. */
static void mirror(cairo_t *cr, const hy_strips *s, const strip *own, double y)
{
    double hz = own->step.filter_hz / 2;
    if (!(hz < TOP_HZ) || own->columns == 0) {
        return;
    }
    static const double dashes[] = {6, 5};
    double at = floor(y + s->height * (1 - hz / TOP_HZ)) + 0.5;
    hy_set_colour(cr, HY_WARM, 1);
    cairo_set_line_width(cr, 1);
    cairo_set_dash(cr, dashes, 2, 0);
    cairo_move_to(cr, PLOT_X, at);
    cairo_line_to(cr, PLOT_X + own->columns, at);
    cairo_stroke(cr);
    cairo_set_dash(cr, NULL, 0, 0);
}

static double said_x(const hy_strips *s, const strip *own, size_t i)
{
    return i < own->step.said_count ? PLOT_X + PLOT_W * own->step.said[i].at_s / s->seconds
                                    : PLOT_X + (double)own->columns;
}

static int name_fits(cairo_t *cr, const hy_strips *s, const strip *own, size_t i)
{
    const char *name = hy_symbols[own->step.said[i].code].symbol;
    return hy_text_width(cr, HY_SMALL, 0, name) + 2 <= said_x(s, own, i + 1) - said_x(s, own, i);
}

/* A few names that happen to fit would tell less than none. */
static void names(cairo_t *cr, const hy_strips *s, const strip *own, double y)
{
    size_t fitting = 0;
    for (size_t i = 0; i < own->step.said_count; i++) {
        fitting += (size_t)name_fits(cr, s, own, i);
    }
    for (size_t i = 0; i < own->step.said_count; i++) {
        double x = said_x(s, own, i);
        hy_set_colour(cr, HY_RULE, 1);
        cairo_rectangle(cr, floor(x), y - 5, 1, 5);
        cairo_fill(cr);
        if (2 * fitting >= own->step.said_count && name_fits(cr, s, own, i)) {
            hy_text(cr, (x + said_x(s, own, i + 1)) / 2, y - 6, 0.5, HY_SMALL, 0, HY_INK,
                    hy_symbols[own->step.said[i].code].symbol);
        }
    }
}

static void time_axis(cairo_t *cr, const hy_strips *s, double y)
{
    double step = hy_nice_step(s->seconds, 16);
    for (int i = 0; i * step <= s->seconds * (1 + 1e-9); i++) {
        char text[32];
        double x = floor(PLOT_X + PLOT_W * i * step / s->seconds);
        hy_set_colour(cr, HY_SOFT, 1);
        cairo_rectangle(cr, x, y, 1, 5);
        cairo_fill(cr);
        snprintf(text, sizeof text, "%.6g", i * step);
        hy_text(cr, x + 0.5, y + 19, 0.5, HY_NORMAL, 0, HY_SOFT, text);
    }
    hy_text(cr, PLOT_X - 24, y + 19, 1, HY_NORMAL, 0, HY_SOFT, "s");
}

static void draw(cairo_t *cr, const hy_strips *s, double bottom)
{
    double most = 0;
    for (size_t i = 0; i < s->count; i++) {
        most = s->strip[i].columns > 0 ? fmax(most, hy_grid_most(&s->strip[i].grid)) : most;
    }
    hy_text_within(cr, 24, 38, 20, 1, HY_INK, s->title, WIDTH - 48);
    hy_text_within(cr, 24, 62, HY_STRONG, 0, HY_FLAG, s->note, WIDTH - 48);
    hy_text(cr, WIDTH - 40, 84, 1, HY_NORMAL, 0, HY_SOFT,
            "kHz over seconds, raised by 6 dB an octave; above the dashed line, half the filter rate, everything is "
            "images");
    for (size_t i = 0; i < s->count; i++) {
        const strip *own = &s->strip[i];
        double y = strip_y(s, i);
        labels(cr, s, own, y);
        if (own->columns > 0) {
            hy_grid_paint(cr, &own->grid, PLOT_X, y, most);
        }
        mirror(cr, s, own, y);
        names(cr, s, own, y);
        hy_set_colour(cr, HY_RULE, 1);
        cairo_set_line_width(cr, 1);
        cairo_rectangle(cr, PLOT_X - 0.5, y - 0.5, own->columns + 1, s->height + 1);
        cairo_stroke(cr);
        if (!own->step.played) {
            hy_text(cr, PLOT_X + 10, y + 20, 0, HY_NORMAL, 0, HY_SOFT, "too slow to be played");
        }
    }
    time_axis(cr, s, bottom);
}

cairo_t *hy_strips_draw(const hy_strips *s, hy_diag *diag)
{
    double bottom = strip_y(s, s->planned - 1) + s->height + 6;
    cairo_t *page = hy_page_new(WIDTH, (int)bottom + 40);
    if (page == NULL) {
        hy_fail(diag, "cannot draw the picture: out of memory");
        return NULL;
    }
    draw(page, s, bottom);
    return page;
}

void hy_strips_free(hy_strips *s)
{
    if (s != NULL) {
        for (size_t i = 0; i < s->count; i++) {
            hy_grid_free(&s->strip[i].grid);
            hy_sweep_step_free(&s->strip[i].step);
        }
        free(s->title);
        free(s->note);
        free(s);
    }
}
