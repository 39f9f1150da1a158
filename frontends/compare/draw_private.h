/* What the parts of the comparison's picture share: draw.c (the page), draw_spectra.c, draw_clock.c. */
#ifndef HY_DRAW_PRIVATE_H
#define HY_DRAW_PRIVATE_H

#include "compare.h"
#include "picture_private.h"
#include "recording/points.h"

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
    FRAMES_MAX = 6, /* in a column */
    FFT = 512       /* points of a spectrum */
};
#define ROW_SECONDS 5.0

typedef struct hy_sheet {
    cairo_t *cr;
    const hy_comparison *c;
    hy_stft *stft;
    double top_hz;
    double from, to; /* the row's times in the recording */
    double y;
    double clock_low, clock_high; /* Hz */
    hy_points clock;              /* Hz, as the pitch tells it */
    int failed;
} hy_sheet;

/* Where a time of the recording, s, stands in the row, pixels from the left. */
double hy_sheet_x(const hy_sheet *sheet, double t);

/* A strip's frame, with its name and unit in the margin. */
void hy_sheet_frame(hy_sheet *sheet, double y, double height, const char *name, const char *unit);

/* draw_spectra.c: both spectrograms of a row on one scale, the recording's at y, the model's at `second`. */
void hy_sheet_spectra(hy_sheet *sheet, double y, double second);

/* draw_clock.c: the clock as the pitch tells it, once for all rows (0, or -1), and its curve in one. */
int hy_sheet_measure_clock(hy_sheet *sheet, hy_diag *diag);
void hy_sheet_clock(hy_sheet *sheet, double y);

#endif
