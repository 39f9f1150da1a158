/* One clear line about what went wrong, where, and what would be right.
 *
 * Functions that can fail take a hy_diag, fill it once and return -1 (or null); the verb prints it as
 * "hyoid: TEXT" on standard error and exits with status 2. */
#ifndef HY_DIAG_H
#define HY_DIAG_H

#include <stdarg.h>

typedef struct hy_diag {
    char text[600]; /* empty: nothing went wrong */
} hy_diag;

/* Fills the diagnosis unless one stands there already: the first cause is the one to tell. Control
 * characters are replaced by '?', so that bad input can't break the line. Returns -1. */
int hy_fail(hy_diag *diag, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The same for text input: "FILE:LINE:COLUMN: ...". Lines and columns count from 1; columns in characters
 * (UTF-8 code points), a tab is one. Of a very long path the end is shown. */
int hy_fail_at(hy_diag *diag, const char *file, unsigned line, unsigned column, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

#endif
