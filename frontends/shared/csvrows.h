/* A small CSV file, already in memory, row by row with the place of each field, for messages that name it.
 *
 * Text is UTF-8 (a byte order mark is passed over) without NUL bytes or other control characters; fields may be quoted but end
 * on their line. Lines are counted at LF, CR LF or CR; empty ones are passed over. */
#ifndef HY_CSVROWS_H
#define HY_CSVROWS_H

#include <stddef.h>
#include <stdio.h>

#include "diag.h"

enum { HY_CSV_COLUMNS_MAX = 24, HY_CSV_FIELD_MAX = 2000, HY_CSV_FILE_MAX = 4 << 20 };

typedef struct hy_cell {
    const char *text; /* unquoted, in the arena */
    unsigned line, column;
} hy_cell;

/* Called for each row below the header. 0, or -1 with the diagnosis filled. */
typedef int hy_csv_row(void *user, const hy_cell *cells, hy_diag *diag);

typedef struct hy_csv {
    const char *name;           /* of the file, for messages */
    const char *const *columns; /* what the header must say */
    size_t column_count;        /* at most HY_CSV_COLUMNS_MAX */
    hy_csv_row *row;
    void *user;
} hy_csv;

/* Reads the whole text. The fields' strings go to `arena`, which must have size + 1 bytes and lives as long as they are used.
 * 0, or -1 at the first thing that is wrong. */
int hy_csv_read(const hy_csv *csv, const char *text, size_t size, char *arena, hy_diag *diag);

/* Reads a regular file of at most HY_CSV_FILE_MAX bytes. malloc'd, or null. */
char *hy_csv_load(const char *path, size_t *size, hy_diag *diag);

#endif
