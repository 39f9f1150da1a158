#include "optvalue.h"

#include <stdio.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "number.h"

/* with a sign, as decibels go both ways */
static int number(const char *text, double low, double high, double *value)
{
    hy_decimal decimal;
    const int negative = text[0] == '-';
    const char *digits = text + (negative || text[0] == '+');
    const size_t n = strlen(digits);
    const size_t used = hy_decimal_read(digits, n, 0, &decimal);
    if (used == 0 || used != n) {
        return -1;
    }
    *value = hy_decimal_double(&decimal, 0) * (negative ? -1.0 : 1.0);
    return *value >= low && *value <= high ? 0 : -1;
}

int hy_value_number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag)
{
    if (number(text, low, high, value) != 0) {
        return hy_fail(diag, "--%s %s: a number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

int hy_value_whole(const char *text, int low, int high, const char *option, int *value, hy_diag *diag)
{
    double read;
    if (number(text, low, high, &read) != 0 || (double)(int)read != read) {
        return hy_fail(diag, "--%s %s: a whole number from %d to %d would be right", option, text, low, high);
    }
    *value = (int)read;
    return 0;
}

int hy_value_bits(const char *text, int *bits, hy_diag *diag)
{
    static const int known[] = {16, 24, 32};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        char name[12];
        snprintf(name, sizeof name, "%d", known[i]);
        if (strcmp(text, name) == 0) {
            *bits = known[i];
            return 0;
        }
    }
    return hy_fail(diag, "--bits %s: 16, 24 or 32 would be right", text);
}

int hy_value_time(const char *text, int64_t low, int64_t high, const char *right, const char *option, int64_t *ps,
                  hy_diag *diag)
{
    static const struct {
        const char *unit;
        int shift;
    } units[] = {{"ps", 0}, {"ns", 3}, {"us", 6}, {"ms", 9}, {"s", 12}};
    hy_decimal decimal;
    size_t used = hy_decimal_read(text, strlen(text), 0, &decimal);
    const char *unit = text + used + strspn(text + used, " ");
    for (size_t i = 0; used > 0 && i < sizeof units / sizeof units[0]; i++) {
        if (strcmp(unit, units[i].unit) == 0 && hy_decimal_whole(&decimal, units[i].shift, high, ps) == HY_EXACT &&
            *ps >= low) {
            return 0;
        }
    }
    return hy_fail(diag, "--%s %s: %s would be right", option, text, right);
}

int hy_value_clock(const char *text, const char *option, double *hz, hy_diag *diag)
{
    if (hy_hz_read(text, strlen(text), hz) != 0 || !(*hz <= HYOID_CLOCK_MAX)) {
        return hy_fail(diag, "--%s %s: a frequency of 0 to 100M would be right, such as 650k or 1.02MHz", option,
                       text);
    }
    return 0;
}

void hy_clock_tell_slow(double hz, FILE *out)
{
    if (hz > 0.0 && hz < 1000.0) {
        fprintf(out, "note: the clock is %.9g Hz at most: is a k missing, as in 720k?\n", hz);
    }
}
