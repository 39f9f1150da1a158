/* hyoid compare: is the sound of a part the model's? */
#ifndef HY_COMPARE_H
#define HY_COMPARE_H

#include <cairo.h>

#include "outfile.h"
#include "recording/figures.h"
#include "report/report.h"

int hy_compare_main(int argc, char **argv);

/* ---- limits ---- */

/* What is judged of the whole recording, behind the quantities of the phonemes. */
enum { HY_CLOCK_ROW = HY_MEASURES, HY_TEMPO_PITCH_ROW, HY_LIMIT_ROWS };

typedef struct hy_limit {
    double value;       /* in the quantity's unit; NaN: told, not judged */
    const char *source; /* kept in hy_limits */
} hy_limit;

typedef struct hy_limits {
    hy_limit at[HY_LIMIT_ROWS][HYOID_PHONEMES];
    char *arena[2]; /* owned: the texts of the built-in table and of a file */
} hy_limits;

/* The built-in limits, then what the file (may be null) says instead. -1: FILE:LINE:COLUMN, what was found, what would be
 * right. */
int hy_limits_read(hy_limits *limits, const char *path, hy_diag *diag);
void hy_limits_free(hy_limits *limits);
/* The built-in table as a file, for editing: finished, to be committed or abandoned. Null on error. */
hy_outfile *hy_limits_file(const char *path, hy_diag *diag);

const char *hy_limit_row_name(int row);
const char *hy_limit_row_unit(int row);

/* ---- verdicts ---- */

/* One figure against its limit. A figure fails if it is outside by more than its uncertainty; it passes if it is inside and
 * its uncertainty is no larger than the limit; otherwise it is inconclusive. */
typedef struct hy_judged {
    int judged; /* 0: not known, or without a limit */
    hy_verdict verdict;
    hy_limit limit;
} hy_judged;

/* A phoneme code: fails if a figure fails; passes if none does, none lies outside its limit, and the one that says most (lsd; of a
 * pause its level) passes; otherwise inconclusive. */
typedef struct hy_judged_code {
    const hy_code_figures *figures;
    hy_judged row[HY_MEASURES];
    hy_verdict verdict;
    char why[200]; /* not a pass: what fails, or why nothing can be said */
} hy_judged_code;

typedef struct hy_comparison {
    /* what was done; strings are the caller's */
    const char *recording_name, *input_name, *part_name; /* part_name null: built-in */
    const hyoid_part *part;
    const char *command; /* may be null */
    int colour;          /* a microphone's colour was taken out */

    const hy_recording *recording;
    hy_alignment alignment;
    hy_figures figures;
    hy_judged_code code[HYOID_PHONEMES]; /* figures.count of them */
    hy_judged clock, tempo_pitch;
    double stated_hz;       /* the input's clock at its first phoneme */
    double clock_off;       /* % */
    double clock_doubt;     /* %, two standard deviations */
    double tempo_pitch_off; /* %; NaN: not known */
    double tempo_pitch_doubt;
    unsigned passed, failed, open; /* codes */
    hy_verdict verdict;
} hy_comparison;

/* Verdicts from figures. */
void hy_compare_judge(hy_comparison *comparison, const hy_limits *limits);

/* "FAIL: 3 of 42 phonemes fail (k t s), ..." */
typedef struct hy_compare_line {
    char text[500];
} hy_compare_line;
hy_compare_line hy_compare_summary(const hy_comparison *comparison);
hy_compare_line hy_compare_clock(const hy_comparison *comparison);
hy_compare_line hy_compare_floor(const hy_comparison *comparison);
hy_compare_line hy_compare_place(const hy_comparison *comparison);

/* ---- telling ---- */

/* All of it on standard output; `quiet`: the summary only. */
int hy_compare_print(const hy_comparison *comparison, int quiet);
/* Each is finished, to be committed or abandoned. Null on error. */
hy_outfile *hy_compare_json(const hy_comparison *comparison, const char *path, hy_diag *diag);
hy_report *hy_compare_report(const hy_comparison *comparison, const char *path, hy_diag *diag);
hy_outfile *hy_compare_picture(const hy_comparison *comparison, const char *path, hy_diag *diag);

/* Spectrograms of recording and model on one time axis, phonemes between them, clock below. The caller destroys it. Null if memory
 * is out. */
cairo_surface_t *hy_compare_draw(const hy_comparison *comparison, hy_diag *diag);

#endif
