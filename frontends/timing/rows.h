/* What is judged: one row each, with limits, what was measured, and the verdict.
 *
 * Decision rule (docs/captures.md says it to users): every measurement is a value and the most by which it may be off. A row
 * fails if one lies beyond a limit by more than that. It passes if none does and the uncertainty is at most a quarter of the width
 * between its limits (a test uncertainty ratio of 4 : 1, practice), for a good chip's values reach the limits themselves; or if every
 * value keeps its uncertainty's distance from them. Otherwise it is inconclusive. */
#ifndef HY_TIMING_ROWS_H
#define HY_TIMING_ROWS_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "outfile.h"
#include "partfile.h"
#include "report/report.h"

typedef enum hy_row_id {
    HY_ROW_CLOCK,
    HY_ROW_LATENCY,  /* strobe to request's fall */
    HY_ROW_DURATION, /* strobe to request's rise, by code: HY_ROW_DURATION + code */
    HY_ROW_AFTER_CUT = HY_ROW_DURATION + HYOID_PHONEMES, /* the same, off nominal, of a phoneme that cut another */
    HY_ROW_INFLECTED,                                    /* the same, of one in which inflection changed */
    HY_ROW_MISSED,                                       /* strobes that request did not answer */
    HY_ROW_OVERDUE,                                      /* request did not rise in time */
    HY_ROW_UNASKED,                                      /* request fell without a strobe */
    HY_ROW_UNKNOWN,                                      /* x or z */
    HY_ROW_DOUBLED,                                      /* strobes too close to the one before */
    HY_ROW_CODE_MOVES,                                   /* code changes while strobe is high */
    HY_ROW_CUT,                                          /* when phonemes were cut short */
    HY_ROW_ANSWER,                                       /* request's rise to strobe */
    HY_ROW_STROBE,                                       /* width */
    HY_ROW_INFLECTION,                                   /* changes */
    HY_ROW_GLITCHES,                                     /* passed over */
    HY_ROWS
} hy_row_id;

typedef enum hy_row_side {
    HY_SIDE_PART, /* the chip's doing */
    HY_SIDE_HOST, /* the board's or program's */
    HY_SIDE_INFO  /* no limit of its own; only a limits file gives it one */
} hy_row_side;

typedef struct hy_row {
    char key[20]; /* stable: JSON and limits files */
    char name[72];
    const char *unit; /* "clocks", "count" or "Hz" */
    hy_row_side side;
    int counts;           /* the figure is how often, out of n */
    double min, typ, max; /* limits; NaN: none */
    char source[240];
    uint64_t n;
    double low, mean, high; /* NaN: nothing measured */
    double uncertainty;     /* the largest of a single measurement */
    uint64_t beyond, maybe; /* measurements beyond a limit by more, and by less, than their uncertainty */
    int64_t worst_ps;       /* the one that is nearest to a limit or farthest beyond; -1: none */
    double worst_by;        /* by what it is inside (negative: beyond) */
    int judged;
    hy_verdict verdict; /* if judged */
} hy_row;

/* Names, units, and the limits that follow from the part, with their provenance. */
void hy_rows_start(hy_row *rows, const hy_partfile *file);

/* Limits from a file: row,min,typ,max,unit,source. 0, or -1. */
int hy_rows_limits(hy_row *rows, const char *path, hy_diag *diag);

/* The limits as such a file, finished, to be committed or abandoned. Null on error. */
hy_outfile *hy_rows_file(const hy_row *rows, const char *path, hy_diag *diag);

/* One measurement. */
void hy_row_add(hy_row *row, double value, double uncertainty, int64_t ps);
/* A row that counts: `sure` of n, and `maybe` more. */
void hy_row_count(hy_row *row, uint64_t n, uint64_t sure, uint64_t maybe, int64_t ps);
/* All measurements are in. */
void hy_row_judge(hy_row *row);

/* The row for a report. */
hy_report_row hy_row_report(const hy_row *row);

#endif
