#include "optvalue.h"

#include <string.h>

#include <hyoid/hyoid.h>

#include "number.h"

int hy_value_number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag)
{
    hy_decimal decimal;
    size_t n = strlen(text);
    size_t used = hy_decimal_read(text, n, 0, &decimal);
    *value = used > 0 ? hy_decimal_double(&decimal, 0) : -1.0;
    if (used == 0 || used != n || !(*value >= low && *value <= high)) {
        return hy_fail(diag, "--%s %s: a number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

int hy_value_whole(const char *text, double low, double high, const char *option, int *value, hy_diag *diag)
{
    double read;
    if (hy_value_number(text, low, high, option, &read, diag) != 0) {
        return -1;
    }
    *value = (int)read;
    if ((double)*value != read) {
        return hy_fail(diag, "--%s %s: a whole number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

int hy_value_clock(const char *text, const char *option, double *hz, hy_diag *diag)
{
    if (hy_hz_read(text, strlen(text), hz) != 0 || !(*hz <= HYOID_CLOCK_MAX)) {
        return hy_fail(diag, "--%s %s: a frequency of 0 to 100M would be right, such as 650k or 1.02MHz", option,
                       text);
    }
    return 0;
}
