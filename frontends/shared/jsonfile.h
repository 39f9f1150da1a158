/* JSON for programs, as every verb writes it. */
#ifndef HY_JSONFILE_H
#define HY_JSONFILE_H

#include <jansson.h>
#include <stdio.h>

#include "outfile.h"

/* Writes a value and a line end; `digits` of real numbers, 1 to 17. Takes the value over; null, which is what jansson's makers give
 * for a name that is not UTF-8 and where memory is short, is refused with that line. What the disk refuses is told by
 * hy_outfile_finish. 0, or -1. */
int hy_json_write(json_t *value, FILE *out, unsigned digits, hy_diag *diag);

/* The same into a file of its own ("-" is standard output), finished, to be committed or abandoned. Null on error. */
hy_outfile *hy_json_file(json_t *value, const char *path, unsigned digits, hy_diag *diag);

#endif
