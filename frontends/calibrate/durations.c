/* Durations from moments: linear least squares, the start and the 64 durations unknown. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "moments.h"

enum { N = HYOID_PHONEMES + 1, START = HYOID_PHONEMES, ROUNDS = 10 };
static const double PRIOR_SIGMA = 400; /* filter cycles: expected durations hardly bind */

/* Cholesky: the lower half of a becomes L; 0 if not positive definite. */
static int factor(double a[N][N])
{
    for (int i = 0; i < N; i++) {
        for (int j = 0; j <= i; j++) {
            double s = a[i][j];
            for (int k = 0; k < j; k++) {
                s -= a[i][k] * a[j][k];
            }
            if (i == j) {
                if (!(s > 0)) {
                    return 0;
                }
                a[i][i] = sqrt(s);
            } else {
                a[i][j] = s / a[j][j];
            }
        }
    }
    return 1;
}

static void solve(double l[N][N], double *x)
{
    for (int i = 0; i < N; i++) {
        for (int k = 0; k < i; k++) {
            x[i] -= l[i][k] * x[k];
        }
        x[i] /= l[i][i];
    }
    for (int i = N - 1; i >= 0; i--) {
        for (int k = i + 1; k < N; k++) {
            x[i] -= l[k][i] * x[k];
        }
        x[i] /= l[i][i];
    }
}

/* The moment's row: how often each duration has passed before it, and what passed besides. Within an item the chip's own time counts,
 * whether the host waits for its end or not. */
static double row_of(const hy_material *m, const hy_moment *moment, double *row, size_t *done, double *fixed)
{
    for (; *done < moment->item; ++*done) {
        const hy_said *said = &m->said[*done];
        row[said->code] += said->waits ? 1 : 0;
        *fixed += said->ticks;
    }
    return moment->share;
}

static int by_item(const void *a, const void *b)
{
    const hy_moment *x = a, *y = b;
    return x->item != y->item ? (x->item > y->item) - (x->item < y->item)
                              : (x->share > y->share) - (x->share < y->share);
}

typedef struct fit {
    double a[N][N];
    double x[N];
    double prior[N];
    double scale; /* moments' deviation in units of their sigma */
} fit;

static int round_of(fit *f, const hy_material *m, const hy_moment *moments, size_t count, int first)
{
    double row[N] = {0}, b[N], fixed = 0, sum = 0, total = 0;
    size_t done = 0;
    memset(f->a, 0, sizeof f->a);
    for (int k = 0; k < N; k++) {
        double strength = k == START ? 1e-12 : 1 / (PRIOR_SIGMA * PRIOR_SIGMA);
        f->a[k][k] = strength;
        b[k] = strength * f->prior[k];
    }
    row[START] = 1;
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(moments[i].sigma)) {
            continue;
        }
        double share = row_of(m, &moments[i], row, &done, &fixed);
        unsigned code = m->said[moments[i].item].code;
        row[code] += share;
        double expected = fixed;
        for (int k = 0; k < N; k++) {
            expected += row[k] * f->x[k];
        }
        double off = (moments[i].at - expected) / moments[i].sigma, u = off / (2.5 * f->scale);
        double robust = first ? 1 : 1 / ((1 + u * u) * (1 + u * u));
        double w = robust / (moments[i].sigma * moments[i].sigma);
        sum += robust * off * off;
        total += robust;
        for (int j = 0; j < N; j++) {
            if (row[j] != 0) {
                for (int k = 0; k <= j; k++) {
                    f->a[j][k] += w * row[j] * row[k];
                }
                b[j] += w * row[j] * (moments[i].at - fixed);
            }
        }
        row[code] -= share;
    }
    if (!factor(f->a)) {
        return -1;
    }
    memcpy(f->x, b, sizeof b);
    solve(f->a, f->x);
    f->scale = first ? 10 : fmax(sqrt(sum / fmax(total, 1e-9)), 1);
    return 0;
}

int hy_durations(const hy_material *m, const hy_moment *moments, size_t count, double duration[HYOID_PHONEMES],
                 double sigma[HYOID_PHONEMES], double *onset, double *spread)
{
    fit *f = calloc(1, sizeof *f);
    hy_moment *sorted = malloc((count + 1) * sizeof *sorted);
    int status = f != NULL && sorted != NULL && count > 0 ? 0 : -1;
    if (status == 0) {
        memcpy(sorted, moments, count * sizeof *sorted);
        qsort(sorted, count, sizeof *sorted, by_item);
        memcpy(f->prior, duration, HYOID_PHONEMES * sizeof(double));
        f->prior[START] = sorted[0].at;
        memcpy(f->x, f->prior, sizeof f->x);
        f->scale = 1e6;
    }
    for (int round = 0; status == 0 && round < ROUNDS; round++) {
        status = round_of(f, m, sorted, count, round == 0);
    }
    if (status == 0) {
        int said[HYOID_PHONEMES] = {0};
        onset[0] = f->x[START];
        for (size_t i = 0; i < m->items; i++) {
            onset[i + 1] = onset[i] + (double)m->said[i].ticks + (m->said[i].waits ? f->x[m->said[i].code] : 0);
            said[m->said[i].code] |= m->said[i].waits;
        }
        for (int c = 0; c < HYOID_PHONEMES; c++) {
            double unit[N] = {0};
            unit[c] = 1;
            solve(f->a, unit);
            duration[c] = f->x[c];
            sigma[c] = said[c] ? sqrt(unit[c]) * f->scale : 0;
        }
        *spread = f->scale;
    }
    free(f);
    free(sorted);
    return status;
}
