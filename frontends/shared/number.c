#include "number.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Takes a digit at the end; zeros wait in the exponent until a digit follows them. */
static int take(hy_decimal *d, char c)
{
    if (c == '0') {
        d->exponent += d->count > 0;
        return 1;
    }
    for (; d->count > 0 && d->exponent > 0; d->exponent--) {
        if (d->count == HY_DIGITS) {
            return 0;
        }
        d->digits[d->count++] = '0';
    }
    if (d->count == HY_DIGITS) {
        return 0;
    }
    d->digits[d->count++] = c;
    return 1;
}

static size_t read_exponent(const char *s, size_t n, long *exponent)
{
    size_t i = 1;
    int negative = 0;
    if (i < n && (s[i] == '-' || s[i] == '+')) {
        negative = s[i++] == '-';
    }
    if (i >= n || !is_digit(s[i])) {
        return 0;
    }
    long value = 0;
    for (; i < n && is_digit(s[i]); i++) {
        value = value < 100000 ? value * 10 + (s[i] - '0') : value; /* far outside any double already */
    }
    *exponent = negative ? -value : value;
    return i;
}

size_t hy_decimal_read(const char *s, size_t n, int scientific, hy_decimal *d)
{
    memset(d, 0, sizeof *d);
    size_t i = 0;
    for (; i < n && is_digit(s[i]); i++) {
        if (!take(d, s[i])) {
            return 0;
        }
    }
    if (i == 0) {
        return 0;
    }
    long decimals = 0;
    if (i + 1 < n && s[i] == '.' && is_digit(s[i + 1])) {
        for (i++; i < n && is_digit(s[i]); i++, decimals++) {
            if (!take(d, s[i])) {
                return 0;
            }
        }
    }
    long exponent = 0;
    if (scientific && i < n && (s[i] == 'e' || s[i] == 'E')) {
        i += read_exponent(s + i, n - i, &exponent);
    }
    d->exponent = d->count > 0 ? d->exponent - decimals + exponent : 0;
    return i;
}

hy_exact hy_decimal_whole(const hy_decimal *d, int shift, int64_t most, int64_t *value)
{
    long exponent = d->exponent + shift;
    int64_t whole = 0;
    if (d->count > 0 && exponent < 0) {
        return HY_TOO_FINE; /* the last digit is not 0, so something stands behind the point */
    }
    for (size_t i = 0; i < d->count; i++) {
        int digit = d->digits[i] - '0';
        if (whole > (most - digit) / 10) {
            return HY_TOO_LARGE;
        }
        whole = whole * 10 + digit;
    }
    for (long i = 0; d->count > 0 && i < exponent; i++) {
        if (whole > most / 10) {
            return HY_TOO_LARGE;
        }
        whole *= 10;
    }
    *value = whole;
    return whole > most ? HY_TOO_LARGE : HY_EXACT;
}

double hy_decimal_double(const hy_decimal *d, int shift)
{
    if (d->count == 0) {
        return 0.0;
    }
    /* A whole number with an exponent has no radix character, the one thing about strtod that a locale moves; and strtod
     * rounds correctly in glibc, musl and the current Windows and Apple libraries. */
    char text[HY_DIGITS + 24];
    snprintf(text, sizeof text, "%.*se%ld", (int)d->count, d->digits, d->exponent + shift);
    return strtod(text, NULL);
}

/* %e prints the locale's radix character; only the digits around it are looked at. */
static int digits_of(double value, int precision, char *digits)
{
    char text[48];
    snprintf(text, sizeof text, "%.*e", precision - 1, value);
    char *e = strchr(text, 'e');
    int count = 0;
    for (char *c = text; c < e; c++) {
        if (is_digit(*c)) {
            digits[count++] = *c;
        }
    }
    while (count > 1 && digits[count - 1] == '0') {
        count--;
    }
    digits[count] = '\0';
    return (int)strtol(e + 1, NULL, 10);
}

hy_number_text hy_double_text(double value)
{
    hy_number_text out;
    char digits[24];
    int exponent = 0;
    for (int precision = 15; precision <= 17; precision++) {
        exponent = digits_of(value, precision, digits);
        char again[40];
        snprintf(again, sizeof again, "%se%d", digits, exponent - (int)strlen(digits) + 1);
        double back = strtod(again, NULL);
        if (memcmp(&back, &value, sizeof value) == 0) {
            break;
        }
    }
    int count = (int)strlen(digits);
    size_t at = 0;
    if (exponent < -5 || exponent > 20) {
        snprintf(out.text, sizeof out.text, "%c%s%.18se%d", digits[0], count > 1 ? "." : "", digits + 1, exponent);
        return out;
    }
    /* place 0 is the first significant digit; the units stand at place `exponent` */
    for (int place = exponent < 0 ? exponent : 0; place < count || place <= exponent; place++) {
        out.text[at++] = place >= 0 && place < count ? digits[place] : '0';
        if (place == exponent && place + 1 < count) {
            out.text[at++] = '.';
        }
    }
    out.text[at] = '\0';
    return out;
}

hy_number_text hy_ps_text(int64_t ps)
{
    hy_number_text out;
    int64_t second = INT64_C(1000000000000);
    snprintf(out.text, sizeof out.text, "%lld.%012lld", (long long)(ps / second), (long long)(ps % second));
    return out;
}

int hy_hz_read(const char *s, size_t n, double *hz)
{
    hy_decimal number;
    size_t used = hy_decimal_read(s, n, 0, &number);
    if (used == 0) {
        return -1;
    }
    int shift = 0;
    if (used < n && (s[used] == 'k' || s[used] == 'K' || s[used] == 'M')) { /* m could be a thousandth */
        shift = s[used++] == 'M' ? 6 : 3;
    }
    if (n - used == 2 && (s[used] == 'H' || s[used] == 'h') && (s[used + 1] == 'z' || s[used + 1] == 'Z')) {
        used += 2;
    }
    *hz = hy_decimal_double(&number, shift);
    return used == n ? 0 : -1;
}
