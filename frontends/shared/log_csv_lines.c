/* The lines of a write log. libcsv splits the fields; this file knows where each of them stood. */
#include "log_csv_private.h"

#include <errno.h>
#include <string.h>

#include "text.h"

const char hy_log_header[] = "time_s,signal,value";

int hy_log_wrong(hy_log_reader *r, unsigned column, const char *found, const char *expected)
{
    return hy_fail_at(r->diag, r->name, r->number, column, "found %s; expected %s", found, expected);
}

int hy_log_wrong_field(hy_log_reader *r, const hy_log_field *f, const char *expected)
{
    return hy_log_wrong(r, f->column, hy_show(f->text, f->length).text, expected);
}

int hy_log_line(hy_log_reader *r)
{
    int c = EOF;
    r->length = 0;
    r->number++;
    errno = 0;
    while (r->length <= HY_LOG_LINE_BYTES && (c = getc(r->in)) != EOF && c != '\n') {
        r->line[r->length++] = (char)c;
    }
    if (c == EOF && ferror(r->in)) {
        return hy_fail(r->diag, "%s: can't be read: %s", r->name, strerror(errno));
    }
    if (c == EOF && r->length == 0) {
        return 0;
    }
    if (c == '\n' && r->length > 0 && r->line[r->length - 1] == '\r') {
        r->length--;
    }
    if (r->number == 1 && r->length >= 3 && memcmp(r->line, "\xef\xbb\xbf", 3) == 0) {
        r->length -= 3;
        memmove(r->line, r->line + 3, r->length);
    }
    unsigned column = 1;
    for (size_t i = 0, length = 0; i < r->length && i < HY_LOG_LINE_BYTES; i += length, column++) {
        size_t left = r->length - i;
        const char *bad = hy_text_bad(r->line + i, left, &length);
        if (bad != NULL && left < 4 && r->length > HY_LOG_LINE_BYTES) {
            break; /* cut in the middle of a character: what's wrong is the length */
        }
        if (bad != NULL) {
            return hy_log_wrong(r, column, bad, "plain UTF-8 text");
        }
    }
    if (r->length > HY_LOG_LINE_BYTES) {
        return hy_log_wrong(r, 1, "a line of more than 1000 bytes", hy_log_header);
    }
    return 1;
}

/* Where each field starts, in code points. Commas within quotes are no separators. */
static void place_fields(hy_log_reader *r)
{
    unsigned index = 0;
    int quoted = 0;
    int started = 0;
    r->extra = 0;
    for (size_t i = 0; i <= r->length; i++) {
        char c = i < r->length ? r->line[i] : ',';
        int separates = (c == ',' && !quoted) || i == r->length;
        if (!started && (separates || (c != ' ' && c != '\t'))) {
            unsigned column = (unsigned)hy_text_columns(r->line, i) + 1;
            started = 1;
            if (index < HY_LOG_FIELDS) {
                r->fields[index].column = column;
            } else if (index == HY_LOG_FIELDS) {
                r->extra = column;
            }
        }
        if (c == '"') {
            quoted = !quoted;
        }
        if (separates) {
            index++;
            started = 0;
        }
    }
}

static void on_field(void *text, size_t length, void *user)
{
    hy_log_reader *r = user;
    if (r->count < HY_LOG_FIELDS && length <= HY_LOG_LINE_BYTES) {
        hy_log_field *f = &r->fields[r->count];
        if (length > 0) {
            memcpy(f->text, text, length);
        }
        f->text[length] = '\0';
        f->length = length;
    }
    r->count++;
}

static void on_row(int end, void *user)
{
    (void)end;
    ((hy_log_reader *)user)->complete = 1;
}

int hy_log_split(hy_log_reader *r)
{
    place_fields(r);
    r->count = 0;
    r->complete = 0;
    size_t used = csv_parse(&r->csv, r->line, r->length, on_field, on_row, r);
    if (used == r->length && csv_parse(&r->csv, "\n", 1, on_field, on_row, r) != 1) {
        used = r->length + 1;
    }
    if (csv_error(&r->csv) == CSV_EPARSE) {
        /* libcsv sees that a quoted field is wrong only after its quote */
        unsigned column =
            (unsigned)hy_text_columns(r->line, used > 0 && used <= r->length ? used - 1 : r->length) + 1;
        return hy_log_wrong(r, column, "a quotation mark within a field",
                            "quotes around the whole field, doubled inside it");
    }
    if (csv_error(&r->csv) != CSV_SUCCESS) {
        return hy_fail(r->diag, "%s: %s", r->name, csv_strerror(csv_error(&r->csv)));
    }
    if (r->complete) {
        return 1;
    }
    size_t blank = 0;
    while (blank < r->length && (r->line[blank] == ' ' || r->line[blank] == '\t')) {
        blank++;
    }
    if (blank == r->length) {
        return 0;
    }
    unsigned open = r->count < HY_LOG_FIELDS ? r->fields[r->count].column : r->extra;
    return hy_log_wrong(r, open, "a quoted field that does not end on its line", "its closing quotation mark");
}
