#include "warp.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tick_bands.h"

enum { LEAST = 40 };
static const float RANGE_DB = 50; /* below the loudest frame: silence */
static const float CAP_DB = 25, STRETCH_COST = 1.5f;

typedef struct track {
    float (*db)[HY_TICK_BANDS];
    size_t first, count; /* of the frames that are not silence at the ends */
    size_t frames;
} track;

static void track_free(track *t)
{
    free(t->db);
}

static float loudness(const hy_tick_frame *f)
{
    float sum = 0;
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        sum += f->power[b];
    }
    return 4.342945f * logf(sum + 1e-20f);
}

static int track_make(track *t, hy_tick_bands *bands, const float *sound, size_t count)
{
    size_t n = count / HY_WARP_HOP;
    t->frames = n;
    t->db = malloc((n + 1) * sizeof *t->db);
    float *loud = malloc((n + 1) * sizeof *loud);
    if (t->db == NULL || loud == NULL || n < LEAST) {
        free(loud);
        return -1;
    }
    float most = -1000;
    for (size_t i = 0; i < n; i++) {
        hy_tick_frame f;
        hy_tick_bands_frame(bands, sound, count, (long)(i * HY_WARP_HOP), &f);
        loud[i] = loudness(&f);
        most = fmaxf(most, loud[i]);
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            t->db[i][b] = 4.342945f * logf(f.power[b] + 1e-20f);
        }
    }
    size_t first = 0, last = n;
    while (first < n && loud[first] < most - 30) {
        first++;
    }
    while (last > first && loud[last - 1] < most - 30) {
        last--;
    }
    free(loud);
    t->first = first;
    t->count = last - first;
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        float top = -1000;
        for (size_t i = 0; i < n; i++) {
            top = fmaxf(top, t->db[i][b]);
        }
        double sum = 0;
        for (size_t i = first; i < last; i++) {
            t->db[i][b] = fmaxf(t->db[i][b], top - RANGE_DB);
            sum += (double)t->db[i][b];
        }
        for (size_t i = 0; i < n; i++) {
            t->db[i][b] = fmaxf(t->db[i][b], top - RANGE_DB) - (float)(sum / (double)t->count);
        }
    }
    return t->count < LEAST ? -1 : 0;
}

static float apart(const float *a, const float *b)
{
    float sum = 0;
    for (int i = 0; i < HY_TICK_BANDS; i++) {
        sum += fminf(fabsf(a[i] - b[i]), CAP_DB);
    }
    return sum / HY_TICK_BANDS;
}

enum { CELLS = 1 << 28, CELLS_OPEN = 1 << 26 }; /* of the table: bytes; laid open each is looked at */
enum { BOTH, MODEL_ONLY, RECORDED_ONLY, BEGINS };

/* The path's recorded frame (fractional) for each model frame, both counted from their first; negative for model frames that it
 * passes over. open: the recording may begin and end anywhere within the model's speech. *total: the path's cost. 0, or -1 for memory;
 * 1: too long to be laid open. */
