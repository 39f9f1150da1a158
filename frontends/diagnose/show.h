/* A diagnosis as text, JSON and report. */
#ifndef HY_DIAGNOSE_SHOW_H
#define HY_DIAGNOSE_SHOW_H

#include <stdio.h>

#include "evidence.h"
#include "outfile.h"
#include "rank.h"
#include "report/report.h"

typedef struct hy_case {
    const hy_diagnosis *diagnosis;
    const hy_heard *heard;
    const hy_recording *recording;
    const hyoid_part *part;
    const char *part_name; /* null: built-in */
    const char *input;     /* as the user named it */
    const char *item;      /* the user's words; null: the recording's name */
    const char *date;      /* or null */
    const char *command;
    double stated_hz; /* the clock that the input states at its start */
    int gain_known;
} hy_case;

/* One line: the verdict. */
typedef struct hy_verdict_line {
    char text[400];
} hy_verdict_line;
hy_verdict_line hy_case_verdict(const hy_case *c);

/* Whether the recording says what the input asks for, if not as a good chip would; a recording in which nothing sounds does. */
int hy_case_follows(const hy_case *c);

/* Whether clock, start and level of the recording are known: something sounds, and it is explained. */
int hy_case_placed(const hy_case *c);

/* The clock as found, or that it is not known. */
hy_verdict_line hy_case_clock(const hy_case *c);

/* What the recording can't show, in words; empty if there is nothing of the kind. */
hy_verdict_line hy_case_limits(const hy_case *c);

/* What to measure next, where no recording can tell more; else empty. */
hy_verdict_line hy_case_next(const hy_case *c);

/* How many candidates are worth showing: those with a share, at most `most`, and at least two, or three where nothing is
 * explained. */
size_t hy_case_shown(const hy_case *c, size_t most);

void hy_case_text(const hy_case *c, FILE *out);
int hy_case_json(const hy_case *c, FILE *out, hy_diag *diag);
/* A finished report, to be committed or abandoned. Null on error. */
hy_report *hy_case_report(const hy_case *c, const char *path, hy_diag *diag);

#endif
