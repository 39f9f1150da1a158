#include "plain.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

enum { UNKNOWN_MAX = 16 };

/* A character that has no name, and how often. */
typedef struct unknown {
    uint32_t point; /* or 0x110000 + byte for a byte that is not UTF-8 */
    unsigned line, column;
    size_t count;
} unknown;

typedef struct unknowns {
    unknown list[UNKNOWN_MAX];
    size_t count, others;
} unknowns;

/* Ranges of characters that stand for a piece of plain text. */
static const struct {
    uint32_t first, last;
    const char *as;
} stands_for[] = {
    {'\t', '\t', " "},       {'\n', '\n', "\n"},     {'\v', '\r', " "},
    {0x00a0, 0x00a0, " "},   {0x00ab, 0x00ab, "\""}, {0x00ad, 0x00ad, ""}, /* soft hyphen */
    {0x00b4, 0x00b4, "'"},   {0x00bb, 0x00bb, "\""}, {0x02bc, 0x02bc, "'"},
    {0x0300, 0x036f, ""},                                                  /* combining accents */
    {0x1680, 0x1680, " "},   {0x2000, 0x200a, " "},  {0x200b, 0x200f, ""}, /* of no width */
    {0x2010, 0x2011, "-"},   {0x2014, 0x2015, "--"}, {0x2018, 0x201b, "'"},
    {0x201c, 0x201f, "\""},  {0x2024, 0x2024, "."},  {0x2025, 0x2025, ".."},
    {0x2026, 0x2026, "..."}, {0x2028, 0x2029, "\n"}, {0x202f, 0x202f, " "},
    {0x2032, 0x2032, "'"},   {0x2033, 0x2033, "\""}, {0x2039, 0x203a, "\""},
    {0x2044, 0x2044, "/"},   {0x205f, 0x205f, " "},  {0x2060, 0x2060, ""},
    {0x2212, 0x2212, "-"},   {0x3000, 0x3000, " "},  {0xfe00, 0xfe0f, ""}, /* variation selectors */
    {0xfeff, 0xfeff, ""},
};

static int put(hy_plain *plain, unsigned char byte, size_t at)
{
    if (plain->count + 2 > plain->capacity) {
        size_t capacity = 2 * plain->capacity + 64;
        unsigned char *bytes = realloc(plain->bytes, capacity);
        if (bytes == NULL) {
            return -1;
        }
        plain->bytes = bytes;
        uint32_t *places = realloc(plain->at, capacity * sizeof *places);
        if (places == NULL) {
            return -1;
        }
        plain->at = places;
        plain->capacity = capacity;
    }
    plain->bytes[plain->count] = byte;
    plain->at[plain->count++] = (uint32_t)at;
    plain->bytes[plain->count] = 0;
    plain->at[plain->count] = (uint32_t)plain->size;
    return 0;
}

static int put_all(hy_plain *plain, const char *text, size_t at)
{
    for (; *text != '\0'; text++) {
        if (put(plain, (unsigned char)*text, at) != 0) {
            return -1;
        }
    }
    return 0;
}

static int digit_at(const char *text, size_t size, size_t i)
{
    return i < size && text[i] >= '0' && text[i] <= '9';
}

static const char *standing_for(uint32_t point, const hy_plain *plain, size_t next)
{
    for (size_t i = 0; i < sizeof stands_for / sizeof stands_for[0]; i++) {
        if (point >= stands_for[i].first && point <= stands_for[i].last) {
            return stands_for[i].as;
        }
    }
    if (point == 0x2012 || point == 0x2013) { /* a range between numbers, or a dash */
        int range = plain->count > 0 && digit_at((const char *)plain->bytes, plain->count, plain->count - 1) &&
                    digit_at(plain->text, plain->size, next);
        return range ? "-" : "--";
    }
    return NULL;
}

