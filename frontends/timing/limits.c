/* Limits as a file: in place of the part's, or written out for editing. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "csvrows.h"
#include "number.h"
#include "outfile.h"
#include "rows.h"
#include "text.h"

static const char *const columns[] = {"row", "min", "typ", "max", "unit", "source"};
enum { ROW, MIN, TYP, MAX, UNIT, SOURCE, COLUMNS };

typedef struct reading {
    hy_row *rows;
    const char *path;
    char seen[HY_ROWS];
} reading;

static int number(const hy_cell *cell, const char *path, double *value, hy_diag *diag)
{
    const char *text = cell->text;
    size_t negative = text[0] == '-';
    size_t length = strlen(text);
    *value = NAN;
    if (length == 0) {
        return 0;
    }
    hy_decimal decimal;
    size_t left = length - negative;
    if (left == 0 || hy_decimal_read(text + negative, left, 1, &decimal) != left) {
        return hy_fail_at(diag, path, cell->line, cell->column,
                          "found %s; expected a number, or nothing for no limit", hy_show(text, length).text);
    }
    *value = hy_decimal_double(&decimal, 0);
    *value = negative ? -*value : *value;
    return isfinite(*value) ? 0 : hy_fail_at(diag, path, cell->line, cell->column, "a number that is too large");
}

static int unknown_row(const hy_cell *cell, const reading *r, hy_diag *diag)
{
    const char *names[HY_ROWS];
    for (int i = 0; i < HY_ROWS; i++) {
        names[i] = r->rows[i].key;
    }
    hy_near near = hy_near_names(cell->text, strlen(cell->text), names, HY_ROWS);
    return hy_fail_at(diag, r->path, cell->line, cell->column, "there is no row %s; %s%s",
                      hy_show(cell->text, strlen(cell->text)).text, near.text[0] != '\0' ? "nearest: " : "",
                      near.text[0] != '\0' ? near.text : "hyoid timing --write-limits FILE shows all");
}

/* A long one is cut, and shows it. */
static void take_source(hy_row *row, const char *text)
{
    static const char more[] = "...";
    const size_t length = strlen(text);
    const int cut = length >= sizeof row->source;
    const size_t fits = hy_text_fit(text, length, sizeof row->source - (cut ? sizeof more : 1));
    snprintf(row->source, sizeof row->source, "%.*s%s", (int)fits, text, cut ? more : "");
}

static int take_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    reading *r = user;
    int at = 0;
    while (at < HY_ROWS && strcmp(r->rows[at].key, cells[ROW].text) != 0) {
        at++;
    }
    if (at == HY_ROWS) {
        return unknown_row(&cells[ROW], r, diag);
    }
    hy_row *row = &r->rows[at];
    if (r->seen[at]++) {
        return hy_fail_at(diag, r->path, cells[ROW].line, cells[ROW].column, "the row %s stands there twice",
                          row->key);
    }
    if (strcmp(cells[UNIT].text, row->unit) != 0) {
        return hy_fail_at(diag, r->path, cells[UNIT].line, cells[UNIT].column, "found %s; the unit of %s is %s",
                          hy_show(cells[UNIT].text, strlen(cells[UNIT].text)).text, row->key, row->unit);
    }
    if (number(&cells[MIN], r->path, &row->min, diag) != 0 || number(&cells[TYP], r->path, &row->typ, diag) != 0 ||
        number(&cells[MAX], r->path, &row->max, diag) != 0) {
        return -1;
    }
    if (row->min > row->max || row->typ < row->min || row->typ > row->max) {
        return hy_fail_at(diag, r->path, cells[MIN].line, cells[MIN].column,
                          "min <= typ <= max would be right for %s", row->key);
    }
    take_source(row, cells[SOURCE].text[0] != '\0' ? cells[SOURCE].text : r->path);
    return 0;
}

int hy_rows_limits(hy_row *rows, const char *path, hy_diag *diag)
{
    size_t size = 0;
    char *text = hy_csv_load(path, &size, diag);
    char *arena = text != NULL ? malloc(size + 1) : NULL;
    int result = -1;
    if (arena != NULL) {
        reading r = {.rows = rows, .path = path};
        const hy_csv csv = {path, columns, COLUMNS, take_row, &r};
        result = hy_csv_read(&csv, text, size, arena, diag);
    } else if (text != NULL) {
        hy_fail(diag, "%s: out of memory", path);
    }
    free(arena);
    free(text);
    return result;
}

/* ---- writing ---- */

static void put_number(FILE *out, double value)
{
    if (!isnan(value)) {
        fprintf(out, "%s%s", value < 0.0 ? "-" : "", hy_double_text(fabs(value)).text);
    }
    fputc(',', out);
}

static void put_quoted(FILE *out, const char *text)
{
    fputc('"', out);
    for (; *text != '\0'; text++) {
        if (*text == '"') {
            fputc('"', out);
        }
        fputc(*text, out);
    }
    fputs("\"\n", out);
}

hy_outfile *hy_rows_file(const hy_row *rows, const char *path, hy_diag *diag)
{
    hy_outfile *file = hy_outfile_open(path, diag);
    if (file == NULL) {
        return NULL;
    }
    FILE *out = hy_outfile_stream(file);
    fputs("row,min,typ,max,unit,source\n", out);
    for (int i = 0; i < HY_ROWS; i++) {
        fprintf(out, "%s,", rows[i].key);
        put_number(out, rows[i].min);
        put_number(out, rows[i].typ);
        put_number(out, rows[i].max);
        fprintf(out, "%s,", rows[i].unit);
        put_quoted(out, rows[i].source);
    }
    if (hy_outfile_finish(file, diag) != 0) {
        hy_outfile_abandon(file);
        return NULL;
    }
    return file;
}
