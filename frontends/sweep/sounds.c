#include "sounds.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FILES_MAX = 200 }; /* all are open until the last is complete */

struct hy_sounds {
    const hy_sweep_clocks *clocks;
    hy_sound_options options;
    hy_sound **file; /* one, or one for each clock */
    char **path;     /* of each, if there are several */
    size_t files, next;
    size_t gap; /* frames */
    int64_t at; /* frames in a single file so far */
};

static int is_pattern(const char *name)
{
    return strstr(name, "%n") != NULL || strstr(name, "%c") != NULL;
}

/* The name of a step's file; malloc'd, or null. */
static char *fill(const char *pattern, const hy_sweep_clocks *clocks, size_t step)
{
    char most[24];
    int digits = snprintf(most, sizeof most, "%zu", clocks->count);
    char *name = malloc(strlen(pattern) * 12 + 24);
    size_t used = 0;
    for (const char *c = pattern; name != NULL && *c != '\0'; c++) {
        if (c[0] == '%' && c[1] == 'n') {
            used += (size_t)sprintf(name + used, "%0*zu", digits, step + 1);
            c++;
        } else if (c[0] == '%' && c[1] == 'c') {
            used += (size_t)sprintf(name + used, "%.0f", clocks->clock[step].hz);
            c++;
        } else {
            name[used++] = *c;
        }
    }
    if (name != NULL) {
        name[used] = '\0';
    }
    return name;
}

static int name_all(hy_sounds *s, const char *pattern, hy_diag *diag)
{
    if (s->clocks->count > FILES_MAX) {
        return hy_fail(diag, "-o %s would make %zu files; at most %d would be right (--steps)", pattern,
                       s->clocks->count, FILES_MAX);
    }
    s->path = calloc(s->clocks->count, sizeof *s->path);
    s->file = calloc(s->clocks->count, sizeof(hy_sound *));
    if (s->path == NULL || s->file == NULL) {
        return hy_fail(diag, "out of memory");
    }
    s->files = s->clocks->count;
    for (size_t i = 0; i < s->files; i++) {
        s->path[i] = fill(pattern, s->clocks, i);
        if (s->path[i] == NULL) {
            return hy_fail(diag, "out of memory");
        }
        for (size_t k = 0; k < i; k++) {
            if (strcmp(s->path[k], s->path[i]) == 0) {
                return hy_fail(diag, "-o %s gives two steps the name %s; %%n in it would keep them apart", pattern,
                               s->path[i]);
            }
        }
    }
    return 0;
}

static int open_one(hy_sounds *s, const char *path, hy_diag *diag)
{
    s->file = calloc(1, sizeof(hy_sound *));
    if (s->file == NULL) {
        return hy_fail(diag, "out of memory");
    }
    s->files = 1;
    s->file[0] = hy_sound_open(path, &s->options, diag);
    return s->file[0] != NULL ? 0 : -1;
}

hy_sounds *hy_sounds_open(const char *pattern, const hy_sweep_clocks *clocks, const hy_sound_options *options,
                          double gap_ms, hy_diag *diag)
{
    hy_sounds *s = calloc(1, sizeof *s);
    if (s == NULL) {
        hy_fail(diag, "out of memory");
        return NULL;
    }
    s->clocks = clocks;
    s->options = *options;
    s->gap = (size_t)(gap_ms * 1e-3 * options->rate + 0.5);
    int status = is_pattern(pattern) ? name_all(s, pattern, diag) : open_one(s, pattern, diag);
    if (status != 0) {
        hy_sounds_abandon(s);
        return NULL;
    }
    return s;
}

static int silence(hy_sounds *s, hy_diag *diag)
{
    static const float nothing[4096];
    for (size_t left = s->gap; left > 0;) {
        size_t n = left < 4096 ? left : 4096;
        if (hy_sound_write(s->file[0], nothing, n, diag) != 0) {
            return -1;
        }
        left -= n;
    }
    s->at += (int64_t)s->gap;
    return 0;
}

int hy_sounds_add(hy_sounds *s, const hy_sweep_step *step, hy_diag *diag)
{
    size_t which = s->next++;
    if (!step->played) {
        return 0;
    }
    if (s->path != NULL) {
        s->file[which] = hy_sound_open(s->path[which], &s->options, diag);
        return s->file[which] != NULL && hy_sound_write(s->file[which], step->frames, step->count, diag) == 0 ? 0
                                                                                                              : -1;
    }
    char name[64];
    snprintf(name, sizeof name, "%s: %.1f Hz", step->label, step->hz);
    if ((s->at > 0 && silence(s, diag) != 0) || hy_sound_mark(s->file[0], s->at, name, diag) != 0) {
        return -1;
    }
    s->at += (int64_t)step->count;
    return hy_sound_write(s->file[0], step->frames, step->count, diag);
}

int hy_sounds_finish(hy_sounds *s, hy_diag *diag)
{
    for (size_t i = 0; i < s->files; i++) {
        if (s->file[i] != NULL && hy_sound_finish(s->file[i], diag) != 0) {
            return -1;
        }
    }
    return 0;
}

int hy_sounds_commit(hy_sounds *s, hy_diag *diag)
{
    int status = 0;
    for (size_t i = 0; status == 0 && i < s->files; i++) {
        if (s->file[i] != NULL) {
            status = hy_sound_commit(s->file[i], diag);
            s->file[i] = NULL;
        }
    }
    hy_sounds_abandon(s);
    return status;
}

void hy_sounds_abandon(hy_sounds *s)
{
    if (s == NULL) {
        return;
    }
    for (size_t i = 0; i < s->files; i++) {
        if (s->file[i] != NULL) {
            hy_sound_abandon(s->file[i]);
        }
        if (s->path != NULL) {
            free(s->path[i]);
        }
    }
    free(s->file);
    free(s->path);
    free(s);
}

float hy_sounds_peak(const hy_sounds *s)
{
    float peak = 0;
    for (size_t i = 0; i < s->files; i++) {
        peak = s->file[i] != NULL ? fmaxf(peak, hy_sound_peak(s->file[i])) : peak;
    }
    return peak;
}

size_t hy_sounds_files(const hy_sounds *s)
{
    size_t count = 0;
    for (size_t i = 0; i < s->files; i++) {
        count += s->file[i] != NULL;
    }
    return count;
}
