/* The rows of a table. */
#include "waves/table.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "waves/table_private.h"

/* ---- looking ---- */

static size_t line_length(const char *text)
{
    return strcspn(text, "\r\n");
}

/* Levels with one separator between two. */
static int is_row(const char *line, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (strchr(i % 2 == 0 ? "01xzXZ" : ",;\t", line[i]) == NULL) {
            return 0;
        }
    }
    return length % 2 == 1;
}

int hy_table_looks_so(const char *text)
{
    static const char log[] = "time_s,";
    while (*text == '#' || *text == ';' || *text == '\r' || *text == '\n') {
        size_t length = line_length(text);
        if (strstr(text, "libsigrok") != NULL && strstr(text, "libsigrok") < text + length) {
            return 1;
        }
        text += length;
        text += *text != '\0';
    }
    size_t length = line_length(text);
    if (strncmp(text, log, sizeof log - 1) == 0) {
        return 0;
    }
    size_t quote = text[0] == '"';
    if (length > 4 + quote && hy_word_is(text + quote, 4, "time") &&
        (memchr(text, ',', length) != NULL || memchr(text, ';', length) != NULL ||
         memchr(text, '\t', length) != NULL)) {
        return 1;
    }
    const char *next = text + length;
    next += strspn(next, "\r\n");
    return length > 0 && (is_row(text, length) || (*next != '\0' && is_row(next, line_length(next))));
}

/* ---- lines and fields ---- */

