/* Limits: the built-in table and what a file says instead. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "compare.h"
#include "csvrows.h"
#include "number.h"
#include "outfile.h"
#include "text.h"

extern const unsigned char hy_compare_limits_csv[];
extern const size_t hy_compare_limits_csv_size;

static const char *const columns[] = {"quantity", "code", "limit", "unit", "source"};
enum { QUANTITY, CODE, LIMIT, UNIT, SOURCE, COLUMNS };

const char *hy_limit_row_name(int row)
{
    return row == HY_CLOCK_ROW         ? "clock"
           : row == HY_TEMPO_PITCH_ROW ? "tempo_pitch"
                                       : hy_measure_name((hy_measure)row);
}

const char *hy_limit_row_unit(int row)
{
    return row >= HY_MEASURES ? "%" : hy_measure_unit((hy_measure)row);
}

typedef struct reading {
    hy_limits *limits;
    const char *name;
    char seen[HY_LIMIT_ROWS][HYOID_PHONEMES + 1]; /* the last one: all codes */
    char own[HY_LIMIT_ROWS][HYOID_PHONEMES];      /* a row of its own, which * does not touch */
} reading;

static int row_of(const hy_cell *cell, const char *name, hy_diag *diag)
{
    const char *names[HY_LIMIT_ROWS];
    for (int i = 0; i < HY_LIMIT_ROWS; i++) {
        names[i] = hy_limit_row_name(i);
        if (strcmp(names[i], cell->text) == 0) {
            return i;
        }
    }
    size_t length = strlen(cell->text);
    hy_near near = hy_near_names(cell->text, length, names, HY_LIMIT_ROWS);
    return hy_fail_at(diag, name, cell->line, cell->column, "there is no quantity %s; %s%s",
                      hy_show(cell->text, length).text, near.text[0] != '\0' ? "nearest: " : "",
                      near.text[0] != '\0' ? near.text : "hyoid compare --write-limits FILE shows all");
}

/* 0..63, or HYOID_PHONEMES for all. */
static int code_of(const hy_cell *cell, const char *name, hy_diag *diag)
{
    const char *text = cell->text;
    if (strcmp(text, "*") == 0) {
        return HYOID_PHONEMES;
    }
    char *end = NULL;
    long code = text[0] >= '0' && text[0] <= '9' && strlen(text) <= 4
                    ? strtol(text, &end, strncmp(text, "0x", 2) == 0 ? 16 : 10)
                    : -1;
    if (code < 0 || code >= HYOID_PHONEMES || *end != '\0') {
        return hy_fail_at(diag, name, cell->line, cell->column, "code %s; *, 0..63 or 0x00..0x3f would be right",
                          hy_show(text, strlen(text)).text);
    }
    return (int)code;
}

static int value_of(const hy_cell *cell, const char *name, double *value, hy_diag *diag)
{
    size_t length = strlen(cell->text);
    hy_decimal decimal;
    *value = NAN;
    if (length == 0) {
        return 0;
    }
    size_t used = hy_decimal_read(cell->text, length, 1, &decimal);
    *value = used == length ? hy_decimal_double(&decimal, 0) : NAN;
    if (!(*value > 0 && *value < 1e6)) {
        return hy_fail_at(diag, name, cell->line, cell->column,
                          "limit %s; a number above 0, or nothing for no limit, would be right",
                          hy_show(cell->text, length).text);
    }
    return 0;
}

static int take_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    reading *r = user;
    int row = row_of(&cells[QUANTITY], r->name, diag);
    int code = row >= 0 ? code_of(&cells[CODE], r->name, diag) : -1;
    double value;
    if (row < 0 || code < 0 || value_of(&cells[LIMIT], r->name, &value, diag) != 0) {
        return -1;
    }
    if (row >= HY_MEASURES && code != HYOID_PHONEMES) {
        return hy_fail_at(diag, r->name, cells[CODE].line, cells[CODE].column,
                          "code %s; * would be right: %s is of the whole recording",
                          hy_show(cells[CODE].text, strlen(cells[CODE].text)).text, hy_limit_row_name(row));
    }
    if (strcmp(cells[UNIT].text, hy_limit_row_unit(row)) != 0) {
        return hy_fail_at(diag, r->name, cells[UNIT].line, cells[UNIT].column, "unit %s; %s is in %s",
                          hy_show(cells[UNIT].text, strlen(cells[UNIT].text)).text, hy_limit_row_name(row),
                          hy_limit_row_unit(row));
    }
    if (r->seen[row][code]++) {
        return hy_fail_at(diag, r->name, cells[QUANTITY].line, cells[QUANTITY].column,
                          "%s for this code stands there twice", hy_limit_row_name(row));
    }
    const hy_limit limit = {value, cells[SOURCE].text[0] != '\0' ? cells[SOURCE].text : "no source given"};
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        if (c == code || (code == HYOID_PHONEMES && !r->own[row][c])) {
            r->limits->at[row][c] = limit;
            r->own[row][c] = c == code;
        }
    }
    return 0;
}

static int read_table(hy_limits *limits, const char *name, const char *text, size_t size, int which, hy_diag *diag)
{
    reading *r = calloc(1, sizeof *r);
    limits->arena[which] = malloc(size + 1);
    int result = -1;
    if (r == NULL || limits->arena[which] == NULL) {
        hy_fail(diag, "memory is out");
    } else {
        r->limits = limits;
        r->name = name;
        const hy_csv csv = {name, columns, COLUMNS, take_row, r};
        result = hy_csv_read(&csv, text, size, limits->arena[which], diag);
    }
    free(r);
    return result;
}

int hy_limits_read(hy_limits *limits, const char *path, hy_diag *diag)
{
    memset(limits, 0, sizeof *limits);
    for (int row = 0; row < HY_LIMIT_ROWS; row++) {
        for (int c = 0; c < HYOID_PHONEMES; c++) {
            limits->at[row][c] = (hy_limit){NAN, "no limit given"};
        }
    }
    int result = read_table(limits, "built-in limits", (const char *)hy_compare_limits_csv,
                            hy_compare_limits_csv_size, 0, diag);
    if (result == 0 && path != NULL) {
        size_t size = 0;
        char *text = hy_csv_load(path, &size, diag);
        result = text != NULL ? read_table(limits, path, text, size, 1, diag) : -1;
        free(text);
    }
    if (result != 0) {
        hy_limits_free(limits);
    }
    return result;
}

void hy_limits_free(hy_limits *limits)
{
    for (int i = 0; i < 2; i++) {
        free(limits->arena[i]);
        limits->arena[i] = NULL;
    }
}

hy_outfile *hy_limits_file(const char *path, hy_diag *diag)
{
    hy_outfile *out = hy_outfile_open(path, diag);
    if (out == NULL) {
        return NULL;
    }
    fwrite(hy_compare_limits_csv, 1, hy_compare_limits_csv_size, hy_outfile_stream(out));
    if (hy_outfile_finish(out, diag) != 0) {
        hy_outfile_abandon(out);
        return NULL;
    }
    return out;
}
