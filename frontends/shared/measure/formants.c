#include "formants.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "roots.h"

/* Two poles for each resonance. */
enum { POLES = 8, SIDE = 128, WINDOWS_MAX = 400 };
#define WINDOW_S 0.05 /* the Gaussian's ends; as long as a rectangle of half of it */
#define STEP_S 0.0125
#define EMPHASIS_HZ 50.0
#define DISAGREE 0.1
#define LEAST_RADIUS 0.1 /* wider than half of the band: of silence, no resonance */

static const double pi = 3.14159265358979323846;

/* Halves the rate: a windowed sinc that is flat to 0.48 of the new one. */
static size_t halve(const float *in, size_t count, double *out)
{
    double tap[SIDE + 1];
    size_t made = 0;
    tap[0] = 0.5 * 0.984;
    for (int j = 1; j <= SIDE; j++) {
        double w = cos(0.5 * pi * j / (SIDE + 1));
        tap[j] = sin(0.5 * 0.984 * pi * j) / (pi * j) * w * w;
    }
    for (size_t i = SIDE; i + SIDE < count; i += 2) {
        double sum = tap[0] * (double)in[i];
        for (size_t j = 1; j <= SIDE; j++) {
            sum += ((double)in[i - j] + (double)in[i + j]) * tap[j];
        }
        out[made++] = sum;
    }
    return made;
}

/* Prediction coefficients a[0..POLES] of x, a[0] = 1. `work` has room for 2 n values. */
static void burg(const double *x, size_t n, double *work, double a[POLES + 1])
{
    double *forward = work;
    double *backward = work + n;
    memcpy(forward, x, n * sizeof *x);
    memcpy(backward, x, n * sizeof *x);
    memset(a, 0, (POLES + 1) * sizeof *a);
    a[0] = 1;
    for (size_t m = 1; m <= POLES; m++) {
        double up = 0;
        double down = 0;
        for (size_t i = m; i < n; i++) {
            up += forward[i] * backward[i - 1];
            down += forward[i] * forward[i] + backward[i - 1] * backward[i - 1];
        }
        double k = down > 0 ? -2 * up / down : 0;
        double next[POLES + 1] = {0};
        for (size_t i = 0; i <= m; i++) {
            next[i] = a[i] + k * a[m - i];
        }
        memcpy(a, next, (m + 1) * sizeof *a);
        for (size_t i = n; i-- > m;) {
            double f = forward[i];
            forward[i] = f + k * backward[i - 1];
            backward[i] = backward[i - 1] + k * f;
        }
    }
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Frequencies of the poles between 50 Hz and 50 Hz below half the rate, rising. */
static size_t resonances(const double a[POLES + 1], double rate, double hz[POLES])
{
    double complex z[POLES];
    hy_roots(a, z, POLES);
    size_t count = 0;
    for (int i = 0; i < POLES; i++) {
        double f = carg(z[i]) * rate / (2 * pi);
        if (cabs(z[i]) > LEAST_RADIUS && f > 50 && f < rate / 2 - 50) {
            hz[count++] = f;
        }
    }
    qsort(hz, count, sizeof *hz, rising);
    return count;
}

/* Where half of the windows agree. */
static double agreed(double *values, size_t count)
{
    if (count < 4) {
        return NAN;
    }
    qsort(values, count, sizeof *values, rising);
    double middle = values[count / 2];
    double spread = values[count - 1 - count / 4] - values[count / 4];
    return middle > 0 && spread <= DISAGREE * middle ? middle : NAN;
}

typedef struct analysis {
    double *x;    /* the sound at half its rate */
    double *work; /* three windows */
    double found[HY_FORMANTS_MEASURED][WINDOWS_MAX];
} analysis;

static void measure(analysis *s, size_t count, double rate, double hz[HY_FORMANTS_MEASURED])
{
    size_t window = (size_t)(WINDOW_S * rate);
    size_t step = (size_t)(STEP_S * rate);
    double emphasis = exp(-2 * pi * EMPHASIS_HZ / rate);
    double edge = exp(-12);
    size_t windows = 0;
    for (size_t at = 1; at + window <= count && windows < WINDOWS_MAX; at += step, windows++) {
        double a[POLES + 1];
        double f[POLES];
        for (size_t i = 0; i < window; i++) {
            double t = ((double)i - 0.5 * (double)(window - 1)) / (double)(window + 1);
            s->work[i] = (s->x[at + i] - emphasis * s->x[at + i - 1]) * (exp(-48 * t * t) - edge) / (1 - edge);
        }
        burg(s->work, window, s->work + window, a);
        size_t there = resonances(a, rate, f);
        for (size_t k = 0; k < HY_FORMANTS_MEASURED; k++) {
            s->found[k][windows] = there >= HY_FORMANTS_MEASURED ? f[k] : 0; /* 0 pulls the quarters apart */
        }
    }
    for (size_t k = 0; k < HY_FORMANTS_MEASURED; k++) {
        hz[k] = agreed(s->found[k], windows);
    }
}

int hy_formants_measure(const float *frames, size_t count, uint32_t rate, double hz[HY_FORMANTS_MEASURED],
                        hy_diag *diag)
{
    analysis *s = malloc(sizeof *s);
    double *x = malloc((count / 2 + 1) * sizeof *x);
    double *work = malloc(3 * ((size_t)(WINDOW_S * rate) + 1) * sizeof *work);
    int status = 0;
    if (s != NULL && x != NULL && work != NULL) {
        s->x = x;
        s->work = work;
        measure(s, halve(frames, count, x), rate / 2.0, hz);
    } else {
        status = hy_fail(diag, "out of memory");
    }
    free(s);
    free(x);
    free(work);
    return status;
}
