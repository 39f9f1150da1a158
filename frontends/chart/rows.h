/* What the chart says of each code, whatever form it is written in. */
#ifndef HY_CHART_ROWS_H
#define HY_CHART_ROWS_H

#include <stdio.h>

#include "acoustics.h"
#include "measure/measure.h"
#include "partfile.h"
#include "score.h"

typedef struct hy_chart_row {
    const hy_symbol *symbol;
    const char *ms;    /* as the part's file has it */
    const char *known; /* confidence of the least sure of the three formants */
    hy_formants hz;    /* where the capacitors put them */
    hy_measured measured;
} hy_chart_row;

typedef struct hy_chart {
    const hy_partfile *file;
    const char *part; /* its folder, or null for the built-in one */
    const char *note; /* what stands above a table and beside the data */
    hy_chart_row row[HYOID_PHONEMES];
} hy_chart;

/* Renders and measures each code. 0, or -1 with the diagnosis. */
int hy_chart_make(hy_chart *chart, const hy_partfile *file, const char *part, hy_diag *diag);

/* write.c: the forms of the text. */
void hy_chart_table(const hy_chart *chart, FILE *out);
void hy_chart_csv(const hy_chart *chart, FILE *out);
int hy_chart_json(const hy_chart *chart, FILE *out, hy_diag *diag);

/* picture.c: one page as PNG. 0, or -1. */
int hy_chart_picture(const hy_chart *chart, const char *path, hy_diag *diag);

#endif
