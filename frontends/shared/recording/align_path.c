/* Band levels as bytes, and the path of least difference between two series of them. */
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "align_private.h"

#define DEEPEST_DB 60.0
#define ACTIVE_DB 30.0
#define MOST_COLOUR (15.0 * HY_LEVELS_PER_DB) /* a band that is weaker than this is missing */
/* Costs of a path, in quarter dB over all bands (as hy_levels_apart). Every frame of the model costs twice its difference, however the
 * path comes to it, so that haste is never cheaper; a frame of the recording that it waits for costs its difference. A step that
 * bends time costs as much as a difference of 1 dB; a frame of the model that is left out, at either end of the recording, as
 * one of 10 dB. */
enum { BEND = HY_BANDS * HY_LEVELS_PER_DB, LEFT_OUT = 2 * 10 * HY_BANDS * HY_LEVELS_PER_DB, FAR = INT_MAX / 2 };

double hy_loud_density(const hy_frames *f, hy_diag *diag)
{
    double *mean = malloc((f->count > 0 ? f->count : 1) * sizeof *mean);
    if (mean == NULL) {
        hy_fail(diag, "memory is out");
        return 0.0;
    }
    for (size_t i = 0; i < f->count; i++) {
        float sum = 0;
        for (int b = 0; b < HY_BANDS; b++) {
            sum += f->energy[i * HY_BANDS + (size_t)b];
        }
        mean[i] = (double)sum / HY_BANDS;
    }
    double loud = hy_quantile(mean, f->count, 0.95);
    free(mean);
    return loud;
}

int hy_levels_make(hy_levels *l, const hy_level_setup *setup, hy_diag *diag)
{
    const hy_frames *f = setup->frames;
    size_t every = (size_t)setup->every;
    l->count = (f->count + every - 1) / every;
    l->hop = (double)f->hop * setup->every / HY_ANALYSIS_RATE;
    l->level = malloc(l->count * HY_BANDS);
    if (l->level == NULL) {
        return hy_fail(diag, "memory is out");
    }
    const float over = (float)(1.0 / (setup->reference > 0 ? setup->reference : 1e-20));
    for (size_t i = 0; i < l->count; i++) {
        size_t last = (i + 1) * every < f->count ? (i + 1) * every : f->count;
        for (size_t b = 0; b < HY_BANDS; b++) {
            float sum = 0;
            for (size_t k = i * every; k < last; k++) {
                sum += f->energy[k * HY_BANDS + b];
            }
            float mean = sum / (float)(last - i * every) + (setup->noise != NULL ? setup->noise[b] : 0.0f);
            float db = (10.0f * log10f(mean * over + 1e-9f) + (float)DEEPEST_DB) * HY_LEVELS_PER_DB;
            l->level[i * HY_BANDS + b] = (unsigned char)(db < 0 ? 0 : db > 255 ? 255 : db);
        }
    }
    return 0;
}

void hy_levels_free(hy_levels *l)
{
    free(l->level);
    l->level = NULL;
}

static void means(const hy_levels *l, double *mean)
{
    double sum[HY_BANDS] = {0};
    size_t used = 0;
    const unsigned least = (unsigned)((DEEPEST_DB - ACTIVE_DB) * HY_LEVELS_PER_DB);
    for (size_t i = 0; i < l->count; i++) {
        const unsigned char *at = l->level + i * HY_BANDS;
        unsigned top = 0;
        for (int b = 0; b < HY_BANDS; b++) {
            top = at[b] > top ? at[b] : top;
        }
        for (int b = 0; top >= least && b < HY_BANDS; b++) {
            sum[b] += at[b];
        }
        used += top >= least;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        mean[b] = used > 0 ? sum[b] / (double)used : 0.0;
    }
}

void hy_levels_match(const hy_levels *a, hy_levels *b)
{
    double mean_a[HY_BANDS], mean_b[HY_BANDS];
    means(a, mean_a);
    means(b, mean_b);
    int shift[HY_BANDS];
    for (int k = 0; k < HY_BANDS; k++) {
        double apart = mean_a[k] - mean_b[k];
        apart = apart < -MOST_COLOUR ? -MOST_COLOUR : apart > MOST_COLOUR ? MOST_COLOUR : apart;
        shift[k] = (int)lround(apart);
    }
    for (size_t i = 0; i < b->count * HY_BANDS; i++) {
        int v = b->level[i] + shift[i % HY_BANDS];
        b->level[i] = (unsigned char)(v < 0 ? 0 : v > 255 ? 255 : v);
    }
}

void hy_levels_mute(hy_levels *l, const unsigned char *usable)
{
    for (size_t i = 0; i < l->count * HY_BANDS; i++) {
        l->level[i] = usable[i % HY_BANDS] ? l->level[i] : 0;
    }
}

unsigned hy_levels_apart(const unsigned char *a, const unsigned char *b)
{
    unsigned sum = 0;
    for (int k = 0; k < HY_BANDS; k++) {
        int d = a[k] - b[k];
        sum += (unsigned)(d < 0 ? -d : d);
    }
    return sum;
}

/* ---- the path ---- */

