#include "labels.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "outfile.h"
#include "score.h"

/* What is kept until the counts are known: one record each, a mark's name behind it. */
enum { LATCH, REQUEST, MARK };
typedef struct record {
    int64_t ps;
    int32_t kind;
    int32_t number; /* code, level, or length of the name */
} record;

struct hy_labels {
    hy_outfile *file;
    FILE *kept;
    int error; /* errno of the first failure to keep something */
};

hy_labels *hy_labels_open(const char *path, hy_diag *diag)
{
    hy_labels *labels = calloc(1, sizeof *labels);
    if (labels == NULL) {
        hy_fail(diag, "cannot write %s: out of memory", path);
        return NULL;
    }
    labels->file = hy_outfile_open(path, diag);
    if (labels->file != NULL) {
        labels->kept = tmpfile();
        if (labels->kept == NULL) {
            hy_fail(diag, "cannot write %s: no temporary file: %s", path, strerror(errno));
        }
    }
    if (labels->kept == NULL) {
        hy_labels_abandon(labels);
        return NULL;
    }
    return labels;
}

static void keep(hy_labels *labels, record item, const char *name)
{
    errno = 0;
    if (fwrite(&item, sizeof item, 1, labels->kept) != 1 ||
        (name != NULL && fwrite(name, 1, (size_t)item.number, labels->kept) != (size_t)item.number)) {
        labels->error = labels->error != 0 ? labels->error : (errno != 0 ? errno : EIO);
    }
}

void hy_labels_latch(hy_labels *labels, int64_t ps, unsigned code)
{
    keep(labels, (record){ps, LATCH, (int32_t)(code & 63)}, NULL);
}

void hy_labels_request(hy_labels *labels, int64_t ps, int level)
{
    keep(labels, (record){ps, REQUEST, level != 0}, NULL);
}

void hy_labels_mark(hy_labels *labels, int64_t ps, const char *name)
{
    size_t length = strlen(name);
    keep(labels, (record){ps, MARK, (int32_t)(length < 4096 ? length : 4096)}, name);
}

/* Reads the next record of a kind; name has room for 4097. 1, or 0 at the end. */
static int next_kept(hy_labels *labels, int kind, record *item, char *name)
{
    while (fread(item, sizeof *item, 1, labels->kept) == 1) {
        size_t length = item->kind == MARK ? (size_t)item->number : 0;
        if (length > 4096 || fread(name, 1, length, labels->kept) != length) {
            return 0;
        }
        name[length] = '\0';
        if (item->kind == kind) {
            return 1;
        }
    }
    return 0;
}

static void put_time(FILE *out, int64_t ps)
{
    fprintf(out, "%" PRId64 ".%012" PRId64, ps / HYOID_PS_PER_S, ps % HYOID_PS_PER_S);
}

/* Quotes are doubled; a control character would break the line. */
static void put_text(FILE *out, const char *text)
{
    putc('"', out);
    for (const char *c = text; *c != '\0'; c++) {
        if (*c == '"') {
            putc('"', out);
        }
        putc((unsigned char)*c < 0x20 || *c == 0x7f ? ' ' : *c, out);
    }
    putc('"', out);
}

static void put_head(FILE *out, int number, const char *class, const char *name, int64_t end)
{
    fprintf(out, "    item [%d]:\n        class = \"%s\"\n        name = \"%s\"\n        xmin = 0\n        xmax = ",
            number, class, name);
    put_time(out, end);
    putc('\n', out);
}

static void put_interval(FILE *out, uint64_t number, int64_t from, int64_t to, const char *text)
{
    fprintf(out, "        intervals [%" PRIu64 "]:\n            xmin = ", number);
    put_time(out, from);
    fprintf(out, "\n            xmax = ");
    put_time(out, to);
    fprintf(out, "\n            text = ");
    put_text(out, text);
    putc('\n', out);
}

/* What an interval tier calls a record's number; -1 stands before the first record. */
typedef const char *namer(int number, char buffer[8]);

static const char *phoneme_text(int number, char buffer[8])
{
    (void)buffer;
    return number < 0 ? "" : hy_symbols[number].symbol;
}

static const char *code_text(int number, char buffer[8])
{
    if (number < 0) {
        return "";
    }
    snprintf(buffer, 8, "0x%02x", (unsigned)number & 63);
    return buffer;
}

static const char *request_text(int number, char buffer[8])
{
    (void)buffer;
    return number == 0 ? "low" : "high";
}

