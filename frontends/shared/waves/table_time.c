/* The times in a table's rows: decimals of any size, below 0 too, as whole picoseconds. */
#include <math.h>
#include <stdlib.h>

#include "number.h"
#include "waves/table_private.h"

#define SECONDS_MAX 4000000 /* 46 days, as everywhere */
#define PS_PER_S INT64_C(1000000000000)

static int64_t power_of_ten(int exponent)
{
    int64_t power = 1;
    for (; exponent > 0; exponent--) {
        power *= 10;
    }
    return power;
}

/* Plain decimals, which nearly all are: "-12.000125". 0: something else. `last`: what the last digit stands for, ps. */
static int plain(const char *s, size_t n, int64_t unit, int64_t *ps, int64_t *last)
{
    size_t i = n > 0 && (s[0] == '-' || s[0] == '+');
    size_t start = i;
    int64_t whole = 0;
    for (; i < n && s[i] >= '0' && s[i] <= '9'; i++) {
        whole = whole * 10 + (s[i] - '0');
        if (whole > SECONDS_MAX * (PS_PER_S / unit)) {
            return 0;
        }
    }
    int64_t fraction = 0;
    int64_t place = unit;
    if (i < n && s[i] == '.') {
        for (i++; i < n && s[i] >= '0' && s[i] <= '9'; i++) {
            if (place == 1) { /* behind the picosecond: to the nearest */
                fraction += s[i] >= '5';
                while (i < n && s[i] >= '0' && s[i] <= '9') {
                    i++;
                }
                break;
            }
            place /= 10;
            fraction += (s[i] - '0') * place;
        }
    }
    *ps = whole * unit + fraction;
    *ps = s[0] == '-' ? -*ps : *ps;
    if (i != n || n == start || (n == start + 1 && s[start] == '.')) {
        return 0;
    }
    *last = place;
    return 1;
}

static int with_exponent(const char *s, size_t n, int exponent, int64_t *ps)
{
    size_t sign = n > 0 && (s[0] == '-' || s[0] == '+');
    hy_decimal decimal;
    if (n == sign || hy_decimal_read(s + sign, n - sign, 1, &decimal) != n - sign) {
        return 0;
    }
    double value = hy_decimal_double(&decimal, exponent + 12);
    if (!(value <= SECONDS_MAX * 1e12)) {
        return 0;
    }
    *ps = s[0] == '-' ? -llround(value) : llround(value);
    return 1;
}

/* A whole number. -1: none, or beyond any table. */
static int64_t whole(const hy_table_field *field)
{
    int64_t count = 0;
    for (size_t i = 0; i < field->length; i++) {
        unsigned digit = (unsigned)(unsigned char)field->text[i] - '0';
        if (digit > 9 || count > INT64_MAX / 100) {
            return -1;
        }
        count = count * 10 + digit;
    }
    return field->length > 0 ? count : -1;
}

/* Samples since the first row. A program that was told the sample rate too late, or never, writes 0 in every row. */
static int counted(hy_table *t, const hy_table_field *field, int64_t *ps)
{
    int64_t count = whole(field);
    if (count < 0) {
        return hy_table_wrong(t, field, "a count of samples, as the sample rate and a time without a unit mean");
    }
    if (t->rows == 0) {
        t->first_count = count;
        t->nothing = count == 0;
    }
    if (t->nothing && count > 0 && t->rows > 1) {
        return hy_table_wrong(t, field, "0, as in the rows before");
    }
    t->nothing = t->nothing && count == 0;
    int64_t unit = t->time == HY_TABLE_COUNTED && t->first_count > 0 ? t->first_count : 1;
    if (count % unit != 0) {
        return hy_table_wrong(t, field, "a whole multiple of the first row's time, which is one sample");
    }
    int64_t samples = t->nothing ? (int64_t)t->rows : (count - t->first_count) / unit;
    double time = (double)samples * (1e12 / t->rate);
    if (!(time <= SECONDS_MAX * 1e12)) {
        return hy_table_wrong(t, field, "a time of at most 4000000 seconds (46 days)");
    }
    *ps = llround(time);
    return 0;
}

/* Whether the first row's time is that of one sample, cut off to whole units: so writes sigrok-cli (41 ns, then 82, at 24 MHz),
 * and multiples of the true period are meant. */
static int is_cut_off(const hy_table *t, const hy_table_field *field)
{
    double period = t->rate > 0.0 ? 1.0 / t->rate : 0.0;
    for (int i = t->exponent; i < 0; i++) {
        period *= 10.0;
    }
    return t->spelled && t->rows == 0 && period >= 1.0 && (double)whole(field) == floor(period + 1e-6);
}

int hy_table_row_time(hy_table *t, const hy_table_field *field, int64_t *ps)
{
    if (t->time == HY_TABLE_STAMPED && is_cut_off(t, field)) {
        t->time = HY_TABLE_COUNTED;
    }
    if (t->time != HY_TABLE_STAMPED) {
        return counted(t, field, ps);
    }
    int64_t last = 1; /* with an exponent: as fine as can be */
    if ((t->exponent >= -12 && plain(field->text, field->length, power_of_ten(12 + t->exponent), ps, &last)) ||
        with_exponent(field->text, field->length, t->exponent, ps)) {
        t->step = t->step == 0 || last < t->step ? last : t->step;
        return 0;
    }
    return hy_table_wrong(t, field, "a time of at most 4000000 seconds (46 days), such as 0.001250");
}
