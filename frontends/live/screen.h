/* The screen of `hyoid live`, from what is known to cells. */
#ifndef HY_SCREEN_H
#define HY_SCREEN_H

#include "cells.h"
#include "session.h"

typedef struct hy_view {
    const hy_live_session *session;
    const char *device;
    double latency_ms, worst_load; /* the device's latency; the callback's worst share of its time */
    uint64_t xruns;
    int phonemes;       /* the phoneme page is up */
    int group;          /* chosen there, or -1 */
    int wave;           /* a waveform instead of a spectrogram */
    int ascii;          /* the terminal shows nothing else */
    const char *prompt; /* what is being typed, or null */
} hy_view;

/* Paints all of it; `cells` has its size already. *cursor: the column of the cursor in the last row, or -1. */
void hy_screen_draw(hy_cells *cells, const hy_view *view, int *cursor);

/* One line of the same, for logs and pipes: time, clock, phoneme, level, peak. */
void hy_screen_line(const hy_view *view, char *line, size_t size);

/* screen_panels.c: rows `top` to `end` - 1 */
void hy_screen_spectrogram(hy_cells *cells, const hy_scope *scope, int top, int end);
void hy_screen_wave(hy_cells *cells, const hy_scope *scope, int top, int end);
void hy_screen_phonemes(hy_cells *cells, const hy_view *view, int top, int end);
void hy_screen_help(hy_cells *cells, int top, int end);

#endif
