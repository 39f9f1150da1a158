#include "log.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

#include <hyoid/hyoid.h>

#define BLOCK 1024        /* events that are written or read at once */
#define MARKS_MAX 1000000 /* their names are the one thing that is kept in memory */

struct hy_log {
    FILE *file;
    uint64_t count; /* events appended */
    int64_t end;    /* time of the last */
    int ended;      /* HY_END stands in it */

    /* the last events, not yet in the file: numbers `first` and up */
    uint64_t first;
    hy_event tail[BLOCK];

    /* the last HY_CLOCK event, whose glide is known only when the next one comes */
    int has_clock;
    uint64_t clock_at;
    hy_event clock;

    uint64_t read_at;
    hy_event window[BLOCK]; /* the block that read_at stands in */

    char **marks;
    size_t mark_count, mark_capacity;
};

hy_log *hy_log_new(hy_diag *diag)
{
    hy_log *log = calloc(1, sizeof *log);
    if (log == NULL) {
        hy_fail(diag, "not enough memory for a write log");
        return NULL;
    }
    log->file = tmpfile();
    if (log->file == NULL) {
        hy_fail(diag, "a temporary file for the write log can't be made: %s", strerror(errno));
        free(log);
        return NULL;
    }
    return log;
}

void hy_log_free(hy_log *log)
{
    if (log == NULL) {
        return;
    }
    fclose(log->file);
    for (size_t i = 0; i < log->mark_count; i++) {
        free(log->marks[i]);
    }
    free(log->marks);
    free(log);
}

static int broken(hy_diag *diag)
{
    return hy_fail(diag, "the write log's temporary file: %s", strerror(errno));
}

static int go_to(hy_log *log, uint64_t event, hy_diag *diag)
{
    return fseeko(log->file, (off_t)(event * sizeof(hy_event)), SEEK_SET) != 0 ? broken(diag) : 0;
}

static int put(hy_log *log, uint64_t event, const hy_event *events, size_t count, hy_diag *diag)
{
    if (go_to(log, event, diag) != 0) {
        return -1;
    }
    return fwrite(events, sizeof *events, count, log->file) != count ? broken(diag) : 0;
}

/* Fills in where the glide went that began with the last HY_CLOCK. */
static int finish_glide(hy_log *log, const hy_event *event, hy_diag *diag)
{
    if (!log->has_clock) {
        return hy_fail(diag, "a clock glide needs a clock to start from");
    }
    if (event->ps == log->clock.ps) {
        return event->hz == log->clock.hz ? 0 : hy_fail(diag, "a clock can't glide within no time");
    }
    log->clock.to_ps = event->ps;
    log->clock.to_hz = event->hz;
    if (log->clock_at >= log->first) {
        log->tail[log->clock_at - log->first] = log->clock;
        return 0;
    }
    return put(log, log->clock_at, &log->clock, 1, diag);
}

int hy_log_append(hy_log *log, const hy_event *event, int glides, hy_diag *diag)
{
    if (log->ended || event->ps < log->end || event->ps > HY_LOG_TIME_MAX) {
        return hy_fail(diag, "a write log's events must be in order, within 46 days, and none may follow its end");
    }
    hy_event copy = *event;
    copy.to_ps = 0;
    copy.to_hz = 0.0;
    if (event->signal == HY_CLOCK) {
        if (!(event->hz >= 0.0 && event->hz <= HYOID_CLOCK_MAX)) {
            return hy_fail(diag, "a clock must be 0 to 100 MHz");
        }
        if (glides && finish_glide(log, event, diag) != 0) {
            return -1;
        }
        log->clock = copy;
        log->clock_at = log->count;
        log->has_clock = 1;
    }
    if (log->count - log->first == BLOCK) {
        if (put(log, log->first, log->tail, BLOCK, diag) != 0) {
            return -1;
        }
        log->first = log->count;
    }
    log->tail[log->count - log->first] = copy;
    log->count++;
    log->end = event->ps;
    log->ended = event->signal == HY_END;
    return 0;
}

int hy_log_add_mark(hy_log *log, const char *name, hy_diag *diag)
{
    if (log->mark_count == MARKS_MAX) {
        return hy_fail(diag, "more than %d marks", MARKS_MAX);
    }
    if (log->mark_count == log->mark_capacity) {
        size_t more = log->mark_capacity == 0 ? 16 : log->mark_capacity * 2;
        char **moved = realloc(log->marks, more * sizeof *moved);
        if (moved == NULL) {
            return hy_fail(diag, "not enough memory for the marks");
        }
        log->marks = moved;
        log->mark_capacity = more;
    }
    char *copy = strdup(name);
    if (copy == NULL) {
        return hy_fail(diag, "not enough memory for the marks");
    }
    log->marks[log->mark_count] = copy;
    return (int)log->mark_count++;
}

const char *hy_log_mark_name(const hy_log *log, int index)
{
    return index >= 0 && (size_t)index < log->mark_count ? log->marks[index] : "";
}

int hy_log_rewind(hy_log *log, hy_diag *diag)
{
    (void)diag;
    log->read_at = 0;
    return 0;
}

int hy_log_next(hy_log *log, hy_event *event, hy_diag *diag)
{
    if (log->read_at == log->count) {
        return 0;
    }
    if (log->read_at >= log->first) {
        *event = log->tail[log->read_at - log->first];
        log->read_at++;
        return 1;
    }
    size_t place = (size_t)(log->read_at % BLOCK);
    if (place == 0) { /* what is in the file is there in whole blocks */
        errno = 0;
        if (go_to(log, log->read_at, diag) != 0) {
            return -1;
        }
        if (fread(log->window, sizeof log->window[0], BLOCK, log->file) != BLOCK) {
            return broken(diag);
        }
    }
    *event = log->window[place];
    log->read_at++;
    return 1;
}

int64_t hy_log_end(const hy_log *log)
{
    return log->end;
}
