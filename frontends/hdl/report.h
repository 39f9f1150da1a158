/* What a designer needs to know about the first difference: where, what, why the model says so, how far the design is off,
 * and the clocks around it. */
#ifndef HY_HDL_REPORT_H
#define HY_HDL_REPORT_H

#include <stdio.h>

#include "diag.h"
#include "pair.h"

/* Name of a field, such as "request". */
const char *hy_field_name(hy_field field);

/* The whole report, as text. `window`: records shown ahead of the difference. */
void hy_report_print(const hy_pair *pair, unsigned window, FILE *out);

/* Everything that the pair remembers as a value change dump, two time units a clock, scopes `pins`, `design` and `model`.
 * 0, or -1. */
int hy_report_dump(const hy_pair *pair, const char *path, hy_diag *diag);

#endif
