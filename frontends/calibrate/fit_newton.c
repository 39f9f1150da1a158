/* Constants that are real numbers: all at once, by Gauss and Newton's method with Levenberg's damping. They lean on each other (a
 * shorter pulse sounds much like a wider first formant), so one at a time would creep. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"
#include "knobs.h"

enum { K = HY_REAL_KNOBS, PAIRS = K * (K + 1) / 2, LEVEL = K - 1 /* output_gain */, LISTENED = 240 };
static const double PROBE = 0.004; /* turn of a knob */

/* What one item says: sum of J'J and J'r. */
typedef struct share {
    float jj[PAIRS];
    float jr[K];
} share;

typedef struct newton {
    hy_fit *fit;
    hy_place *places;
    size_t count;
    hyoid_part probes[K], tried;
    int turned[K];
    share *shares;
    float *scratch; /* for each thread, K + 1 sets of residuals */
    size_t room;    /* residuals in a set */
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
    float *base = w->scratch + (size_t)thread * (K + 1) * w->room, *moved = base + w->room;
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
        float sum = 0;
        for (size_t x = 0; x < n; x++) {
            sum += a[x] * base[x];
        }
        s->jr[k] = sum * scale;
        for (int j = 0; j <= k; j++, at++) {
            const float *b = moved + (size_t)j * n;
            sum = 0;
            for (size_t x = 0; x < n; x++) {
                sum += a[x] * b[x];
            }
            s->jj[at] = sum * scale;
        }
    }
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
    if (!hy_cholesky(&a[0][0], K, K)) {
        return 0;
    }
    hy_cholesky_forward(&a[0][0], K, K, x);
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

static void linearise(newton *w, double *jj, double *jr)
{
    hy_fit *f = w->fit;
    const size_t n = w->count;
    for (unsigned k = 0; k < K; k++) {
        w->probes[k] = f->part;
        w->turned[k] = hy_knob_turn(&w->probes[k], k, PROBE);
    }
    hy_parallel(f->threads, n, one_item, w);
    memset(jj, 0, PAIRS * sizeof *jj);
    memset(jr, 0, K * sizeof *jr);
    for (size_t i = 0; i < n; i++) {
        for (int k = 0; k < PAIRS; k++) {
            jj[k] += (double)w->shares[i].jj[k] / (double)n;
        }
        for (int k = 0; k < K; k++) {
            jr[k] += (double)w->shares[i].jr[k] / (double)n;
        }
    }
}

/* One step down; the new cost, or `now` if there is none. */
static double step(newton *w, double now, double *damping)
{
    hy_fit *f = w->fit;
    double jj[PAIRS], jr[K], x[K];
    linearise(w, jj, jr);
    for (int attempt = 0; attempt < 5; attempt++, *damping *= 6) {
        w->tried = f->part;
        if (!solve(jj, jr, *damping, x) || !apply(&w->tried, x)) {
            continue;
        }
        double cost = hy_fit_mean(f, &w->tried, w->places, w->count);
        if (cost < now) {
            f->part = w->tried;
            *damping = *damping > 1e-4 ? *damping / 12 : *damping;
            return cost;
        }
    }
    return now;
}

/* What the recordings leave open: the standard error of each knob while all others adapt. Frames overlap and a phoneme's frames err
 * alike, so that each item counts as less than one difference: with INDEPENDENT = 1 five of 32 constants of two random parts lay
 * beyond two standard errors, the farthest at 3.6. */
static void errors(newton *w, double cost)
{
    static const double INDEPENDENT = 0.33;
    double jj[PAIRS], jr[K], x[K];
    linearise(w, jj, jr);
    for (int k = 0; k < K; k++) { /* levels are relative to the output: it stays where it is */
        jj[LEVEL * (LEVEL + 1) / 2 + k] = 0;
    }
    w->turned[LEVEL] = 0;
    for (int k = 0; k < K; k++) {
        memset(jr, 0, sizeof jr);
        jr[k] = -1;
        w->fit->knob_error[k] = w->turned[k] && solve(jj, jr, 0, x) && x[k] > 0
                                    ? sqrt(cost * x[k] / (INDEPENDENT * (double)w->count))
                                    : INFINITY;
    }
}

static void newton_free(newton *w)
{
    if (w != NULL) {
        free(w->places);
        free(w->shares);
        free(w->scratch);
    }
    free(w);
}

/* The items that are listened to: spread over all. Null when memory is short. */
static newton *newton_new(hy_fit *f)
{
    newton *w = calloc(1, sizeof *w);
    if (w == NULL) {
        return NULL;
    }
    w->fit = f;
    w->count = f->fitted_count < LISTENED ? f->fitted_count : LISTENED;
    w->room = 1;
    w->places = malloc((w->count + 1) * sizeof *w->places);
    w->shares = malloc((w->count + 1) * sizeof *w->shares);
    for (size_t i = 0; w->places != NULL && i < w->count; i++) {
        w->places[i] = f->fitted[i * f->fitted_count / w->count];
        const size_t size = hy_judge_size(f->judges[w->places[i].take], w->places[i].item);
        w->room = size > w->room ? size : w->room;
    }
    w->scratch = malloc((size_t)f->threads * (K + 1) * w->room * sizeof *w->scratch);
    if (w->places == NULL || w->shares == NULL || w->scratch == NULL) {
        newton_free(w);
        return NULL;
    }
    return w;
}

int hy_fit_reals(hy_fit *f, int rounds)
{
    newton *w = newton_new(f);
    if (w == NULL) {
        return -1;
    }
    double now = hy_fit_mean(f, &f->part, w->places, w->count), damping = 0.01;
    for (int round = 0; w->count > 0 && round < rounds; round++) {
        const double before = now;
        now = step(w, now, &damping);
        if (before - now < 1e-3 * before) {
            break;
        }
    }
    newton_free(w);
    hy_fit_level(f);
    return 0;
}

int hy_fit_errors(hy_fit *f)
{
    newton *w = newton_new(f);
    if (w == NULL) {
        return -1;
    }
    if (w->count > 0) {
        errors(w, hy_fit_mean(f, &f->part, w->places, w->count));
    }
    newton_free(w);
    return 0;
}

double hy_fit_constant_error(const hy_fit *f, size_t offset)
{
    double sum = 0;
    int searched = 0;
    for (unsigned k = 0; k < K; k++) {
        double effect = hy_knob_effect(&f->part, k, offset);
        if (effect != 0) {
            searched = 1;
            sum += effect * effect * f->knob_error[k] * f->knob_error[k];
        }
    }
    return searched ? sqrt(sum) : -1;
}
