/* What the files of this verb tell each other. */
#ifndef HY_PART_VERB_H
#define HY_PART_VERB_H

#include <stdio.h>

#include "partfile.h"

/* The verb: hyoid part check|show|diff|export. argv[0] is "part". Returns the exit status. */
int hy_part_main(int argc, char **argv);

/* Explains what `what` names (a code, a symbol, a constant or the stem of several), or the whole part if it is null.
 * `name` is the part's, for the heading. 0, or -1 if nothing is called that. */
int hy_part_show(const hy_partfile *file, const char *name, const char *what, FILE *out, hy_diag *diag);

#endif
