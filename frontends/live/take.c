#include "take.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "outfile.h"
#include "score_out.h"
#include "sound.h"

struct hy_take {
    const hyoid_part *part;
    uint32_t rate;
    hy_sound *sound;
    hy_outfile *csv, *score;
    hy_log *log;
    int begun, ended;
    uint64_t first, end; /* samples, as reports count them */
    uint64_t written;
};

enum { WAV, CSV, SCORE, FILES };
static const char *const extensions[FILES] = {".wav", ".csv", ".score"};

typedef struct name {
    char path[4096];
} name;

/* The name of one of the take's files. */
static int name_file(const char *wav, int which, name *n, hy_diag *diag)
{
    const int length = snprintf(n->path, sizeof n->path, "%.*s%s", (int)strlen(wav) - 4, wav, extensions[which]);
    if (length < 0 || (size_t)length >= sizeof n->path) {
        return hy_fail(diag, "the name of the recording is too long");
    }
    return access(n->path, F_OK) == 0
               ? hy_fail(diag, "%s is there already, and a recording overwrites nothing; another name would be right",
                         n->path)
               : 0;
}

hy_take *hy_take_open(const char *wav, const hyoid_part *part, uint32_t rate, int bits, hy_diag *diag)
{
    const size_t n = strlen(wav);
    if (n < 5 || strcmp(wav + n - 4, ".wav") != 0) {
        hy_fail(diag, "a recording's name must end in .wav, such as take.wav; found %s", n > 0 ? wav : "none");
        return NULL;
    }
    name names[FILES];
    for (int i = 0; i < FILES; i++) {
        if (name_file(wav, i, &names[i], diag) != 0) {
            return NULL;
        }
    }
    hy_take *t = calloc(1, sizeof *t);
    if (t == NULL) {
        hy_fail(diag, "not enough memory for a recording");
        return NULL;
    }
    const hy_sound_options sound = {.rate = rate, .bits = bits};
    t->part = part;
    t->rate = rate;
    t->sound = hy_sound_open(names[WAV].path, &sound, diag);
    t->csv = t->sound != NULL ? hy_outfile_open(names[CSV].path, diag) : NULL;
    t->score = t->csv != NULL ? hy_outfile_open(names[SCORE].path, diag) : NULL;
    t->log = t->score != NULL ? hy_log_new(diag) : NULL;
    if (t->log == NULL) {
        hy_take_abandon(t);
        return NULL;
    }
    return t;
}

void hy_take_abandon(hy_take *t)
{
    if (t == NULL) {
        return;
    }
    if (t->sound != NULL) {
        hy_sound_abandon(t->sound);
    }
    hy_outfile_abandon(t->csv);
    hy_outfile_abandon(t->score);
    hy_log_free(t->log);
    free(t);
}

int hy_take_report(hy_take *t, const hy_report *report, hy_diag *diag)
{
    hy_event event = report->event;
    switch ((hy_report_kind)report->kind) {
    case HY_REPORT_TAKE:
        t->begun = 1;
        t->first = report->sample;
        return 0;
    case HY_REPORT_TAKE_END:
        if (!t->begun || t->ended) {
            return 0;
        }
        t->ended = 1;
        t->end = report->sample;
        return hy_log_append(t->log, &event, 0, diag);
    case HY_REPORT_EVENT:
        if (!t->begun || t->ended) {
            return 0;
        }
        if (event.signal == HY_MARK) {
            event.number = hy_log_add_mark(t->log, report->name, diag);
            if (event.number < 0 || hy_sound_mark(t->sound, (int64_t)((double)event.ps * 1e-12 * t->rate + 0.5),
                                                  report->name, diag) != 0) {
                return -1;
            }
        }
        return hy_log_append(t->log, &event, report->glides, diag);
    case HY_REPORT_STATUS:
        break;
    }
    return 0;
}

int hy_take_sound(hy_take *t, const float *samples, size_t count, uint64_t first, hy_diag *diag)
{
    if (!t->begun) {
        return 0;
    }
    uint64_t end = first + count;
    const uint64_t from = first > t->first ? first : t->first;
    end = t->ended && t->end < end ? t->end : end;
    if (from >= end) {
        return 0;
    }
    t->written += end - from;
    return hy_sound_write(t->sound, samples + (from - first), (size_t)(end - from), diag);
}

int hy_take_complete(const hy_take *t)
{
    return t->ended && t->written == t->end - t->first;
}

double hy_take_seconds(const hy_take *t)
{
    return (double)t->written / t->rate;
}

static int write_texts(hy_take *t, hy_diag *diag)
{
    FILE *score = hy_outfile_stream(t->score);
    fputs("# Played by hand in `hyoid live`. The write log beside it has every instant, and the clock's way, "
          "exactly.\n",
          score);
    return hy_score_write(t->log, t->part, score, diag) != 0 ||
                   hy_log_write_csv(t->log, hy_outfile_stream(t->csv), diag) != 0
               ? -1
               : 0;
}

int hy_take_close(hy_take *t, hy_diag *diag)
{
    if (write_texts(t, diag) != 0 || hy_sound_finish(t->sound, diag) != 0 || hy_outfile_finish(t->csv, diag) != 0 ||
        hy_outfile_finish(t->score, diag) != 0) {
        hy_take_abandon(t);
        return -1;
    }
    hy_sound *sound = t->sound;
    hy_outfile *csv = t->csv, *score = t->score;
    t->sound = NULL;
    t->csv = t->score = NULL;
    hy_take_abandon(t);
    const int sound_failed = hy_sound_commit(sound, diag);
    const int csv_failed = hy_outfile_commit(csv, diag);
    const int score_failed = hy_outfile_commit(score, diag);
    return sound_failed != 0 || csv_failed != 0 || score_failed != 0 ? -1 : 0;
}

void hy_take_free_name(char *wav, size_t size)
{
    for (unsigned n = 1; n < 1000; n++) {
        int taken = 0;
        for (int i = 0; i < FILES; i++) {
            snprintf(wav, size, "take-%03u%s", n, extensions[i]);
            taken = taken || access(wav, F_OK) == 0;
        }
        snprintf(wav, size, "take-%03u.wav", n);
        if (!taken) {
            return;
        }
    }
}
