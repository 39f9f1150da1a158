/* A page to draw on: what every picture has in common. Colours, text and a PNG at the end (cairo). The same bits from run to
 * run, whatever a desktop prefers. */
#ifndef HY_PAGE_H
#define HY_PAGE_H

#include <cairo.h>

#include "outfile.h"

/* An empty page; the caller destroys both. Null (and nothing to destroy) if memory is out. */
cairo_t *hy_page_new(int width, int height);

/* Writes the page to an outfile as PNG and finishes that (hy_outfile_finish). 0, or -1. */
int hy_page_write(cairo_t *page, hy_outfile *out, hy_diag *diag);

/* Sizes of text. The page is meant to be read on A4 as well: 12 pixels are 2.1 mm there. */
#define HY_SMALL 11
#define HY_NORMAL 12
#define HY_STRONG 13.5

/* Colours are 0xrrggbb. align: 0 left, 0.5 centre, 1 right of x; y is the base line. */
enum {
    HY_PAPER = 0xfdfdfb,
    HY_INK = 0x1c2733,
    HY_SOFT = 0x66727f, /* secondary text */
    HY_RULE = 0xc9cfd4, /* frames */
    HY_GRID = 0xe9ecec,
    HY_WARM = 0xb4531a, /* clock */
    HY_FLAG = 0xa3123f  /* marks */
};
void hy_set_colour(cairo_t *cr, unsigned rgb, double alpha);
double hy_text_width(cairo_t *cr, double size, int bold, const char *text);
void hy_text(cairo_t *cr, double x, double y, double align, double size, int bold, unsigned rgb, const char *text);
/* Cuts at the end, with an ellipsis, to fit `width`; nothing if not even that fits. Returns the width used. */
double hy_text_within(cairo_t *cr, double x, double y, double size, int bold, unsigned rgb, const char *text,
                      double width);
/* Whether the font has a glyph for every character. */
int hy_text_possible(cairo_t *cr, double size, const char *text);
/* A copy that is valid UTF-8 without control characters; null if memory is out. */
char *hy_text_clean(const char *text);
/* 1, 2 or 5 times a power of ten, so that at most `most` steps cover `range`. */
double hy_nice_step(double range, int most);

/* The shade of a spectrogram, from 0 (paper) to 1 (ink): 0xrrggbb. */
unsigned hy_shade(double share);
/* Speech falls by some 6 dB an octave: a power at hz, raised by as much so that upper formants show. */
double hy_emphasised(double power, double hz);
#define HY_SHADE_RANGE_DB 60.0

#endif
