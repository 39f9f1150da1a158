/* The text of a map: on the command line, or in a file with a pair a line. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "capture_private.h"
#include "text.h"
#include "waves/channels.h"

enum { FILE_MAX = 64 * 1024 };

/* A line without its comment and the spaces around it. */
static size_t trimmed(const char **line, size_t length)
{
    const char *comment = memchr(*line, '#', length);
    length = comment != NULL ? (size_t)(comment - *line) : length;
    while (length > 0 && strchr(" \t", **line) != NULL) {
        (*line)++;
        length--;
    }
    while (length > 0 && strchr(" \t\r,", (*line)[length - 1]) != NULL) {
        length--;
    }
    return length;
}

/* Makes one line of a file's lines, in place. */
static int join(char *text, size_t size, const char *path, hy_diag *diag)
{
    char *out = text;
    unsigned number = 0;
    const size_t mark = size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    for (const char *at = text + mark, *end = text + size; at < end;) {
        const char *line = at;
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        size_t length = (size_t)((stop != NULL ? stop : end) - at);
        at += length + 1;
        number++;
        length = trimmed(&line, length);
        if (length == 0) {
            continue;
        }
        if (memchr(line, '=', length) == NULL) {
            return hy_fail_at(diag, path, number, 1, "found %s; expected KEY=NAME, such as strobe=D7",
                              hy_show(line, length).text);
        }
        memmove(out, line, length);
        out += length;
        *out++ = ','; /* where the line end stood, or behind the text */
    }
    if (out == text) {
        return hy_fail(diag, "%s: no KEY=NAME in it, such as strobe=D7", path);
    }
    out[-1] = '\0';
    return 0;
}

static char *load(const char *path, hy_diag *diag)
{
    FILE *in = fopen(path, "rb");
    if (in == NULL) {
        hy_fail(diag, "--map %s: no such file (%s); KEY=NAME,... or a file of such lines would be right", path,
                strerror(errno));
        return NULL;
    }
    char *text = malloc(FILE_MAX + 2);
    size_t size = text != NULL ? fread(text, 1, FILE_MAX + 1, in) : 0;
    int failed = 0;
    if (text == NULL) {
        failed = hy_fail(diag, "not enough memory to read %s", path);
    } else if (ferror(in)) {
        failed = hy_fail(diag, "--map: cannot read %s: %s", path, strerror(errno));
    } else if (size > FILE_MAX || memchr(text, '\0', size) != NULL) {
        failed = hy_fail(diag, "--map %s: lines of KEY=NAME would be right, at most %d bytes", path, FILE_MAX);
    } else {
        failed = join(text, size, path, diag);
    }
    fclose(in);
    if (failed) {
        free(text);
        return NULL;
    }
    return text;
}

static int find_rate(const char *text, double *rate, hy_diag *diag)
{
    for (const char *at = text; *at != '\0';) {
        at += strspn(at, " ,");
        size_t length = strcspn(at, ",");
        if (length > 5 && hy_word_is(at, 5, "rate=")) {
            size_t end = length;
            if (*rate > 0.0) {
                return hy_fail(diag, "--map %s: rate stands there twice; one of the two must go",
                               hy_show(at, length).text);
            }
            while (at[end - 1] == ' ') {
                end--;
            }
            if (hy_rate_read(at + 5, end - 5, rate) != 0) {
                return hy_fail(diag, "--map %s: a sample rate of 1 Hz to 100 GHz would be right, such as rate=1M",
                               hy_show(at, length).text);
            }
        }
        at += length;
    }
    return 0;
}

int hy_capture_map_text(const char *map, char **text, double *rate, hy_diag *diag)
{
    *text = NULL;
    *rate = 0.0;
    if (map == NULL) {
        return 0;
    }
    *text = strchr(map, '=') != NULL || map[0] == '\0' ? strdup(map) : load(map, diag);
    if (*text == NULL) {
        return hy_fail(diag, "not enough memory for the map");
    }
    return find_rate(*text, rate, diag);
}
