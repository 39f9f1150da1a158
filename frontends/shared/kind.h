/* What a file seems to be, for the line that says that it is not what was asked for. */
#ifndef HY_KIND_H
#define HY_KIND_H

#include <stdio.h>

#include "diag.h"

typedef enum hy_kind {
    HY_KIND_UNKNOWN,
    HY_KIND_SCORE,
    HY_KIND_LOG,
    HY_KIND_CAPTURE, /* up to here: what hy_input_read takes */
    HY_KIND_SOUND,
    HY_KIND_PROGRAM, /* ELF */
    HY_KIND_PICTURE,
    HY_KIND_PAGE,
    HY_KIND_LABELS
} hy_kind;

/* By its first bytes; a score, which may begin with anything, by the end of its name. Leaves the stream at its beginning. */
hy_kind hy_kind_look(FILE *in, const char *name);

/* "NAME: this seems to be a score; WANTED would be right (which verb takes a score)". Nothing if the kind is unknown: then the
 * reader says more. -1 if it was refused, else 0. */
int hy_kind_refuse(const char *name, hy_kind kind, const char *wanted, hy_diag *diag);

#endif
