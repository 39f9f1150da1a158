/* Between log_csv.c (what a row means) and log_csv_lines.c (where its fields stand). */
#ifndef HY_LOG_CSV_PRIVATE_H
#define HY_LOG_CSV_PRIVATE_H

#include <csv.h>
#include <stdio.h>

#include "log.h"

enum { HY_LOG_LINE_BYTES = 1000, HY_LOG_FIELDS = 3 };

extern const char hy_log_header[];

typedef struct hy_log_field {
    char text[HY_LOG_LINE_BYTES + 1];
    size_t length;
    unsigned column;
} hy_log_field;

typedef struct hy_log_reader {
    FILE *in;
    const char *name;
    hy_diag *diag;
    hy_log *log;
    struct csv_parser csv;

    char line[HY_LOG_LINE_BYTES + 2];
    size_t length;
    unsigned number;
    int at_end;

    hy_log_field fields[HY_LOG_FIELDS]; /* of the present row */
    unsigned count;                     /* may exceed HY_LOG_FIELDS */
    unsigned extra;                     /* column of the first field too many */
    int complete;                       /* libcsv has seen the row's end */

    int header_seen, ended;
    uint64_t rows;
    int64_t last_ps;
    int has_clock;
    int64_t clock_ps;
    double clock_hz;
} hy_log_reader;

/* "FILE:LINE:COLUMN: found FOUND; expected EXPECTED". -1. */
int hy_log_wrong(hy_log_reader *reader, unsigned column, const char *found, const char *expected);
int hy_log_wrong_field(hy_log_reader *reader, const hy_log_field *field, const char *expected);

/* Reads the next line without its end. 1, 0 at the end of the file, or -1. */
int hy_log_line(hy_log_reader *reader);

/* Splits it into fields. 1: a row; 0: a blank line; -1. */
int hy_log_split(hy_log_reader *reader);

#endif
