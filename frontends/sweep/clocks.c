#include "clocks.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "csvrows.h"
#include "number.h"

void hy_clocks_free(hy_sweep_clocks *clocks)
{
    free(clocks->clock);
    *clocks = (hy_sweep_clocks){NULL, 0};
}

int hy_clocks_range(hy_sweep_clocks *clocks, const char *text, int steps, int linear, hy_diag *diag)
{
    const char *dots = strstr(text, "..");
    double from;
    double to;
    if (dots == NULL || hy_hz_read(text, (size_t)(dots - text), &from) != 0 ||
        hy_hz_read(dots + 2, strlen(dots + 2), &to) != 0 || !(fmin(from, to) >= HY_SWEEP_SLOWEST_HZ) ||
        !(fmax(from, to) <= HYOID_CLOCK_MAX)) {
        return hy_fail(diag, "--clock %s: two frequencies of 1k to 100M would be right, such as 500k..1.1M", text);
    }
    clocks->clock = calloc((size_t)steps, sizeof *clocks->clock);
    if (clocks->clock == NULL) {
        return hy_fail(diag, "out of memory");
    }
    clocks->count = (size_t)steps;
    for (int i = 0; i < steps; i++) {
        double share = steps > 1 ? (double)i / (steps - 1) : 0;
        double hz = linear ? from + share * (to - from) : from * pow(to / from, share);
        clocks->clock[i].hz = i == steps - 1 && steps > 1 ? to : hz;
        snprintf(clocks->clock[i].label, sizeof clocks->clock[i].label, "%d", i + 1);
    }
    return 0;
}

/* ---- a board's table ---- */

typedef struct table {
    hy_sweep_clocks *clocks;
    size_t room;
    const char *name;
} table;

static int code_of(const char *text)
{
    int hex = text[0] == '0' && (text[1] == 'x' || text[1] == 'X');
    const char *digits = text + (hex ? 2 : 0);
    size_t length = strlen(digits);
    if (length < 1 || length > 5 || digits[strspn(digits, hex ? "0123456789abcdefABCDEF" : "0123456789")] != '\0') {
        return -1;
    }
    long code = strtol(digits, NULL, hex ? 16 : 10);
    return code <= 65535 ? (int)code : -1;
}

static int dac_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    table *t = user;
    double hz;
    int code = code_of(cells[0].text);
    if (code < 0) {
        return hy_fail_at(diag, t->name, cells[0].line, cells[0].column,
                          "code \"%.20s\"; it is 0..65535 or 0x0..0xffff", cells[0].text);
    }
    if (hy_hz_read(cells[1].text, strlen(cells[1].text), &hz) != 0 || !(hz <= HYOID_CLOCK_MAX)) {
        return hy_fail_at(diag, t->name, cells[1].line, cells[1].column,
                          "hz \"%.40s\"; it is a frequency of 0 to 100M, such as 650k", cells[1].text);
    }
    if (t->clocks->count == HY_SWEEP_STEPS_MAX) {
        return hy_fail_at(diag, t->name, cells[0].line, 1, "more than %d rows", HY_SWEEP_STEPS_MAX);
    }
    if (t->clocks->count == t->room) {
        t->room = 2 * t->room + 64;
        hy_sweep_clock *more = realloc(t->clocks->clock, t->room * sizeof *more);
        if (more == NULL) {
            return hy_fail(diag, "out of memory");
        }
        t->clocks->clock = more;
    }
    hy_sweep_clock *clock = &t->clocks->clock[t->clocks->count++];
    clock->hz = hz;
    snprintf(clock->label, sizeof clock->label, "%.20s", cells[0].text);
    return 0;
}

int hy_clocks_dac(hy_sweep_clocks *clocks, const char *path, int steps, hy_diag *diag)
{
    static const char *const columns[] = {"code", "hz"};
    size_t size;
    char *text = hy_csv_load(path, &size, diag);
    char *arena = text != NULL ? malloc(size + 1) : NULL;
    table t = {clocks, 0, path};
    const hy_csv csv = {.name = path, .columns = columns, .column_count = 2, .row = dac_row, .user = &t};
    int status = arena != NULL ? hy_csv_read(&csv, text, size, arena, diag) : hy_fail(diag, "out of memory");
    free(arena);
    free(text);
    if (status == 0 && clocks->count == 0) {
        status = hy_fail(diag, "%s: no rows; below `code,hz` a row for each code would be right", path);
    }
    if (status == 0 && steps > 0 && (size_t)steps < clocks->count) {
        for (size_t i = 0; i < (size_t)steps; i++) {
            size_t from = steps > 1 ? (i * (clocks->count - 1) + (size_t)(steps - 1) / 2) / (size_t)(steps - 1) : 0;
            clocks->clock[i] = clocks->clock[from]; /* from >= i */
        }
        clocks->count = (size_t)steps;
    }
    return status;
}