/* Walks a tier that tiles 0..end: intervals of no length are left out, and so are changes that change nothing if `merge`.
 * Returns the number of intervals; writes them if `out` is not null. */
static uint64_t walk(hy_labels *labels, FILE *out, int64_t end, int kind, int merge, int first, namer *text)
{
    char name[4097];
    char buffer[8];
    record item;
    uint64_t count = 0;
    int64_t from = 0;
    int number = first;
    rewind(labels->kept);
    while (next_kept(labels, kind, &item, name) && item.ps < end) {
        if (merge && item.number == number) {
            continue;
        }
        if (item.ps > from) {
            count++;
            if (out != NULL) {
                put_interval(out, count, from, item.ps, text(number, buffer));
            }
            from = item.ps;
        }
        number = item.number;
    }
    count++;
    if (out != NULL) {
        put_interval(out, count, from, end, text(number, buffer));
    }
    return count;
}

static void put_tier(hy_labels *labels, FILE *out, int64_t end, int place, const char *tier, int kind)
{
    int merge = kind == REQUEST;
    int first = kind == REQUEST ? 1 : -1; /* the chip powers up silent, with request high */
    namer *text = kind == REQUEST ? request_text : place == 1 ? phoneme_text : code_text;
    put_head(out, place, "IntervalTier", tier, end);
    fprintf(out, "        intervals: size = %" PRIu64 "\n", walk(labels, NULL, end, kind, merge, first, text));
    walk(labels, out, end, kind, merge, first, text);
}

/* Points of a tier must differ in time: marks at one instant share a point, their names joined. */
static uint64_t walk_marks(hy_labels *labels, FILE *out, int64_t end)
{
    char name[4097];
    char joined[4097];
    record item = {0, MARK, 0};
    uint64_t count = 0;
    int64_t at = -1;
    size_t used = 0;
    int more;
    rewind(labels->kept);
    do {
        more = next_kept(labels, MARK, &item, name);
        int64_t ps = item.ps < end ? item.ps : end;
        if (more && ps == at) {
            size_t length = strlen(name);
            if (used + 3 + length < sizeof joined) {
                memcpy(joined + used, " / ", 3);
                memcpy(joined + used + 3, name, length + 1);
                used += 3 + length;
            }
            continue;
        }
        if (at >= 0) {
            count++;
            if (out != NULL) {
                fprintf(out, "        points [%" PRIu64 "]:\n            number = ", count);
                put_time(out, at);
                fprintf(out, "\n            mark = ");
                put_text(out, joined);
                putc('\n', out);
            }
        }
        at = ps;
        used = strlen(name);
        memcpy(joined, name, used + 1);
    } while (more);
    return count;
}

int hy_labels_finish(hy_labels *labels, int64_t end_ps, hy_diag *diag)
{
    FILE *out = hy_outfile_stream(labels->file);
    /* The format has no room for an empty time span; one picosecond is the next best. */
    int64_t end = end_ps > 0 ? end_ps : 1;
    if (labels->error == 0 && fflush(labels->kept) != 0) {
        labels->error = errno;
    }
    if (labels->error != 0) {
        return hy_fail(diag, "cannot keep the labels in a temporary file: %s", strerror(labels->error));
    }
    fprintf(out, "File type = \"ooTextFile\"\nObject class = \"TextGrid\"\n\nxmin = 0\nxmax = ");
    put_time(out, end);
    fprintf(out, "\ntiers? <exists>\nsize = 4\nitem []:\n");
    put_tier(labels, out, end, 1, "phoneme", LATCH);
    put_tier(labels, out, end, 2, "code", LATCH);
    put_tier(labels, out, end, 3, "request", REQUEST);
    put_head(out, 4, "TextTier", "mark", end);
    fprintf(out, "        points: size = %" PRIu64 "\n", walk_marks(labels, NULL, end));
    walk_marks(labels, out, end);
    if (ferror(labels->kept)) {
        return hy_fail(diag, "cannot read the labels back from a temporary file");
    }
    return hy_outfile_finish(labels->file, diag);
}

int hy_labels_commit(hy_labels *labels, hy_diag *diag)
{
    int result = hy_outfile_commit(labels->file, diag);
    labels->file = NULL;
    hy_labels_abandon(labels);
    return result;
}

void hy_labels_abandon(hy_labels *labels)
{
    if (labels != NULL) {
        hy_outfile_abandon(labels->file);
        if (labels->kept != NULL) {
            fclose(labels->kept);
        }
        free(labels);
    }
}
