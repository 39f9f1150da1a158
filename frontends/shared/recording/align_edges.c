/* Edges of phonemes: around each latch of the model, the shift at which the recording's bands move as the model's do. */
#include <math.h>
#include <stdlib.h>

#include "align_private.h"

enum { REACH = 12, SHIFT = 30, SHIFTS = 2 * SHIFT + 1 }; /* frames to either side; milliseconds to try */
#define CAP 60.0 /* quarter dB: a band that is off for another reason counts no more than this */
#define OVERLAP                                                                                                      \
    40.0           /* values that tell the same: frames overlap, neighbouring bands go together, pulses all at once */
#define SEEN 0.020 /* s: an edge that is known less well than this is not seen */
#define RAMP 0.030 /* s: registers and windows make a step so wide */
#define LEAST_RESIDUAL 4.0 /* quarter dB: rounding to bytes, and what a like chip differs by in a frame */

typedef struct place {
    const hy_levels *model, *recording;
    int first, edge, last; /* frames of the model around the edge */
    double base;           /* frames: recording's minus model's */
    int bands;             /* that are usable; the others are alike in all frames */
} place;

static double apart_at(const place *p, double shift, double *count)
{
    double sum = 0, n = 0;
    const int columns = (int)p->recording->count;
    for (int i = p->first; i <= p->last; i++) {
        double at = i + p->base + shift;
        int j = (int)floor(at);
        if (j < 0 || j + 1 >= columns) {
            continue;
        }
        float part = (float)(at - j), whole = 0;
        const unsigned char *m = p->model->level + (size_t)i * HY_BANDS;
        const unsigned char *a = p->recording->level + (size_t)j * HY_BANDS, *b = a + HY_BANDS;
        for (int k = 0; k < HY_BANDS; k++) {
            float r = (float)a[k] + part * (float)(b[k] - a[k]);
            float d = r - (float)m[k];
            d = d > (float)CAP ? (float)CAP : d < -(float)CAP ? -(float)CAP : d;
            whole += d * d;
        }
        sum += (double)whole;
        n += p->bands;
    }
    *count = n;
    return n > 0 ? sum / n : CAP * CAP;
}

/* How much the model moves around the edge: squares of its change per second. Noise moves by itself: no more is believed than a
 * change from the mean before to the mean behind, within RAMP, would give. */
static double movement(const place *p)
{
    double sum = 0, step = 0;
    const double before = p->edge - p->first + 1, after = p->last - p->edge - 1;
    for (int k = 0; k < HY_BANDS; k++) {
        double low = 0, high = 0;
        for (int i = p->first; i <= p->last; i++) {
            const unsigned char *at = p->model->level + (size_t)i * HY_BANDS + k;
            low += i <= p->edge ? *at / before : 0.0;
            high += i >= p->edge + 2 ? *at / after : 0.0;
            if (i > p->first && i < p->last) {
                double d = (at[HY_BANDS] - at[-HY_BANDS]) / (2 * p->model->hop);
                sum += d * d;
            }
        }
        step += (high - low) * (high - low);
    }
    step /= RAMP * p->model->hop;
    return after >= 1 && step < sum ? step : sum;
}

static void find(const place *p, hy_edge *edge)
{
    double apart[SHIFTS], count = 0;
    int best = 0;
    const double ms = 0.001 / p->model->hop;
    for (int s = 0; s < SHIFTS; s++) {
        apart[s] = apart_at(p, (s - SHIFT) * ms, &count);
        best = apart[s] < apart[best] ? s : best;
    }
    edge->uncertainty = INFINITY;
    double moved = movement(p);
    if (best == 0 || best == SHIFTS - 1 || moved <= 0 || count <= 0) {
        return;
    }
    double bend = apart[best - 1] - 2 * apart[best] + apart[best + 1];
    double top = bend > 0 ? 0.5 * (apart[best - 1] - apart[best + 1]) / bend : 0.0;
    double residual = apart[best] > LEAST_RESIDUAL ? apart[best] : LEAST_RESIDUAL;
    double u = 2 * sqrt(residual * OVERLAP / moved);
    /* and how far off it may be before the recording contradicts: a second dip may do as well as the first */
    int low = best, high = best;
    double alike = apart[best] + residual * 4 * OVERLAP / count;
    for (int s = 0; s < SHIFTS; s++) {
        low = apart[s] < alike && s < low ? s : low;
        high = apart[s] < alike && s > high ? s : high;
    }
    double wide = (high - best > best - low ? high - best : best - low) * 0.001;
    u = wide > u ? wide : u;
    if (u <= SEEN) {
        double shift = (best - SHIFT + top) * 0.001;
        edge->recording = edge->model + p->base * p->model->hop + shift;
        edge->uncertainty = u;
    }
}