/* 1 if it was understood, 0 if not, -1 without memory. */
static int character(hy_plain *plain, const hy_spell_tables *tables, uint32_t point, size_t at, size_t next)
{
    if (point >= 0xff01 && point <= 0xff5e) {
        point -= 0xfee0; /* full width */
    }
    if (point >= 0x20 && point < 0x7f) {
        return put(plain, (unsigned char)point, at) == 0 ? 1 : -1;
    }
    const char *as = standing_for(point, plain, next);
    as = as != NULL ? as : hy_spell_base(tables, point);
    if (as != NULL) {
        return put_all(plain, as, at) == 0 ? 1 : -1;
    }
    for (size_t i = 0; i < tables->symbol_count; i++) {
        if (tables->symbols[i].point == point) {
            return put(plain, (unsigned char)(0x80 + i), at) == 0 ? 1 : -1;
        }
    }
    return put(plain, ' ', at) == 0 ? 0 : -1;
}

static void remember(unknowns *all, uint32_t point, unsigned line, unsigned column)
{
    size_t i = 0;
    while (i < all->count && all->list[i].point != point) {
        i++;
    }
    if (i < all->count) {
        all->list[i].count++;
    } else if (i < UNKNOWN_MAX) {
        all->list[all->count++] = (unknown){point, line, column, 1};
    } else {
        all->others++;
    }
}

static void tell(const unknowns *all, hy_note *note, void *user)
{
    char line[160];
    for (size_t i = 0; i < all->count; i++) {
        const unknown *u = &all->list[i];
        char what[48];
        if (u->point >= 0x110000) {
            snprintf(what, sizeof what, "byte 0x%02x is not UTF-8", (unsigned)(u->point - 0x110000));
        } else if (u->point < 0x20 || (u->point >= 0x7f && u->point < 0xa0)) {
            snprintf(what, sizeof what, "control character U+%04X", (unsigned)u->point);
        } else {
            snprintf(what, sizeof what, "character U+%04X has no name here", (unsigned)u->point);
        }
        snprintf(line, sizeof line, "%u:%u: %s; left out %zu time%s", u->line, u->column, what, u->count,
                 u->count == 1 ? "" : "s");
        note(user, line);
    }
    if (all->others > 0) {
        snprintf(line, sizeof line, "%zu more characters of other kinds have no name here; left out", all->others);
        note(user, line);
    }
}

int hy_plain_read(hy_plain *plain, const hy_spell_tables *tables, const char *text, size_t size, hy_note *note,
                  void *user, hy_diag *diag)
{
    *plain = (hy_plain){.text = text, .size = size};
    unknowns all = {.count = 0};
    unsigned line = 1;
    unsigned column = 1;
    if (put(plain, ' ', 0) != 0) { /* so that there always is a byte before */
        return hy_fail(diag, "out of memory");
    }
    for (size_t i = 0; i < size;) {
        uint32_t point;
        size_t length = hy_utf8(text + i, size - i, &point);
        int known = 0;
        if (length == 0) {
            length = 1;
            point = 0x110000 + (unsigned char)text[i];
            known = put(plain, ' ', i) == 0 ? 0 : -1;
        } else {
            known = character(plain, tables, point, i, i + length);
        }
        if (known < 0) {
            return hy_fail(diag, "out of memory");
        }
        if (known == 0) {
            remember(&all, point, line, column);
        }
        column = point == '\n' ? 1 : column + 1;
        line += point == '\n';
        i += length;
    }
    if (note != NULL) {
        tell(&all, note, user);
    }
    return 0;
}

void hy_plain_free(hy_plain *plain)
{
    free(plain->bytes);
    free(plain->at);
}

hy_source_text hy_plain_source(const hy_plain *plain, size_t from, size_t to)
{
    hy_source_text shown = {{0}};
    size_t at = plain->at[from];
    size_t end = plain->at[to];
    size_t used = 0;
    for (int points = 0; at < end; points++) {
        if (points == 30) {
            memcpy(shown.text + used, "...", 4);
            break;
        }
        size_t length;
        if (hy_text_bad(plain->text + at, end - at, &length) != NULL) {
            shown.text[used++] = '?';
        } else {
            memcpy(shown.text + used, plain->text + at, length);
            used += length;
        }
        at += length;
    }
    return shown;
}
