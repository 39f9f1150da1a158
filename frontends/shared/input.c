#include "input.h"

#include <errno.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "capture.h"
#include "kind.h"
#include "score_internal.h"
#include "waves/waves.h"

static int has_extension(const char *path, const char *extension)
{
    size_t n = strlen(path), e = strlen(extension);
    return n > e && strcasecmp(path + n - e, extension) == 0;
}

/* The first bytes of a stream that may not seek: looked at, and put back by reading on from a copy. */
static FILE *spooled(FILE *in, const char *name, hy_diag *diag)
{
    FILE *copy = tmpfile();
    if (copy == NULL) {
        hy_fail(diag, "cannot make a temporary file: %s", strerror(errno));
        return NULL;
    }
    char block[65536];
    size_t n;
    uint64_t size = 0;
    int looked = 0;
    while ((n = fread(block, 1, sizeof block, in)) > 0) {
        if (fwrite(block, 1, n, copy) != n) {
            break;
        }
        size += n;
        if (size > HY_SCORE_BYTES + sizeof block &&
            !looked) { /* captures and logs are long; a text that never ends would fill the disk */
            looked = 1;
            const hy_kind kind = hy_kind_look(copy, name);
            if ((kind != HY_KIND_CAPTURE && kind != HY_KIND_LOG) || fseek(copy, 0, SEEK_END) != 0) {
                break; /* its reader says that it is too long */
            }
        }
    }
    if (ferror(in)) {
        hy_fail(diag, "cannot read %s: %s", name, strerror(errno));
    } else if (fflush(copy) != 0 || ferror(copy)) {
        hy_fail(diag, "cannot write a temporary file: %s", strerror(errno));
    } else {
        rewind(copy);
        return copy;
    }
    fclose(copy);
    return NULL;
}

static int looks_like_log(FILE *in)
{
    static const char heading[] = "time_s";
    char head[3 + sizeof heading] = "";
    size_t n = fread(head, 1, sizeof head - 1, in);
    head[n] = '\0';
    rewind(in);
    const char *text = strncmp(head, "\xef\xbb\xbf", 3) == 0 ? head + 3 : head;
    return strncmp(text, heading, sizeof heading - 1) == 0;
}

FILE *hy_input_open(const char *path, const char *name, hy_diag *diag)
{
    if (strcmp(path, "-") == 0) {
        return spooled(stdin, name, diag);
    }
    FILE *in = fopen(path, "rb");
    if (in == NULL) {
        hy_fail(diag, "cannot read %s: %s", name, strerror(errno));
        return NULL;
    }
    struct stat status;
    if (fstat(fileno(in), &status) == 0 && S_ISREG(status.st_mode)) {
        return in;
    }
    if (S_ISDIR(status.st_mode)) {
        hy_fail(diag, "cannot read %s: it is a folder", name);
        fclose(in);
        return NULL;
    }
    FILE *copy = spooled(in, name, diag);
    fclose(in);
    return copy;
}

/* Whether the log sets this signal at time 0 before anything else could matter. */
static int sets_at_start(hy_log *log, hy_signal signal, hy_diag *diag)
{
    hy_event event;
    if (hy_log_rewind(log, diag) != 0) {
        return -1;
    }
    int more;
    while ((more = hy_log_next(log, &event, diag)) == 1 && event.ps == 0) {
        if (event.signal == (int32_t)signal) {
            return 1;
        }
    }
    return more < 0 ? -1 : 0;
}

/* A copy of the log that starts with the clock and inflection of the options. */
static hy_log *with_start(hy_log *log, const hy_host_options *options, hy_diag *diag)
{
    hy_log *full = hy_log_new(diag);
    if (full == NULL) {
        return NULL;
    }
    const hy_event clock = {.signal = HY_CLOCK, .hz = options->clock_hz};
    const hy_event level = {.signal = HY_INFLECTION, .number = options->level};
    int failed = hy_log_append(full, &clock, 0, diag) != 0 || hy_log_append(full, &level, 0, diag) != 0 ||
                 hy_log_rewind(log, diag) != 0;
    hy_event event;
    int more = 0, glides = 0;
    while (!failed && (more = hy_log_next(log, &event, diag)) == 1) {
        if (event.signal == HY_MARK) {
            event.number = hy_log_add_mark(full, hy_log_mark_name(log, event.number), diag);
            failed = event.number < 0;
        }
        int arrives = event.signal == HY_CLOCK && glides;
        if (event.signal == HY_CLOCK) {
            glides = event.to_ps > event.ps;
            event.to_ps = 0;
        }
        failed = failed || hy_log_append(full, &event, arrives, diag) != 0;
    }
    if (failed || more < 0) {
        hy_log_free(full);
        return NULL;
    }
    return full;
}

