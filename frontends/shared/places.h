/* Where a verb reads and writes: no file may be lost by a slip in a name. */
#ifndef HY_PLACES_H
#define HY_PLACES_H

#include <stddef.h>

#include "diag.h"

/* Whether no two outputs, and no output and an input, are one file, however their names are spelled ("./a" and "a", a link
 * and its target), and none is empty. Null stands for what isn't asked for; "-" as input and output are two streams. 0, or
 * -1. */
int hy_places_check(const char *const *outputs, size_t output_count, const char *const *inputs, size_t input_count,
                    hy_diag *diag);

#endif
