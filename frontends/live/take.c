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

static hy_outfile *open_beside(const char *wav, const char *extension, hy_diag *diag)
{
    char path[4096];
    const int n = snprintf(path, sizeof path, "%.*s%s", (int)strlen(wav) - 4, wav, extension);
    if (n < 0 || (size_t)n >= sizeof path) {
        hy_fail(diag, "the name of the recording is too long");
        return NULL;
    }
    return hy_outfile_open(path, diag);
}

hy_take *hy_take_open(const char *wav, const hyoid_part *part, uint32_t rate, int bits, hy_diag *diag)
{
    const size_t n = strlen(wav);
    if (n < 5 || strcmp(wav + n - 4, ".wav") != 0) {
        hy_fail(diag, "a recording's name must end in .wav, such as take.wav; found %s", n > 0 ? wav : "none");
        return NULL;
    }
    hy_take *t = calloc(1, sizeof *t);
    if (t == NULL) {
        hy_fail(diag, "not enough memory for a recording");
        return NULL;
    }
    const hy_sound_options sound = {.rate = rate, .bits = bits};
    t->part = part;
    t->rate = rate;
    t->sound = hy_sound_open(wav, &sound, diag);
    t->csv = t->sound != NULL ? open_beside(wav, ".csv", diag) : NULL;
    t->score = t->csv != NULL ? open_beside(wav, ".score", diag) : NULL;
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

void hy_take_free_name(char *name, size_t size)
{
    static const char *const extensions[] = {"wav", "csv", "score"};
    for (unsigned n = 1; n < 1000; n++) {
        int taken = 0;
        for (int i = 0; i < 3; i++) {
            snprintf(name, size, "take-%03u.%s", n, extensions[i]);
            taken = taken || access(name, F_OK) == 0;
        }
        if (!taken) {
            snprintf(name, size, "take-%03u.wav", n);
            return;
        }
    }
    snprintf(name, size, "take.wav");
}
