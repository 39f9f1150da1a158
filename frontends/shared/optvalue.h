/* Values of options: numbers within a range, frequencies. Each refuses with what would be right. */
#ifndef HY_OPTVALUE_H
#define HY_OPTVALUE_H

#include <stdint.h>
#include <stdio.h>

#include "diag.h"

/* A decimal number, low..high. 0, or -1. `option` is the name without dashes. */
int hy_value_number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag);
int hy_value_whole(const char *text, int low, int high, const char *option, int *value, hy_diag *diag);
/* 16, 24 or 32 bits a sample. */
int hy_value_bits(const char *text, int *bits, hy_diag *diag);
/* A time such as 200ns or 1.5 ms, low..high ps, exact to the picosecond; `right` says what would be. */
int hy_value_time(const char *text, int64_t low, int64_t high, const char *right, const char *option, int64_t *ps,
                  hy_diag *diag);
/* A clock such as 650k or 1.02MHz, 0 to 100 MHz. */
int hy_value_clock(const char *text, const char *option, double *hz, hy_diag *diag);

/* A line if the clock (Hz) runs, but so slowly that its unit was forgotten. */
void hy_clock_tell_slow(double hz, FILE *out);

#endif
