/* Inside the picture: columns of the time axis, the spectrum's columns, drawing.
 *
 * Every piece of data is kept per pixel column, as much of it as that column can show; so memory does not grow with length
 * or with the number of events, and nothing that could be seen is lost. */
#ifndef HY_PICTURE_PRIVATE_H
#define HY_PICTURE_PRIVATE_H

#include <cairo.h>
#include <stddef.h>
#include <stdint.h>

#include "outfile.h"
#include "page.h"
#include "picture.h"

enum { HY_COLUMNS = 1364, HY_ROWS = 440 }; /* of the plot and the spectrogram, pixels */

typedef struct hy_column {
    /* latches in this column: where the phoneme before ends, and what goes on behind it */
    uint32_t latches;
    int64_t first_latch_ps, last_latch_ps;
    uint8_t last_code;
    /* request: levels seen (1 low, 2 high) and the one it leaves with, -1: no change here */
    uint8_t request_seen;
    int8_t request_end;
    int8_t has_clock;
    double clock_first, clock_low, clock_high, clock_last; /* Hz */
    float low, high;                                       /* of the signal */
    char *mark;                                            /* the first one here, or null */
    int64_t mark_ps;
} hy_column;

/* Power spectra, HY_ROWS values per column from 0 Hz up, with the mean over the column's time. */
typedef struct hy_spectrum hy_spectrum;

/* Null if memory is out. total: samples in the whole signal. */
hy_spectrum *hy_spectrum_new(uint32_t rate, double total);
void hy_spectrum_frames(hy_spectrum *spectrum, const float *frames, size_t count);
void hy_spectrum_end(hy_spectrum *spectrum); /* silence follows */
const float *hy_spectrum_column(const hy_spectrum *spectrum, int column);
double hy_spectrum_top(const hy_spectrum *spectrum); /* Hz at the upper edge */
void hy_spectrum_free(hy_spectrum *spectrum);

struct hy_picture {
    hy_outfile *file;
    char *title, *note;
    uint32_t rate;
    int64_t duration; /* ps; at least 1 */
    int empty;        /* the true duration is 0 */
    uint64_t latches, samples;
    hy_spectrum *spectrum;
    hy_column column[HY_COLUMNS];
};

/* A sample that can be drawn, whatever it was: a fault may have driven the model anywhere. */
static inline float hy_tame(float x)
{
    return x > 1e6f ? 1e6f : x < -1e6f ? -1e6f : x == x ? x : 0;
}

/* A strip of the page: the plot's part of it. */
typedef struct hy_strip {
    double y, height;
} hy_strip;

/* The page's one horizontal scale. */
enum { HY_PLOT_X = 130, HY_PAGE_WIDTH = 1600, HY_PAGE_HEIGHT = 900 };
double hy_picture_x(const hy_picture *picture, int64_t ps);

/* picture_draw.c: the whole page. Null if it can't be made. */
cairo_t *hy_picture_draw(const hy_picture *picture);

/* picture_spectrogram.c */
void hy_draw_spectrogram(cairo_t *cr, const hy_picture *picture, hy_strip strip);

/* picture_names.c: phonemes with their boundaries (down to `bottom`), marks. */
void hy_draw_phonemes(cairo_t *cr, const hy_picture *picture, hy_strip strip, double bottom);
void hy_draw_marks(cairo_t *cr, const hy_picture *picture, hy_strip strip, double bottom);

/* picture_traces.c */
void hy_draw_signal(cairo_t *cr, const hy_picture *picture, hy_strip strip);
void hy_draw_request(cairo_t *cr, const hy_picture *picture, hy_strip strip);
void hy_draw_clock(cairo_t *cr, const hy_picture *picture, hy_strip strip);
void hy_draw_time_axis(cairo_t *cr, const hy_picture *picture, double top, double y);

/* Name of a strip, with a unit under it, in the left margin. */
void hy_strip_name(cairo_t *cr, hy_strip strip, const char *name, const char *unit);
void hy_strip_frame(cairo_t *cr, hy_strip strip);

#endif