static int path(const track *m, const track *r, double slack, int open, double *place, double *total)
{
    size_t n = m->count, width = open ? r->count : (size_t)(slack * (double)r->count) * 2 + 64;
    if (open && width > CELLS_OPEN / n) {
        return 1;
    }
    if (width > CELLS / n) { /* of a very long recording the tempo must be nearer */
        width = CELLS / n;
    }
    if (width > r->count) {
        width = r->count;
    }
    unsigned char *back = malloc(n * width);
    float *cost = malloc(2 * width * sizeof *cost);
    size_t *from = malloc(n * sizeof *from);
    if (back == NULL || cost == NULL || from == NULL) {
        free(back);
        free(cost);
        free(from);
        return -1;
    }
    for (size_t i = 0; i < n; i++) { /* the window's first recorded frame */
        double middle = (double)i * (double)(r->count - 1) / (double)(n - 1);
        double low = middle - (double)width / 2;
        size_t most = r->count - width;
        from[i] = low <= 0 ? 0 : (size_t)low > most ? most : (size_t)low;
    }
    const float never = 1e30f;
    float least = never; /* at the recording's last frame */
    size_t ends = n - 1;
    for (size_t i = 0; i < n; i++) {
        float *now = cost + (i & 1) * width, *old = cost + (~i & 1) * width;
        size_t shift = i == 0 ? 0 : from[i] - from[i - 1];
        for (size_t k = 0; k < width; k++) {
            float d = apart(m->db[m->first + i], r->db[r->first + from[i] + k]);
            float best = k == 0 && (open || i == 0) ? 0 : never;
            int how = BEGINS;
            if (i > 0) {
                size_t o = k + shift; /* the same recorded frame in the old row */
                if (o >= 1 && o - 1 < width && old[o - 1] < best) {
                    best = old[o - 1];
                    how = BOTH;
                }
                if (o < width && old[o] + STRETCH_COST < best) {
                    best = old[o] + STRETCH_COST;
                    how = MODEL_ONLY;
                }
            }
            if (k > 0 && now[k - 1] + STRETCH_COST < best) {
                best = now[k - 1] + STRETCH_COST;
                how = RECORDED_ONLY;
            }
            now[k] = best >= never ? never : best + d;
            back[i * width + k] = (unsigned char)how;
        }
        if ((open || i == n - 1) && now[width - 1] < least) {
            least = now[width - 1];
            ends = i;
        }
    }
    *total = (double)least;
    size_t i = ends, k = width - 1;
    for (size_t q = 0; q < n; q++) {
        place[q] = -1;
    }
    double sum = 0, count = 0;
    for (;;) {
        sum += (double)(from[i] + k);
        count += 1;
        int how = back[i * width + k];
        if (how == RECORDED_ONLY && k > 0) {
            k--;
            continue;
        }
        place[i] = sum / count;
        sum = count = 0;
        if (i == 0 || how == BEGINS) {
            break;
        }
        size_t shift = from[i] - from[i - 1];
        k = how == BOTH ? k + shift - 1 : k + shift;
        i--;
    }
    free(back);
    free(cost);
    free(from);
    return 0;
}

/* Found samples from the path's places: straight on at the ends, or nothing where the path does not go. */
static void find(const track *m, const track *r, const double *place, const uint32_t *at, size_t n, double *found)
{
    for (size_t i = 0; i < n; i++) {
        double x = (double)at[i] / HY_WARP_HOP - (double)m->first, y;
        double last = (double)(m->count - 1);
        if (x <= 0) {
            y = place[0] < 0 ? NAN : place[0] + x;
        } else if (x >= last) {
            y = place[m->count - 1] < 0 ? NAN : place[m->count - 1] + (x - last);
        } else {
            size_t k = (size_t)x;
            y = place[k] + (x - (double)k) * (place[k + 1] - place[k]);
            y = place[k] < 0 || place[k + 1] < 0 ? NAN : y;
        }
        found[i] = (y + (double)r->first) * HY_WARP_HOP;
    }
}

static int lay(const float *model, size_t model_count, const float *recorded, size_t recorded_count, double slack,
               int open, const uint32_t *at, size_t n, double *found, double *cost)
{
    hy_tick_bands *bands = hy_tick_bands_new();
    track m = {0}, r = {0};
    double *place = NULL, total = 0;
    int status = bands != NULL && track_make(&m, bands, model, model_count) == 0 &&
                         track_make(&r, bands, recorded, recorded_count) == 0
                     ? 0
                     : -1;
    if (status == 0) {
        place = malloc(m.count * sizeof *place);
        status = place != NULL ? path(&m, &r, slack, open, place, &total) : -1;
    }
    if (status == 0) {
        find(&m, &r, place, at, n, found);
        *cost = total / (double)r.count;
    }
    free(place);
    track_free(&m);
    track_free(&r);
    hy_tick_bands_free(bands);
    return status;
}

int hy_warp(const float *model, size_t model_count, const float *recorded, size_t recorded_count, double slack,
            const uint32_t *at, size_t n, double *found, double *cost)
{
    return lay(model, model_count, recorded, recorded_count, slack, 0, at, n, found, cost);
}

int hy_warp_within(const float *model, size_t model_count, const float *recorded, size_t recorded_count,
                   const uint32_t *at, size_t n, double *found, double *cost)
{
    return lay(model, model_count, recorded, recorded_count, 0.5, 1, at, n, found, cost);
}
