/* Values of options: numbers within a range, frequencies. Each refuses with what would be right. */
#ifndef HY_OPTVALUE_H
#define HY_OPTVALUE_H

#include "diag.h"

/* A decimal number, low..high. 0, or -1. `option` is the name without dashes. */
int hy_value_number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag);
int hy_value_whole(const char *text, double low, double high, const char *option, int *value, hy_diag *diag);
/* A clock such as 650k or 1.02MHz, 0 to 100 MHz. */
int hy_value_clock(const char *text, const char *option, double *hz, hy_diag *diag);

#endif
