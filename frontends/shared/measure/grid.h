/* A small spectrogram as a grid of powers, and how it is drawn on a page: for pictures that hold many of them. */
#ifndef HY_GRID_H
#define HY_GRID_H

#include <stddef.h>
#include <stdint.h>

#include "page.h"

typedef struct hy_grid {
    int columns, rows;
    double top_hz; /* upper edge of the topmost row; 0 Hz is the lower edge of the first */
    float *power;  /* columns * rows, a column after the other, from 0 Hz up; owned */
} hy_grid;

/* Hann windows of 8 ms, raised by hy_emphasised; a column that is wider than a window's half is the mean over several. No window
 * reaches over an end, where the cut would show as a click, unless the sound is shorter than one. 0, or -1 if memory is out. */
int hy_grid_make(hy_grid *grid, int columns, int rows, double top_hz, const float *frames, size_t count,
                 uint32_t rate);
void hy_grid_free(hy_grid *grid);

/* The strongest cell. */
double hy_grid_most(const hy_grid *grid);

/* Paints a pixel for each cell, shaded in dB down from `most`, the left upper corner at x, y. */
void hy_grid_paint(cairo_t *cr, const hy_grid *grid, double x, double y, double most);

#endif
