/* The plane of F1 and F2: published means of the vowels, and where a part puts its own. */
#ifndef HY_CHART_VOWELS_H
#define HY_CHART_VOWELS_H

#include "page.h"
#include "rows.h"

/* Means of the men of Peterson & Barney 1952 (reference/tables/peterson_barney_1952.csv, compiled in). */
typedef struct hy_vowel {
    char symbol[4]; /* as the chart's */
    char ipa[8];
    double f1, f2;       /* Hz */
    double f1_sd, f2_sd; /* from speaker to speaker */
} hy_vowel;

enum { HY_VOWELS = 10 };

/* 0, or -1: the table that was compiled in has not ten vowels of men. */
int hy_vowels_read(hy_vowel vowels[HY_VOWELS], hy_diag *diag);

/* Whether a code is a vowel that was measured: ARPABET's vowels begin with a vowel's letter. */
int hy_row_is_vowel(const hy_chart_row *row);

typedef struct hy_box {
    double x, y, width, height;
} hy_box;

void hy_draw_vowels(cairo_t *cr, const hy_chart *chart, const hy_vowel vowels[HY_VOWELS], hy_box plot);

#endif
