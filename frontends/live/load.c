#include "load.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "input.h"
#include "score_out.h"

static int is_score(const char *path)
{
    const size_t n = strlen(path);
    if (n > 6 && strcmp(path + n - 6, ".score") == 0) {
        return 1;
    }
    char head[16] = "";
    FILE *in = fopen(path, "rb");
    const size_t got = in != NULL ? fread(head, 1, sizeof head - 1, in) : 0;
    if (in != NULL) {
        fclose(in);
    }
    head[got] = '\0';
    const char *text = strncmp(head, "\xef\xbb\xbf", 3) == 0 ? head + 3 : head;
    const int is_log = (n > 4 && (strcmp(path + n - 4, ".csv") == 0 || strcmp(path + n - 4, ".vcd") == 0 ||
                                  strcmp(path + n - 3, ".sr") == 0)) ||
                       strncmp(text, "time_s", 6) == 0 || text[0] == '$';
    return !is_log;
}

/* A log or capture is played as the score that it amounts to, so that the clock can be turned. */
static hy_score *from_log(const char *path, const hyoid_part *part, const hy_host_options *host, hy_input *input,
                          hy_diag *diag)
{
    hy_score *score = NULL;
    FILE *text = tmpfile();
    if (text == NULL) {
        hy_fail(diag, "cannot make a temporary file: %s", strerror(errno));
        return NULL;
    }
    if (hy_input_read(input, path, part, host, diag) == 0) {
        if (hy_score_write(input->log, part, text, diag) == 0) {
            rewind(text);
            score = hy_score_read(text, path, diag);
        }
        hy_input_free(input);
    }
    fclose(text);
    return score;
}

hy_score *hy_load_score(const char *path, const hyoid_part *part, const hy_host_options *host, hy_input *whole,
                        hy_diag *diag)
{
    if (strcmp(path, "-") == 0) {
        hy_fail(diag, "live reads commands from standard input, not INPUT; a file would be right");
        return NULL;
    }
    if (!is_score(path)) {
        return from_log(path, part, host, whole, diag);
    }
    if (hy_input_read(whole, path, part, host, diag) != 0) {
        return NULL;
    }
    hy_input_free(whole);
    FILE *in = fopen(path, "rb");
    if (in == NULL) {
        hy_fail(diag, "cannot read %s: %s", path, strerror(errno));
        return NULL;
    }
    hy_score *score = hy_score_read(in, path, diag);
    fclose(in);
    return score;
}