/* Takes the log, which may be null after an error, and lets it start as the options say where it doesn't itself. */
static int take_log(hy_input *input, hy_log *read, const hy_host_options *options, hy_diag *diag)
{
    if (read == NULL) {
        return -1;
    }
    input->sets_clock = sets_at_start(read, HY_CLOCK, diag);
    input->sets_level = sets_at_start(read, HY_INFLECTION, diag);
    if (input->sets_clock == 1 && input->sets_level == 1) {
        input->log = read;
        return 0;
    }
    if (input->sets_clock >= 0 && input->sets_level >= 0) {
        input->log = with_start(read, options, diag);
    }
    hy_log_free(read);
    return input->log != NULL ? 0 : -1;
}

static int score_sets(hy_score *score, hy_action_kind kind)
{
    hy_action action;
    hy_score_rewind(score);
    while (hy_score_next(score, &action) && action.kind != HY_SAY && action.kind != HY_REST) {
        if (action.kind == kind) {
            return 1;
        }
    }
    return 0;
}

static int read_score(hy_input *input, FILE *in, const char *name, const hyoid_part *part,
                      const hy_host_options *options, hy_diag *diag)
{
    hy_score *score = hy_score_read(in, name, diag);
    if (score == NULL) {
        return -1;
    }
    input->from_score = 1;
    input->sets_clock = score_sets(score, HY_SET_CLOCK);
    input->sets_level = score_sets(score, HY_SET_LEVEL);
    hy_score_rewind(score);
    input->score = score;
    input->log = hy_host_play(score, part, options, diag);
    return input->log != NULL ? 0 : -1;
}

int hy_input_read_mapped(hy_input *input, const char *path, const char *map, const hyoid_part *part,
                         const hy_host_options *options, hy_capture_note *note, hy_diag *diag)
{
    memset(input, 0, sizeof *input);
    *note = (hy_capture_note){{0}};
    const char *name = strcmp(path, "-") == 0 ? "standard input" : path;
    FILE *in = hy_input_open(path, name, diag);
    if (in == NULL) {
        return -1;
    }
    const hy_kind kind = hy_kind_look(in, name);
    if (kind >= HY_KIND_SOUND && hy_kind_refuse(name, kind, "a score, a write log or a capture", diag) != 0) {
        fclose(in);
        return -1;
    }
    int is_score = has_extension(path, ".score");
    int is_log = has_extension(path, ".csv");
    hy_waves_form form = hy_waves_look(in);
    int is_capture = has_extension(path, ".vcd") || has_extension(path, ".sr") ||
                     (is_log && form == HY_WAVES_TABLE) || (!is_score && !is_log && form != HY_WAVES_NONE);
    is_log = !is_capture && (is_log || (!is_score && looks_like_log(in)));
    int result;
    if (is_capture) {
        result = take_log(input, hy_capture_read(in, name, map, part, note, diag), options, diag);
    } else if (map != NULL) {
        result = hy_fail(diag, "--map is for captures (.vcd, .sr, .csv); %s is none", name);
    } else if (is_log) {
        result = take_log(input, hy_log_read_csv(in, name, diag), options, diag);
    } else {
        result = read_score(input, in, name, part, options, diag);
    }
    fclose(in);
    return result;
}

int hy_input_read(hy_input *input, const char *path, const hyoid_part *part, const hy_host_options *options,
                  hy_diag *diag)
{
    hy_capture_note note;
    return hy_input_read_mapped(input, path, NULL, part, options, &note, diag);
}

void hy_input_tell_unused(const hy_input *input, const char *path, int clock_given, int level_given, FILE *out)
{
    const char *name = strcmp(path, "-") == 0 ? "standard input" : path;
    if (clock_given && input->sets_clock == 1) {
        fprintf(out,
                "note: %s sets its own clock at its start; --clock had no effect (hyoid sweep plays it at "
                "other clocks)\n",
                name);
    }
    if (level_given && input->sets_level == 1) {
        fprintf(out, "note: %s sets its own inflection at its start; --level had no effect\n", name);
    }
}

void hy_input_free(hy_input *input)
{
    if (input->log != NULL) {
        hy_log_free(input->log);
        input->log = NULL;
    }
    hy_score_free(input->score);
    input->score = NULL;
}
