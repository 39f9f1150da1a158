/* Constants that are real numbers: all at once, by Gauss and Newton's method with Levenberg's damping. They lean on each other (a
 * shorter pulse sounds much like a wider first formant), so one at a time would creep. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"
#include "knobs.h"

enum { K = HY_REAL_KNOBS, LISTENED = 240 };
static const double PROBE = 0.004;

/* What one item says: sum of J'J and J'r. */
typedef struct share {
    float jj[K * (K + 1) / 2];
    float jr[K];
} share;

typedef struct newton {
    hy_fit *fit;
    const hy_place *places;
    hyoid_part probes[K];
    int turned[K];
    share *shares;
} newton;

static void one_item(void *user, unsigned thread, size_t i)
{
    newton *w = user;
    hy_fit *f = w->fit;
    hy_place place = w->places[i];
    hy_judge *judge = f->judges[thread * f->take_count + place.take];
    share *s = &w->shares[i];
    memset(s, 0, sizeof *s);
    size_t n = hy_judge_size(judge, place.item);
    float *base = malloc(n * sizeof *base), *moved = malloc(K * n * sizeof *moved);
    if (base != NULL && moved != NULL) {
        hy_judge_residual(judge, &f->part, place.item, base);
        for (int k = 0; k < K; k++) {
            float *m = moved + (size_t)k * n;
            if (w->turned[k]) {
                hy_judge_residual(judge, &w->probes[k], place.item, m);
            }
            for (size_t x = 0; x < n; x++) {
                m[x] = w->turned[k] ? (m[x] - base[x]) / (float)PROBE : 0;
            }
        }
        float scale = 1 / (float)n;
        for (int k = 0, at = 0; k < K; k++) {
            const float *a = moved + (size_t)k * n;
            for (int j = 0; j <= k; j++, at++) {
                const float *b = moved + (size_t)j * n;
                float sum = 0;
                for (size_t x = 0; x < n; x++) {
                    sum += a[x] * b[x];
                }
                s->jj[at] = sum * scale;
            }
            float sum = 0;
            for (size_t x = 0; x < n; x++) {
                sum += a[x] * base[x];
            }
            s->jr[k] = sum * scale;
        }
    }
    free(base);
    free(moved);
}

/* Solves (A + damping) x = -b; 0 if it can't be. */
static int solve(const double *jj, const double *jr, double damping, double *x)
{
    double a[K][K];
    for (int k = 0, at = 0; k < K; k++) {
        for (int j = 0; j <= k; j++, at++) {
            a[k][j] = jj[at];
        }
        a[k][k] += damping * (a[k][k] + 1) + 1e-6;
        x[k] = -jr[k];
    }
    for (int i = 0; i < K; i++) {
        for (int j = 0; j <= i; j++) {
            double sum = a[i][j];
            for (int k = 0; k < j; k++) {
                sum -= a[i][k] * a[j][k];
            }
            if (i == j && !(sum > 0)) {
                return 0;
            }
            a[i][j] = i == j ? sqrt(sum) : sum / a[j][j];
        }
    }
    for (int i = 0; i < K; i++) {
        for (int k = 0; k < i; k++) {
            x[i] -= a[i][k] * x[k];
        }
        x[i] /= a[i][i];
    }
    for (int i = K - 1; i >= 0; i--) {
        for (int k = i + 1; k < K; k++) {
            x[i] -= a[k][i] * x[k];
        }
        x[i] /= a[i][i];
    }
    return 1;
}

static int apply(hyoid_part *part, const double *x)
{
    for (unsigned k = 0; k < K; k++) {
        double by = x[k] > 0.05 ? 0.05 : x[k] < -0.05 ? -0.05 : x[k];
        if (by != 0 && !hy_knob_turn(part, k, by)) {
            return 0;
        }
    }
    return 1;
}

int hy_fit_reals(hy_fit *f, int rounds)
{
    newton *w = malloc(sizeof *w);
    hy_place *places = malloc((LISTENED + 1) * sizeof *places);
    share *shares = malloc((LISTENED + 1) * sizeof *shares);
    hyoid_part *tried = malloc(sizeof *tried);
    int status = w != NULL && places != NULL && shares != NULL && tried != NULL ? 0 : -1;
    if (status == 0) {
        size_t n = 0;
        for (size_t i = 0; i < LISTENED && i < f->fitted_count; i++) {
            places[n++] = f->fitted[f->fitted_count <= LISTENED ? i : i * f->fitted_count / LISTENED];
        }
        w->fit = f;
        w->places = places;
        w->shares = shares;
        double now = hy_fit_mean(f, &f->part, places, n), damping = 0.01;
        for (int round = 0; round < rounds; round++) {
            for (unsigned k = 0; k < K; k++) {
                w->probes[k] = f->part;
                w->turned[k] = hy_knob_turn(&w->probes[k], k, PROBE);
            }
            hy_parallel(f->threads, n, one_item, w);
            double jj[K * (K + 1) / 2] = {0}, jr[K] = {0}, x[K];
            for (size_t i = 0; i < n; i++) {
                for (int k = 0; k < K * (K + 1) / 2; k++) {
                    jj[k] += (double)shares[i].jj[k] / (double)n;
                }
                for (int k = 0; k < K; k++) {
                    jr[k] += (double)shares[i].jr[k] / (double)n;
                }
            }
            double before = now;
            for (int attempt = 0; attempt < 5; attempt++, damping *= 6) {
                *tried = f->part;
                if (!solve(jj, jr, damping, x) || !apply(tried, x)) {
                    continue;
                }
                double cost = hy_fit_mean(f, tried, places, n);
                if (cost < now) {
                    now = cost;
                    f->part = *tried;
                    damping = damping > 1e-4 ? damping / 12 : damping;
                    break;
                }
            }
            if (before - now < 1e-3 * before) {
                break;
            }
        }
        hy_fit_level(f);
    }
    free(w);
    free(places);
    free(shares);
    free(tried);
    return status;
}
