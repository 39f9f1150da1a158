#include "csvrows.h"

#include <csv.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "text.h"

/* libcsv reports fields but not where they stood. It is fed byte by byte, so that a field or row that it reports is known to
 * end at the present byte. */
typedef struct reader {
    const hy_csv *csv;
    hy_diag *diag;
    char *arena;
    size_t used;
    hy_cell cells[HY_CSV_COLUMNS_MAX];
    size_t count;
    unsigned line, column;             /* of the present byte */
    unsigned field_line, field_column; /* where the field that is being read starts; line 0: not yet */
    unsigned rows;
    int failed;
} reader;

static const char not_closed[] = "the quoted field that starts here is not closed on its line";

static int continues(unsigned char byte)
{
    return (byte & 0xc0) == 0x80;
}

static void advance(reader *r, const char *text, size_t left)
{
    if (text[0] == '\n' || (text[0] == '\r' && (left < 2 || text[1] != '\n'))) {
        r->line++;
        r->column = 1;
    } else if (!continues((unsigned char)text[0])) {
        r->column++;
    }
}

static int check_characters(const char *name, const char *text, size_t size, hy_diag *diag)
{
    reader r = {.line = 1, .column = 1};
    size_t length = 1;
    for (size_t i = 0; i < size; i += length) {
        const char *bad = hy_text_bad(text + i, size - i, &length);
        if (bad != NULL && text[i] != '\n' && text[i] != '\r') {
            return hy_fail_at(diag, name, r.line, r.column, "%s (0x%02x)", bad, (unsigned char)text[i]);
        }
        advance(&r, text + i, size - i);
    }
    return 0;
}

static void fail(reader *r)
{
    r->failed = 1;
}

static const char *header_text(const hy_csv *csv, char *buffer, size_t size)
{
    size_t used = 0;
    buffer[0] = '\0';
    for (size_t i = 0; i < csv->column_count && used < size; i++) {
        int more = snprintf(buffer + used, size - used, "%s%s", i > 0 ? "," : "", csv->columns[i]);
        used += more > 0 ? (size_t)more : 0;
    }
    return buffer;
}

static void on_field(void *text, size_t size, void *user)
{
    reader *r = user;
    if (r->failed) {
        return;
    }
    unsigned line = r->field_line != 0 ? r->field_line : r->line;
    unsigned column = r->field_line != 0 ? r->field_column : r->column;
    r->field_line = 0;
    if (r->count == r->csv->column_count) {
        char header[200];
        hy_fail_at(r->diag, r->csv->name, line, column, "one field too many; a row has %zu: %s", r->csv->column_count,
                   header_text(r->csv, header, sizeof header));
        fail(r);
        return;
    }
    if (size > HY_CSV_FIELD_MAX) {
        hy_fail_at(r->diag, r->csv->name, line, column, "a field of %zu bytes; at most %d are read", size,
                   HY_CSV_FIELD_MAX);
        fail(r);
        return;
    }
    char *copy = r->arena + r->used;
    if (size > 0) {
        memcpy(copy, text, size);
    }
    copy[size] = '\0';
    r->used += size + 1;
    if (strpbrk(copy, "\r\n") != NULL) {
        hy_fail_at(r->diag, r->csv->name, line, column, "%s", not_closed);
        fail(r);
        return;
    }
    r->cells[r->count++] = (hy_cell){.text = copy, .line = line, .column = column};
}

static int check_header(reader *r)
{
    for (size_t i = 0; i < r->csv->column_count; i++) {
        const hy_cell *cell = &r->cells[i];
        if (strcmp(cell->text, r->csv->columns[i]) != 0) {
            char header[200];
            return hy_fail_at(r->diag, r->csv->name, cell->line, cell->column,
                              "column %s where \"%s\" belongs; the header is %s",
                              hy_show(cell->text, strlen(cell->text)).text, r->csv->columns[i],
                              header_text(r->csv, header, sizeof header));
        }
    }
    return 0;
}

