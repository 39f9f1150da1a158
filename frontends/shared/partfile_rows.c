/* One row of a part's tables: the checks of its fields, and where its number goes. */
#include <float.h>
#include <stdlib.h>
#include <string.h>

#include "number.h"
#include "partfile_private.h"
#include "score.h"
#include "text.h"

static const char *const confidences[] = {"published", "recalled", "derived", "fitted", "measured", "estimate"};
enum { CONFIDENCES = sizeof confidences / sizeof confidences[0] };

static int fail_cell(const hy_load *l, const hy_cell *cell, hy_diag *diag, const char *what, const char *wanted)
{
    return hy_fail_at(diag, l->name, cell->line, cell->column, "%s %s; %s", what,
                      hy_show(cell->text, strlen(cell->text)).text, wanted);
}

/* The three columns that every number ends with, and the place where it is kept. */
static int keep(const hy_load *l, hy_entry *e, const char *number, const char *unit, const hy_cell *value,
                hy_diag *diag)
{
    const hy_cell *in = value + 1;
    const hy_cell *confidence = value + 2;
    const hy_cell *source = value + 3;
    char text[160];
    if (e->line != 0) {
        return hy_fail_at(diag, l->name, value->line, 1, "%s stands on line %u already", number, e->line);
    }
    if (strcmp(in->text, unit) != 0) {
        snprintf(text, sizeof text, "%s is given in \"%s\"", number, unit);
        return fail_cell(l, in, diag, "unit", text);
    }
    size_t i = 0;
    while (i < CONFIDENCES && strcmp(confidence->text, confidences[i]) != 0) {
        i++;
    }
    if (i == CONFIDENCES) {
        return fail_cell(l, confidence, diag, "confidence",
                         "it is published, recalled, derived, fitted, measured or estimate");
    }
    if (source->text[0] == '\0') {
        return hy_fail_at(diag, l->name, source->line, source->column,
                          "no source for %s; say where it comes from, if only that it is a guess", number);
    }
    *e = (hy_entry){{value->text, in->text, confidence->text, source->text}, value->line};
    return 0;
}

/* A decimal number, whatever the locale; no "inf", "nan", hexadecimal or blanks. -1 also if a double can't hold it. */
static int read_number(const char *text, double *value)
{
    int negative = text[0] == '-';
    size_t length = strlen(text + negative);
    hy_decimal decimal;
    if (hy_decimal_read(text + negative, length, 1, &decimal) != length || length == 0) {
        return -1;
    }
    *value = hy_decimal_double(&decimal, 0);
    if (*value > DBL_MAX || (*value < DBL_MIN && decimal.count > 0)) {
        return -1;
    }
    *value =
        negative && *value > 0 ? -*value : *value; /* -0 is 0: two spellings of a number must not make two parts */
    return 0;
}

/* A number within low..high; whole unless `real`. */
static int read_value(const hy_load *l, const hy_cell *cell, const char *number, const hy_constant *range,
                      double *value, hy_diag *diag)
{
    char wanted[160];
    int real = range->kind == HY_KIND_REAL;
    if (range->open) {
        snprintf(wanted, sizeof wanted, "%s is a number above %.9g and below %.9g", number, range->low, range->high);
    } else {
        snprintf(wanted, sizeof wanted, "%s is a %snumber %.10g..%.10g", number, real ? "" : "whole ", range->low,
                 range->high);
    }
    int whole = cell->text[strspn(cell->text, "-0123456789")] == '\0';
    if ((!real && !whole) || read_number(cell->text, value) != 0) {
        return fail_cell(l, cell, diag, "value", wanted);
    }
    int inside =
        range->open ? *value > range->low && *value < range->high : *value >= range->low && *value <= range->high;
    return inside ? 0 : fail_cell(l, cell, diag, "value", wanted);
}

static void store_constant(hyoid_part *part, const hy_constant *c, unsigned index, double value)
{
    char *at = (char *)part + c->offset;
    if (c->kind == HY_KIND_COUNT) {
        uint32_t count = (uint32_t)value;
        memcpy(at + index * sizeof count, &count, sizeof count);
    } else if (c->kind == HY_KIND_STEP) {
        int16_t step = (int16_t)value;
        memcpy(at + index * sizeof step, &step, sizeof step);
    } else {
        memcpy(at, &value, sizeof value);
    }
}

