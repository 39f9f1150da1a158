/* The oscillator that a resistor and a capacitor make, and how far boards will lie apart. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "clocks.h"
#include "csvrows.h"
#include "number.h"

/* Made by hyoid_embed (embed.cmake). */
extern const unsigned char hy_board_clock_csv[];
extern const size_t hy_board_clock_csv_size;

static const char table_name[] = "reference/board/clock.csv";

static int constant_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    hy_rc *rc = user;
    hy_decimal decimal;
    size_t length = strlen(cells[1].text);
    if (length == 0 || hy_decimal_read(cells[1].text, length, 0, &decimal) != length) {
        return hy_fail_at(diag, table_name, cells[1].line, cells[1].column, "not a number");
    }
    double value = hy_decimal_double(&decimal, 0);
    if (strcmp(cells[0].text, "rc_constant") == 0) {
        rc->k = value;
        snprintf(rc->k_known, sizeof rc->k_known, "%.15s", cells[3].text);
    } else if (strcmp(cells[0].text, "rc_spread") == 0) {
        rc->k_spread = value / 100;
        snprintf(rc->k_spread_known, sizeof rc->k_spread_known, "%.15s", cells[3].text);
    } else {
        return hy_fail_at(diag, table_name, cells[0].line, 1, "no such constant");
    }
    return 0;
}

int hy_rc_defaults(hy_rc *rc, hy_diag *diag)
{
    static const char *const columns[] = {"name", "value", "unit", "confidence", "source"};
    const hy_csv csv = {.name = table_name, .columns = columns, .column_count = 5, .row = constant_row, .user = rc};
    char *arena = malloc(hy_board_clock_csv_size + 1);
    if (arena == NULL) {
        return hy_fail(diag, "out of memory");
    }
    int status = hy_csv_read(&csv, (const char *)hy_board_clock_csv, hy_board_clock_csv_size, arena, diag);
    free(arena);
    return status;
}

/* The power of ten of a unit's prefix; 99 if it is none. */
static int prefix(char letter)
{
    static const char letters[] = "pnumkM";
    static const int powers[] = {-12, -9, -6, -3, 3, 6};
    const char *at = letter != '\0' ? strchr(letters, letter) : NULL;
    return at != NULL ? powers[at - letters] : 99;
}

/* A component's value: 6800, 6.8k, 6k8, 150p, 1n5, 150pF, with nothing behind. NaN if it is none. */
static double component(const char *text, size_t length, const char *unit)
{
    char plain[64];
    size_t used = 0;
    int power = 0;
    size_t tail = strlen(unit);
    if (length > tail && memcmp(text + length - tail, unit, tail) == 0) {
        length -= tail;
    }
    if (length == 0 || length >= sizeof plain) {
        return NAN;
    }
    for (size_t i = 0; i < length; i++) {
        if (prefix(text[i]) == 99) {
            plain[used++] = text[i];
            continue;
        }
        if (power != 0 || i == 0) {
            return NAN; /* a second one, or nothing ahead of it */
        }
        power = prefix(text[i]);
        if (i + 1 < length) { /* it stands for the point */
            plain[used++] = '.';
        }
    }
    hy_decimal decimal;
    if (used == 0 || hy_decimal_read(plain, used, 0, &decimal) != used) {
        return NAN;
    }
    return hy_decimal_double(&decimal, power);
}

/* 5, 5% or 2.5%: a share below 1. NaN if it is none. */
static double spread(const char *text, size_t length)
{
    if (length > 0 && text[length - 1] == '%') {
        length--;
    }
    hy_decimal decimal;
    if (length == 0 || hy_decimal_read(text, length, 0, &decimal) != length) {
        return NAN;
    }
    double share = hy_decimal_double(&decimal, -2);
    return share < 0.9 ? share : NAN;
}

/* Cuts at commas; more fields than `most` are an error: 0. */
static size_t fields(const char *text, const char **at, size_t *length, size_t most)
{
    size_t count = 0;
    for (;;) {
        size_t n = strcspn(text, ",");
        if (count == most) {
            return 0;
        }
        at[count] = text;
        length[count++] = n;
        if (text[n] == '\0') {
            return count;
        }
        text += n + 1;
    }
}