static void on_row(int terminator, void *user)
{
    (void)terminator;
    reader *r = user;
    if (r->failed) {
        return;
    }
    if (r->count < r->csv->column_count) {
        hy_fail_at(r->diag, r->csv->name, r->line, r->column, "%zu field%s of %zu; \"%s\" is missing", r->count,
                   r->count == 1 ? "" : "s", r->csv->column_count, r->csv->columns[r->count]);
        fail(r);
        return;
    }
    int status = r->rows == 0 ? check_header(r) : r->csv->row(r->csv->user, r->cells, r->diag);
    r->rows++;
    r->count = 0;
    if (status != 0) {
        fail(r);
    }
}

static int is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == ',';
}

static void feed(reader *r, struct csv_parser *parser, const char *text, size_t size)
{
    for (size_t i = 0; i < size && !r->failed; i++) {
        if (r->field_line == 0 && !is_blank(text[i])) {
            r->field_line = r->line;
            r->field_column = r->column;
        }
        if (csv_parse(parser, text + i, 1, on_field, on_row, r) != 1 && !r->failed) {
            if (csv_error(parser) == CSV_EPARSE && r->field_line != 0 && r->field_line != r->line) {
                hy_fail_at(r->diag, r->csv->name, r->field_line, r->field_column, "%s", not_closed);
            } else if (csv_error(parser) == CSV_EPARSE) {
                hy_fail_at(r->diag, r->csv->name, r->line, r->column,
                           "a quotation mark within a field; quote the whole field and double the mark");
            } else {
                hy_fail(r->diag, "%s: %s", r->csv->name, csv_strerror(csv_error(parser)));
            }
            fail(r);
        }
        advance(r, text + i, size - i);
    }
    if (!r->failed && csv_fini(parser, on_field, on_row, r) != 0 && !r->failed) {
        hy_fail_at(r->diag, r->csv->name, r->field_line != 0 ? r->field_line : r->line,
                   r->field_line != 0 ? r->field_column : r->column, "%s", not_closed);
        fail(r);
    }
}

int hy_csv_read(const hy_csv *csv, const char *text, size_t size, char *arena, hy_diag *diag)
{
    if (size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) {
        text += 3; /* spreadsheets write a byte order mark */
        size -= 3;
    }
    if (check_characters(csv->name, text, size, diag) != 0) {
        return -1;
    }
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0) {
        return hy_fail(diag, "%s: the CSV reader can't start", csv->name);
    }
    reader r = {.csv = csv, .diag = diag, .arena = arena, .line = 1, .column = 1};
    feed(&r, &parser, text, size);
    csv_free(&parser);
    if (!r.failed && r.rows == 0) {
        char header[200];
        hy_fail_at(diag, csv->name, 1, 1, "empty; the first line is %s", header_text(csv, header, sizeof header));
        r.failed = 1;
    }
    return r.failed ? -1 : 0;
}

static int read_all(int descriptor, char *text, size_t limit, size_t *size)
{
    *size = 0;
    while (*size < limit) {
        ssize_t more = read(descriptor, text + *size, limit - *size);
        if (more < 0 && errno == EINTR) {
            continue;
        }
        if (more < 0) {
            return -1;
        }
        if (more == 0) {
            break;
        }
        *size += (size_t)more;
    }
    return 0;
}

char *hy_csv_load(const char *path, size_t *size, hy_diag *diag)
{
    int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC); /* a pipe by that name must not hang us */
    struct stat status;
    if (descriptor < 0 || fstat(descriptor, &status) != 0) {
        hy_fail(diag, "%s: %s", path, strerror(errno));
        if (descriptor >= 0) {
            close(descriptor);
        }
        return NULL;
    }
    char *text = NULL;
    if (!S_ISREG(status.st_mode)) {
        hy_fail(diag, "%s: not a regular file", path);
    } else if ((text = malloc(HY_CSV_FILE_MAX + 1)) == NULL) {
        hy_fail(diag, "%s: out of memory", path);
    } else if (read_all(descriptor, text, HY_CSV_FILE_MAX + 1, size) != 0) {
        hy_fail(diag, "%s: %s", path, strerror(errno));
        free(text);
        text = NULL;
    } else if (*size > HY_CSV_FILE_MAX) {
        hy_fail(diag, "%s: larger than %d MiB; that is no part", path, HY_CSV_FILE_MAX >> 20);
        free(text);
        text = NULL;
    }
    close(descriptor);
    return text;
}
