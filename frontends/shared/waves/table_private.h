/* What the parts of the table reader share: table.c (rows), table_head.c (comments and heading), table_time.c. */
#ifndef HY_TABLE_PRIVATE_H
#define HY_TABLE_PRIVATE_H

#include <stdio.h>

#include "waves/channels.h"

enum { HY_TABLE_LINE_MAX = 64 * 1024 };

typedef enum hy_table_time {
    HY_TABLE_SAMPLES,  /* no column of times: a row a sample */
    HY_TABLE_COUNTED,  /* the column counts samples, in multiples of what stands in the first row */
    HY_TABLE_NUMBERED, /* the column has the samples' numbers */
    HY_TABLE_STAMPED   /* the column has times */
} hy_table_time;

typedef struct hy_table {
    FILE *in;
    const char *name;
    hy_diag *diag;
    /* the line in front */
    char *line;
    size_t length;
    unsigned number;
    int64_t bytes; /* of the lines so far, as far as a NUL byte lets see */
    char mark[16]; /* begins a comment line, besides # and ; */
    /* what the head says */
    hy_channels channels; /* place: the column */
    char separator;
    unsigned columns;
    hy_table_time time;
    int exponent; /* of the column's unit: 0 s, -3 ms, ... */
    int spelled;  /* the unit is all its heading: sigrok's, which may be whole samples of a cut-off period */
    double rate;  /* samples a second; 0: not known */
    int stated;   /* a comment says it */
    char *names;  /* of the channels, as a comment has them, or null */
    int trigger;  /* the last column is sigrok-cli's trigger: no channel of the list */
    int waiting;  /* the line in front is a row already */
    /* rows */
    int64_t origin, now; /* ps: the first row's time as the table gives it; the last row's since then */
    int64_t first_count; /* in the first row, if the column counts; */
    int nothing;         /* it has been 0 so far: a program that did not know the sample rate */
    int alike;           /* two rows in a row were: none was left out */
    uint64_t row_hash;   /* of the row before */
    int64_t step;        /* of the times as they are written, ps: by the finest so far */
    uint64_t rows;
} hy_table;

/* A field of the line in front, without quotes and spaces around it. */
typedef struct hy_table_field {
    const char *text;
    size_t length;
    unsigned column; /* of the line, from 1 */
} hy_table_field;

/* The next line that is neither empty nor a comment. 1, 0 at the end, -1. */
int hy_table_line(hy_table *table, int head);

/* Takes the field that begins at *at and moves *at behind its separator; 0: there is none left. */
int hy_table_field_next(const hy_table *table, size_t *at, hy_table_field *field);

/* "FILE:LINE:COLUMN: found FIELD; expected ...". -1. */
int hy_table_wrong(const hy_table *table, const hy_table_field *field, const char *expected);

/* table_head.c: comments and heading. 0, or -1. */
int hy_table_comment(hy_table *table, const char *text, size_t length);
int hy_table_head(hy_table *table);

/* Whether a heading is nothing but a unit of time (or "samples": 0), spelled out as sigrok does: its power of ten. */
int hy_table_spelled(const char *text, size_t length, int *exponent);

/* table_time.c: the time of a row, ps: as it stands, or since the first row if samples are counted. 0, or -1. */
int hy_table_row_time(hy_table *table, const hy_table_field *field, int64_t *ps);

#endif