static int ascending(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

/* The path's offset around frame i: the median, for single steps of a path mean nothing. Returns 0 where it has none. */
static int offset_at(const hy_path *path, const hy_levels *recording, int i, double *offset)
{
    int value[9], n = 0;
    for (int k = i - 4; k <= i + 4; k++) {
        if (k >= 0 && k < (int)path->count && path->at[k] >= 0 && path->at[k] < (int)recording->count) {
            value[n++] = path->at[k] - k;
        }
    }
    if (n == 0) {
        return 0;
    }
    qsort(value, (size_t)n, sizeof *value, ascending);
    const int middle = n / 2;
    *offset = value[middle];
    return 1;
}

/* Between edges that are seen, the others keep the model's proportion. */
static void fill(hy_edge *edge, size_t count, double speed)
{
    size_t before = SIZE_MAX;
    for (size_t i = 0; i <= count; i++) {
        if (i < count && !isfinite(edge[i].uncertainty)) {
            continue;
        }
        for (size_t k = before == SIZE_MAX ? 0 : before + 1; k < i; k++) {
            if (before == SIZE_MAX && i == count) {
                return; /* none is seen: the path's offsets stay */
            }
            if (before == SIZE_MAX) {
                edge[k].recording = edge[i].recording - (edge[i].model - edge[k].model) * speed;
            } else if (i == count) {
                edge[k].recording = edge[before].recording + (edge[k].model - edge[before].model) * speed;
            } else {
                double whole = edge[i].model - edge[before].model;
                double part = whole > 0 ? (edge[k].model - edge[before].model) / whole : 0.0;
                edge[k].recording = edge[before].recording + part * (edge[i].recording - edge[before].recording);
            }
        }
        before = i;
    }
}

static double mean_speed(const hy_edge *edge, size_t count)
{
    size_t first = 0, last = count;
    while (first < count && !isfinite(edge[first].uncertainty)) {
        first++;
    }
    while (last > first && !isfinite(edge[last - 1].uncertainty)) {
        last--;
    }
    if (last < first + 2 || edge[last - 1].model <= edge[first].model) {
        return 1.0;
    }
    return (edge[last - 1].recording - edge[first].recording) / (edge[last - 1].model - edge[first].model);
}

/* Time goes forward in both: of two edges that contradict each other the less certain one was not seen. */
static void in_order(hy_edge *edge, size_t count)
{
    size_t before = SIZE_MAX;
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(edge[i].uncertainty)) {
            continue;
        }
        if (before != SIZE_MAX && edge[i].recording <= edge[before].recording) {
            if (edge[i].uncertainty > edge[before].uncertainty) {
                edge[i].uncertainty = INFINITY;
                continue;
            }
            edge[before].uncertainty = INFINITY;
        }
        before = i;
    }
}

int hy_edges_find(hy_alignment *a, const hy_levels *model, const hy_levels *recording, const hy_path *path,
                  hy_diag *diag)
{
    const size_t count = a->model->spoken_count + 1;
    free(a->edge);
    a->edge = calloc(count, sizeof *a->edge);
    if (a->edge == NULL) {
        return hy_fail(diag, "memory is out");
    }
    double offset = 0;
    int bands = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        bands += a->usable[b];
    }
    for (size_t i = 0; i < count; i++) {
        const hy_spoken *s = &a->model->spoken[i < count - 1 ? i : i - 1];
        hy_edge *edge = &a->edge[i];
        edge->model = i < count - 1 ? s->from : s->to;
        edge->uncertainty = INFINITY;
        int frame = (int)lround(edge->model / model->hop);
        int there = offset_at(path, recording, frame, &offset);
        edge->recording = edge->model + offset * model->hop;
        /* no further than half way into the neighbours, which may last longer or shorter than they should */
        double before = i > 0 ? edge->model - a->model->spoken[i - 1].from : 1.0;
        double after = i < count - 1 ? s->to - s->from : 0.0;
        int left = (int)(0.6 * before / model->hop), right = (int)(0.6 * after / model->hop);
        left = left < REACH ? left : REACH;
        right = right < REACH ? right : REACH;
        place p = {model, recording, frame - left, frame, frame + right, offset, bands};
        p.first = p.first < 0 ? 0 : p.first;
        p.last = p.last < (int)model->count ? p.last : (int)model->count - 1;
        if (there && p.last - p.first >= 4) {
            find(&p, edge);
        }
    }
    in_order(a->edge, count);
    fill(a->edge, count, mean_speed(a->edge, count));
    return 0;
}