int hy_table_line(hy_table *t, int head)
{
    for (;;) {
        if (fgets(t->line, HY_TABLE_LINE_MAX, t->in) == NULL) {
            t->length = 0;
            return ferror(t->in) ? hy_fail(t->diag, "%s: can't be read: %s", t->name, strerror(errno)) : 0;
        }
        t->number++;
        size_t n = strlen(t->line);
        if (n + 1 == HY_TABLE_LINE_MAX) {
            return hy_fail_at(t->diag, t->name, t->number, 1,
                              "a line of more than %d bytes; shorter ones would be right", HY_TABLE_LINE_MAX - 2);
        }
        int ended = n > 0 && t->line[n - 1] == '\n';
        while (n > 0 && (t->line[n - 1] == '\n' || t->line[n - 1] == '\r')) {
            n--;
        }
        if (!ended && !feof(t->in)) {
            return hy_fail_at(t->diag, t->name, t->number, (unsigned)n + 1,
                              "found a NUL byte; a table is plain text");
        }
        size_t mark = t->number == 1 && n >= 3 && memcmp(t->line, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
        if (mark > 0) {
            memmove(t->line, t->line + mark, n - mark);
            n -= mark;
        }
        t->line[n] = '\0';
        t->length = n;
        if (n == 0) {
            continue;
        }
        if (t->line[0] != '#' && (t->line[0] != ';' || (t->separator == ';' && !head))) {
            return 1;
        }
        if (head && hy_table_comment(t, t->line + 1, n - 1) != 0) {
            return -1;
        }
    }
}

int hy_table_field_next(const hy_table *t, size_t *at, hy_table_field *field)
{
    if (*at > t->length) {
        return 0;
    }
    const char *text = t->line + *at;
    size_t left = t->length - *at;
    size_t length = 0;
    int quoted = 0;
    for (; length < left && (quoted || text[length] != t->separator); length++) {
        quoted ^= text[length] == '"';
    }
    field->column = (unsigned)*at + 1;
    *at += length + 1;
    while (length > 0 && (*text == ' ' || *text == '"')) {
        text++;
        length--;
        field->column++;
    }
    while (length > 0 && (text[length - 1] == ' ' || text[length - 1] == '"')) {
        length--;
    }
    field->text = text;
    field->length = length;
    return 1;
}

int hy_table_wrong(const hy_table *t, const hy_table_field *field, const char *expected)
{
    hy_shown shown = hy_show(field->text, field->length);
    return hy_fail_at(t->diag, t->name, t->number, field->column, "found %s; expected %s",
                      field->length == 0 ? "nothing" : shown.text, expected);
}

/* ---- opening ---- */

void *hy_table_open(FILE *in, const char *name, double rate, hy_diag *diag)
{
    hy_table *t = calloc(1, sizeof *t);
    if (t == NULL || (t->line = malloc(HY_TABLE_LINE_MAX)) == NULL) {
        hy_fail(diag, "not enough memory to read %s", name);
        free(t);
        return NULL;
    }
    t->in = in;
    t->name = name;
    t->diag = diag;
    t->rate = rate;
    t->now = -1;
    if (hy_table_line(t, 1) < 0 || hy_table_head(t) != 0) {
        hy_table_close(t);
        return NULL;
    }
    return t;
}

void hy_table_close(void *table)
{
    hy_table *t = table;
    hy_channels_free(&t->channels);
    free(t->names);
    free(t->line);
    free(t);
}

/* ---- rows ---- */

static int come_to_row(hy_table *t, const hy_table_field *field)
{
    int64_t ps = 0;
    if (t->time == HY_TABLE_SAMPLES) {
        double time = (double)t->rows * (1e12 / t->rate);
        if (!(time <= (double)HY_VCD_TIME_MAX)) {
            return hy_table_wrong(t, field, "the end of a table of at most 4000000 seconds (46 days)");
        }
        ps = (int64_t)(time + 0.5);
    } else if (hy_table_row_time(t, field, &ps) != 0) {
        return -1;
    }
    if (t->rows == 0) {
        t->origin = t->time == HY_TABLE_STAMPED ? ps : 0;
    }
    int64_t since = t->rows == 0 ? 0 : ps - t->origin;
    if (t->time == HY_TABLE_COUNTED) {
        since = ps - (int64_t)(1e12 / t->rate + 0.5); /* the first row's is one sample */
        since = since > 0 ? since : 0;
    }
    if (since < t->now) {
        return hy_table_wrong(t, field, "at least the time of the row before");
    }
    if (since > HY_VCD_TIME_MAX) {
        return hy_table_wrong(t, field, "at most 4000000 seconds (46 days) since the first row");
    }
    t->now = since;
    t->rows++;
    return 0;
}

/* Nearly every field is one character. */
static int level_of(const hy_table_field *field, char *level)
{
    static const char known[256] = {['0'] = '0', ['1'] = '1', ['x'] = 'x', ['X'] = 'x', ['z'] = 'z', ['Z'] = 'z'};
    *level = field->length == 1 ? known[(unsigned char)field->text[0]] : '\0';
    return *level != '\0' ? 0 : -1;
}

static int tell_row(hy_table *t, const hy_vcd_listener *listener)
{
    size_t at = 0;
    hy_table_field field;
    unsigned column = 0;
    unsigned channel = 0;
    for (; hy_table_field_next(t, &at, &field); column++) {
        if (column == t->columns) {
            return hy_table_wrong(t, &field, "the end of the row: it has more fields than the heading");
        }
        if (column == 0 && come_to_row(t, &field) != 0) {
            return -1;
        }
        if (column == 0 && t->time != HY_TABLE_SAMPLES) {
            continue;
        }
        char level;
        if (level_of(&field, &level) != 0) {
            return hy_table_wrong(t, &field, "0, 1, x or z");
        }
        if (hy_channels_tell(&t->channels, channel++, t->now, level, listener) != 0) {
            return -1;
        }
    }
    if (column < t->columns) {
        return hy_fail_at(t->diag, t->name, t->number, (unsigned)t->length + 1,
                          "found %u fields; expected %u: cut off?", column, t->columns);
    }
    return 0;
}

int hy_table_run(void *table, const hy_vcd_listener *listener, hy_diag *diag)
{
    hy_table *t = table;
    t->diag = diag;
    int more = t->waiting ? 1 : hy_table_line(t, 0);
    for (; more == 1; more = hy_table_line(t, 0)) {
        if (tell_row(t, listener) != 0) {
            return -1;
        }
    }
    if (more == 0 && t->rows == 0) {
        return hy_fail(diag, "%s: there is no row in it", t->name);
    }
    return more;
}

hy_channels *hy_table_channels(void *table)
{
    hy_table *t = table;
    return &t->channels;
}

int64_t hy_table_last(const void *table)
{
    const hy_table *t = table;
    return t->now;
}

int64_t hy_table_origin(const void *table)
{
    const hy_table *t = table;
    return t->origin;
}

int64_t hy_table_step(const void *table)
{
    const hy_table *t = table;
    return t->step > 0 ? t->step : 1;
}

double hy_table_period(const void *table)
{
    const hy_table *t = table;
    return t->rate > 0.0 ? 1e12 / t->rate : 0.0;
}
