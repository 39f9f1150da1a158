/* The clock of a part over time. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "draw_private.h"

static void see_pitch(void *user, size_t spoken, double at, double recording_hz, double model_hz)
{
    hy_sheet *s = user;
    hy_points_add(&s->clock, hy_align_recording_time(&s->c->alignment, at),
                  s->c->alignment.model->spoken[spoken].clock_hz * recording_hz / model_hz);
}

int hy_sheet_measure_clock(hy_sheet *s, hy_diag *diag)
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
    return failed || s->clock.failed ? -1 : 0;
}

static double clock_y(const hy_sheet *s, double y, double hz)
{
    double part = (hz - s->clock_low) / (s->clock_high - s->clock_low);
    return y + CLOCK_H * (1 - (part < 0 ? 0 : part > 1 ? 1 : part));
}

void hy_sheet_clock(hy_sheet *s, double y)
{
    const hy_alignment *a = &s->c->alignment;
    hy_sheet_frame(s, y, CLOCK_H, "Clock", "kHz");
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
        double left = hy_sheet_x(s, from < s->from ? s->from : from), right = hy_sheet_x(s, to > s->to ? s->to : to);
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
    for (size_t i = 0; i < s->clock.count; i++) {
        if (s->clock.at[i] >= s->from && s->clock.at[i] <= s->to) {
            cairo_arc(s->cr, hy_sheet_x(s, s->clock.at[i]), clock_y(s, y, s->clock.value[i]), 1.6, 0, 6.2832);
            cairo_fill(s->cr);
        }
    }
}
