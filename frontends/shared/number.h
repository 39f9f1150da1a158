/* Decimal numbers as text, without floating point on the way and whatever the locale. */
#ifndef HY_NUMBER_H
#define HY_NUMBER_H

#include <stddef.h>
#include <stdint.h>

#define HY_DIGITS 64 /* significant digits that a number may have */

/* digits * 10^exponent, without leading and trailing zeros; 0 has no digits. */
typedef struct hy_decimal {
    char digits[HY_DIGITS];
    size_t count;
    long exponent;
} hy_decimal;

/* Reads digits with an optional fraction (at least one digit on either side of the point) and, if `scientific`, an
 * optional exponent such as e-05. Returns the bytes used: 0 if no number stands there or it has too many digits. */
size_t hy_decimal_read(const char *s, size_t n, int scientific, hy_decimal *decimal);

typedef enum hy_exact { HY_EXACT, HY_TOO_FINE, HY_TOO_LARGE } hy_exact;

/* decimal * 10^shift as a whole number: HY_TOO_FINE if it isn't one, HY_TOO_LARGE if it exceeds `most`. */
hy_exact hy_decimal_whole(const hy_decimal *decimal, int shift, int64_t most, int64_t *value);

/* decimal * 10^shift, correctly rounded to a double. */
double hy_decimal_double(const hy_decimal *decimal, int shift);

/* A frequency as people write it: 720000, 720k, 1.02M, each with or without Hz, letters of either case but for M. 0, or -1
 * if s[0..n) is no such thing. */
int hy_hz_read(const char *s, size_t n, double *hz);

/* The shortest decimal that reads back as the same double (a subnormal one may get more digits than it needs). Finite and
 * not negative. */
typedef struct hy_number_text {
    char text[40];
} hy_number_text;
hy_number_text hy_double_text(double value);

/* Picoseconds as seconds with 12 decimals. */
hy_number_text hy_ps_text(int64_t ps);

#endif