int hy_rc_read(hy_rc *rc, const char *text, hy_diag *diag)
{
    const char *at[4];
    size_t length[4];
    size_t count = fields(text, at, length, 4);
    rc->ohm = rc->farad = rc->ohm_spread = rc->farad_spread = NAN;
    if (count >= 3) {
        rc->ohm = component(at[0], length[0], "ohm");
        rc->farad = component(at[1], length[1], "F");
        rc->ohm_spread = spread(at[2], length[2]);
        rc->farad_spread = spread(at[count - 1], length[count - 1]);
    }
    int well = rc->ohm >= 1 && rc->ohm <= 1e9 && rc->farad >= 1e-15 && rc->farad <= 1 && rc->ohm_spread >= 0 &&
               rc->farad_spread >= 0;
    if (!well) {
        return hy_fail(diag,
                       "--rc %s: R,C,TOL would be right, such as 11.5k,150p,5%%, or R,C and a tolerance for each: "
                       "11k5,150p,1%%,10%%",
                       text);
    }
    return 0;
}

int hy_rc_read_constant(hy_rc *rc, const char *text, hy_diag *diag)
{
    const char *at[2];
    size_t length[2];
    hy_decimal decimal;
    size_t count = fields(text, at, length, 2);
    double k = 0;
    if (count > 0 && length[0] > 0 && hy_decimal_read(at[0], length[0], 0, &decimal) == length[0]) {
        k = hy_decimal_double(&decimal, 0);
    }
    double share = count == 2 ? spread(at[1], length[1]) : rc->k_spread;
    if (!(k > 0 && k <= 1000) || !(share >= 0)) {
        return hy_fail(diag, "--rc-constant %s: K or K,TOL would be right, such as 1.25 or 1.25,3%%", text);
    }
    rc->k = k;
    snprintf(rc->k_known, sizeof rc->k_known, "given");
    if (count == 2) {
        rc->k_spread = share;
        snprintf(rc->k_spread_known, sizeof rc->k_spread_known, "given");
    }
    return 0;
}

/* Uniform in [-1, 1): SplitMix64 (its increment and multipliers are the published ones). */
static double draw(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return (double)(z >> 11) * 0x1p-52 - 1;
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

int hy_clocks_rc(hy_sweep_clocks *clocks, const hy_rc *rc, hy_diag *diag)
{
    static const struct {
        const char *label;
        double share;
    } marks[] = {{"min", 0}, {"5 %", 0.05}, {"median", 0.5}, {"95 %", 0.95}, {"max", 1}};
    const size_t count = sizeof marks / sizeof marks[0];
    double *hz = malloc((size_t)rc->draws * sizeof *hz);
    clocks->clock = calloc(count, sizeof *clocks->clock);
    if (hz == NULL || clocks->clock == NULL) {
        free(hz);
        return hy_fail(diag, "out of memory");
    }
    clocks->count = count;
    uint64_t state = rc->seed;
    for (int i = 0; i < rc->draws; i++) {
        double k = rc->k * (1 + rc->k_spread * draw(&state));
        double ohm = rc->ohm * (1 + rc->ohm_spread * draw(&state));
        double farad = rc->farad * (1 + rc->farad_spread * draw(&state));
        hz[i] = k / (ohm * farad);
    }
    qsort(hz, (size_t)rc->draws, sizeof *hz, rising);
    for (size_t i = 0; i < count; i++) {
        clocks->clock[i].hz = hz[(size_t)(marks[i].share * (rc->draws - 1) + 0.5)];
        snprintf(clocks->clock[i].label, sizeof clocks->clock[i].label, "%s", marks[i].label);
    }
    double least = hz[0];
    double most = hz[rc->draws - 1];
    free(hz);
    if (!(least >= HY_SWEEP_SLOWEST_HZ) || !(most <= HYOID_CLOCK_MAX)) {
        return hy_fail(diag, "--rc gives clocks of %.4g to %.4g Hz; 1k to 100M would be right", least, most);
    }
    return 0;
}