static int unknown_constant(const hy_load *l, const hy_cell *name, size_t constant, hy_diag *diag)
{
    char text[160];
    if (constant < HY_CONSTANTS && hy_constants[constant].count > 0) {
        const char *array = hy_constants[constant].name;
        snprintf(text, sizeof text, "%s has entries %s[0]..%s[%u]", array, array, array,
                 hy_constants[constant].count - 1);
        return fail_cell(l, name, diag, "no constant", text);
    }
    const char *names[HY_CONSTANTS];
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        names[i] = hy_constants[i].name;
    }
    hy_near near = hy_near_names(name->text, strlen(name->text), names, HY_CONSTANTS);
    int found = near.text[0] != '\0';
    snprintf(text, sizeof text, "%s%s%s", found ? "did you mean " : "`hyoid part show` lists their names", near.text,
             found ? "?" : "");
    return fail_cell(l, name, diag, "no constant", text);
}

int hy_constant_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    const hy_load *l = user;
    size_t constant = HY_CONSTANTS;
    int slot = hy_constant_find(cells[0].text, &constant);
    if (slot < 0) {
        return unknown_constant(l, &cells[0], constant, diag);
    }
    const hy_constant *c = &hy_constants[constant];
    double value = 0.0;
    if (read_value(l, &cells[1], cells[0].text, c, &value, diag) != 0 ||
        keep(l, &l->file->constants[slot], cells[0].text, c->unit, &cells[1], diag) != 0) {
        return -1;
    }
    store_constant(&l->file->part, c, (unsigned)slot - hy_constant_slot(constant), value);
    return 0;
}

/* 0..63, decimal or 0x with hexadecimal digits; -1 otherwise. */
static int read_code(const char *text)
{
    int hex = text[0] == '0' && text[1] == 'x';
    const char *digits = text + (hex ? 2 : 0);
    size_t length = strlen(digits);
    if (length < 1 || length > 2 || digits[strspn(digits, hex ? "0123456789abcdefABCDEF" : "0123456789")] != '\0') {
        return -1;
    }
    long code = strtol(digits, NULL, hex ? 16 : 10);
    return code < HYOID_PHONEMES ? (int)code : -1;
}

/* Milliseconds at the nominal clock become filter cycles here, by + - * / alone, so that every machine agrees. */
static int store_duration(const hy_load *l, unsigned code, const hy_cell *cell, double ms, hy_diag *diag)
{
    hyoid_part *part = &l->file->part;
    double cycles = ms * part->nominal_hz / part->filter_clocks / 1000 + 0.5;
    if (!(cycles >= 1 && cycles < 65536)) {
        double shortest = 500.0 * part->filter_clocks / part->nominal_hz;
        char text[120];
        snprintf(text, sizeof text, "at this nominal clock a duration is %.4g..%.6g ms", shortest,
                 shortest * 2 * 65535);
        return fail_cell(l, cell, diag, "value", text);
    }
    part->phoneme[code].duration = (uint16_t)cycles;
    return 0;
}

int hy_phoneme_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    const hy_load *l = user;
    int code = read_code(cells[0].text);
    if (code < 0) {
        return fail_cell(l, &cells[0], diag, "code", "a phoneme code is 0x00..0x3f");
    }
    if (strcmp(cells[1].text, hy_symbols[code].symbol) != 0) {
        char text[80];
        snprintf(text, sizeof text, "code 0x%02x is %s in the chart", (unsigned)code, hy_symbols[code].symbol);
        return fail_cell(l, &cells[1], diag, "symbol", text);
    }
    int quantity = hy_quantity_find(cells[2].text);
    if (quantity < 0) {
        return fail_cell(l, &cells[2], diag, "quantity",
                         "it is f1, f2, f3, bw2, va, fa, fc, vd, cld, closure, pause or duration");
    }
    const hy_quantity *q = &hy_quantities[quantity];
    char number[40];
    snprintf(number, sizeof number, "%s of 0x%02x", q->name, (unsigned)code);
    hy_constant range = {.kind = HY_KIND_COUNT, .low = 0, .high = q->most};
    if (quantity == HY_DURATION) {
        range = (hy_constant){.kind = HY_KIND_REAL, .low = 0, .high = 1e9, .open = 1};
    }
    double value = 0.0;
    if (read_value(l, &cells[3], number, &range, &value, diag) != 0 ||
        keep(l, &l->file->phonemes[code][quantity], number, q->unit, &cells[3], diag) != 0) {
        return -1;
    }
    if (quantity == HY_DURATION) {
        return store_duration(l, (unsigned)code, &cells[3], value, diag);
    }
    *((uint8_t *)&l->file->part.phoneme[code] + q->offset) = (uint8_t)value;
    return 0;
}