enum { START, DIAGONAL, MODEL_WAITS, RECORDING_WAITS };

/* What a row looks at: `width` columns from `left` on, whose moves stand from `first` on. */
typedef struct reach {
    int left, width;
    size_t first;
} reach;

typedef struct search {
    const hy_levels *model, *recording;
    reach *rows; /* one for each frame of the model */
    unsigned char *moves;
    int *now, *before; /* costs */
    int best_end, best_row, best_column;
} search;

static void row(search *s, size_t i)
{
    const int rows = (int)s->model->count, columns = (int)s->recording->count;
    const reach *r = &s->rows[i], *above = i > 0 ? r - 1 : r;
    const unsigned char *m = s->model->level + i * HY_BANDS;
    unsigned char *move = s->moves + r->first;
    for (int k = 0; k < r->width; k++) {
        int j = r->left + k;
        if (j < 0 || j >= columns) {
            s->now[k] = FAR;
            continue;
        }
        int d = (int)hy_levels_apart(m, s->recording->level + (size_t)j * HY_BANDS);
        int up = j - above->left, cost = 2 * d + (int)i * LEFT_OUT; /* `up`: this column in the row before */
        move[k] = START;
        if (i > 0 && up - 1 >= 0 && up - 1 < above->width && s->before[up - 1] + 2 * d < cost) {
            cost = s->before[up - 1] + 2 * d;
            move[k] = DIAGONAL;
        }
        if (k > 0 && s->now[k - 1] + d + BEND < cost) {
            cost = s->now[k - 1] + d + BEND;
            move[k] = MODEL_WAITS;
        }
        if (i > 0 && up >= 0 && up < above->width && s->before[up] + 2 * d + BEND < cost) {
            cost = s->before[up] + 2 * d + BEND;
            move[k] = RECORDING_WAITS;
        }
        s->now[k] = cost;
        int end = cost + (rows - 1 - (int)i) * LEFT_OUT;
        if (end < s->best_end) {
            s->best_end = end;
            s->best_row = (int)i;
            s->best_column = j;
        }
    }
}

static void trace(const search *s, hy_path *path)
{
    int i = s->best_row, j = s->best_column;
    for (size_t k = (size_t)i + 1; k < path->count; k++) {
        path->at[k] = (int)s->recording->count;
    }
    for (;;) {
        const reach *r = &s->rows[i];
        path->at[i] = j; /* of several, the first that stands beside it */
        switch (s->moves[r->first + (size_t)(j - r->left)]) {
        case DIAGONAL:
            i--;
            j--;
            break;
        case MODEL_WAITS:
            j--;
            break;
        case RECORDING_WAITS:
            i--;
            break;
        default:
            for (int k = 0; k < i; k++) {
                path->at[k] = -1;
            }
            return;
        }
    }
}

/* Where each row looks: everywhere, or from a little ahead of near[i] to a little behind near[i + 1], for the recording may
 * wait in between. Returns the moves there are, and the widest row. */
static size_t set_reach(search *s, const int *near, int band, int *widest)
{
    size_t all = 0;
    *widest = 0;
    for (size_t i = 0; i < s->model->count; i++) {
        reach *r = &s->rows[i];
        int next = near != NULL && i + 1 < s->model->count && near[i + 1] > near[i] ? near[i + 1] - near[i] : 0;
        r->left = near != NULL ? near[i] - band : 0;
        r->width = near != NULL ? 2 * band + 1 + next : (int)s->recording->count;
        r->first = all;
        all += (size_t)r->width;
        *widest = r->width > *widest ? r->width : *widest;
    }
    return all;
}

int hy_path_find(hy_path *path, const hy_levels *model, const hy_levels *recording, const int *near, int band,
                 hy_diag *diag)
{
    search s = {.model = model, .recording = recording, .best_end = INT_MAX};
    int widest = 0;
    path->count = model->count;
    path->at = malloc((model->count + 1) * sizeof *path->at);
    s.rows = malloc((model->count + 1) * sizeof *s.rows);
    s.moves = s.rows != NULL ? malloc(set_reach(&s, near, band, &widest) + 1) : NULL;
    s.now = malloc(((size_t)widest + 1) * sizeof *s.now);
    s.before = malloc(((size_t)widest + 1) * sizeof *s.before);
    int failed = path->at == NULL || s.moves == NULL || s.now == NULL || s.before == NULL;
    if (failed) {
        hy_fail(diag, "memory is out");
    } else {
        for (size_t i = 0; i < model->count; i++) {
            row(&s, i);
            int *swap = s.before;
            s.before = s.now;
            s.now = swap;
        }
        if (s.best_end == INT_MAX) {
            failed = hy_fail(diag, "the recording can't be laid beside the model");
        } else {
            trace(&s, path);
            path->cost = s.best_end / (2.0 * (double)model->count * HY_BANDS * HY_LEVELS_PER_DB);
        }
    }
    free(s.rows);
    free(s.moves);
    free(s.now);
    free(s.before);
    if (failed) {
        hy_path_free(path);
    }
    return failed ? -1 : 0;
}

void hy_path_free(hy_path *path)
{
    free(path->at);
    path->at = NULL;
}
