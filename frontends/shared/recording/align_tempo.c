/* What the edges say of the clock. */
#include <math.h>
#include <stdlib.h>

#include "align_private.h"

#define ODD_S 0.006    /* a phoneme whose length is off by more than this, and by more than */
#define ODD_SHARE 0.03 /* this share, has a length of its own and says nothing about tempo */

/* Sums for a slope through runs of edges, each run with a level of its own. */
typedef struct slope {
    double xx, xy, yy, n;
    size_t runs;
} slope;

static void add_run(slope *s, const double *x, const double *y, const double *w, size_t first, size_t last)
{
    double sw = 0, sx = 0, sy = 0;
    if (last < first + 1) {
        return;
    }
    for (size_t i = first; i <= last; i++) {
        sw += w[i];
        sx += w[i] * x[i];
        sy += w[i] * y[i];
    }
    for (size_t i = first; i <= last && sw > 0; i++) {
        double dx = x[i] - sx / sw, dy = y[i] - sy / sw;
        s->xx += w[i] * dx * dx;
        s->xy += w[i] * dx * dy;
        s->yy += w[i] * dy * dy;
        s->n += w[i] > 0;
    }
    s->runs++;
}

static hy_estimate slope_of(const slope *s)
{
    hy_estimate e = {.value = 0, .uncertainty = INFINITY, .count = (size_t)s->n};
    double free_values = s->n - (double)s->runs - 1;
    if (s->xx > 0 && free_values > 0) {
        e.value = s->xy / s->xx;
        double left = s->yy - e.value * s->xy;
        e.uncertainty = 2 * sqrt((left > 0 ? left : 0) / free_values / s->xx);
    }
    return e;
}

/* The usual ratio of lengths: the median, long phonemes counting more. */
static double usual_ratio(const hy_edge *edge, const size_t *seen, size_t count, hy_diag *diag)
{
    double *ratio = malloc((count > 0 ? count : 1) * sizeof *ratio);
    if (ratio == NULL) {
        hy_fail(diag, "memory is out");
        return 1.0;
    }
    size_t n = 0;
    for (size_t k = 0; k + 1 < count; k++) {
        double m = edge[seen[k + 1]].model - edge[seen[k]].model;
        double r = edge[seen[k + 1]].recording - edge[seen[k]].recording;
        if (m > 0.04) {
            ratio[n++] = r / m;
        }
    }
    double usual = n > 0 ? hy_quantile(ratio, n, 0.5) : 1.0;
    free(ratio);
    return usual;
}

typedef struct tempo {
    size_t *seen, count; /* numbers of the edges that are seen */
    double *t, *bent, *late, *weight;
    size_t n;
} tempo;

/* Runs of edges between phonemes of odd length: their slope against x. */
static hy_estimate fit(const hy_edge *edge, const tempo *t, const double *x, double usual)
{
    slope s = {0};
    size_t first = 0;
    for (size_t k = 0; k < t->count; k++) {
        int ends = k + 1 == t->count;
        if (!ends) {
            double m = edge[t->seen[k + 1]].model - edge[t->seen[k]].model;
            double off = fabs(edge[t->seen[k + 1]].recording - edge[t->seen[k]].recording - usual * m);
            double sure = edge[t->seen[k]].uncertainty + edge[t->seen[k + 1]].uncertainty;
            ends = off > ODD_S + sure && off > ODD_SHARE * m;
        }
        if (ends) {
            add_run(&s, x, t->late, t->weight, first, k);
            first = k + 1;
        }
    }
    return slope_of(&s);
}

int hy_clock_tempo(hy_alignment *a, const double *bent, hy_diag *diag)
{
    const size_t count = a->model->spoken_count + 1;
    tempo t = {.seen = malloc(count * sizeof *t.seen),
               .t = malloc(count * sizeof *t.t),
               .bent = malloc(count * sizeof *t.bent),
               .late = malloc(count * sizeof *t.late),
               .weight = malloc(count * sizeof *t.weight)};
    int failed = t.seen == NULL || t.t == NULL || t.bent == NULL || t.late == NULL || t.weight == NULL;
    if (failed) {
        hy_fail(diag, "memory is out");
    } else {
        double sum_t = 0, sum_b = 0, tt = 0, bb = 0;
        for (size_t i = 0; i < count; i++) {
            const hy_edge *e = &a->edge[i];
            if (!isfinite(e->uncertainty)) {
                continue;
            }
            t.seen[t.count] = i;
            t.t[t.count] = e->model;
            t.bent[t.count] = (bent[i] - e->model) * 100.0; /* for a clock that is higher by 1, relatively */
            t.late[t.count] = e->recording - e->model;
            double u = e->uncertainty > 5e-4 ? e->uncertainty : 5e-4;
            t.weight[t.count] = 1e-6 / (u * u);
            sum_t += e->model;
            sum_b += t.bent[t.count];
            t.count++;
        }
        for (size_t k = 0; k < t.count; k++) {
            tt += pow(t.t[k] - sum_t / (double)t.count, 2);
            bb += pow(t.bent[k] - sum_b / (double)t.count, 2);
        }
        double usual = usual_ratio(a->edge, t.seen, t.count, diag);
        a->tempo_tells = t.count >= 3 && bb > 0.01 * tt; /* a tenth of the text's time moves with the clock */
        a->tempo = (hy_estimate){0, INFINITY, 0};
        a->recorder = (hy_estimate){0, INFINITY, 0};
        if (a->tempo_tells) {
            hy_estimate e = fit(a->edge, &t, t.bent, usual);
            if (isfinite(e.uncertainty)) {
                double off = e.value < -0.5 ? -0.5 : e.value > 0.5 ? 0.5 : e.value;
                a->tempo = (hy_estimate){a->model->scale * exp(off), a->model->scale * e.uncertainty, e.count};
            }
        } else {
            hy_estimate e = fit(a->edge, &t, t.t, usual);
            if (isfinite(e.uncertainty)) {
                a->recorder = (hy_estimate){1 + e.value, e.uncertainty, e.count};
            }
        }
    }
    free(t.seen);
    free(t.t);
    free(t.bent);
    free(t.late);
    free(t.weight);
    return failed ? -1 : 0;
}
