#include "measure.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "say.h"

enum { POLES = 8, RATE = 9200, WINDOW = 460, STEP = 115 };

static const double pi = 3.14159265358979323846;

/* Halves the rate: a windowed sinc that is flat to 4450 Hz. */
static size_t halve(const float *in, size_t count, double *out)
{
    enum { SIDE = 128 };
    size_t made = 0;
    for (size_t i = SIDE; i + SIDE < count; i += 2) {
        double sum = 0.5 * 0.984 * in[i];
        for (int j = 1; j <= SIDE; j++) {
            const double w = cos(0.5 * pi * j / (SIDE + 1));
            sum += (in[i - (size_t)j] + in[i + (size_t)j]) * sin(0.5 * 0.984 * pi * j) / (pi * j) * w * w;
        }
        out[made++] = sum;
    }
    return made;
}

/* Burg's method: prediction coefficients a[1..POLES] of x, a[0] = 1. */
static void burg(const double *x, size_t n, double a[POLES + 1])
{
    double forward[WINDOW], backward[WINDOW];
    memcpy(forward, x, n * sizeof *x);
    memcpy(backward, x, n * sizeof *x);
    memset(a, 0, (POLES + 1) * sizeof *a);
    a[0] = 1.0;
    for (size_t m = 1; m <= POLES; m++) {
        double up = 0.0, down = 0.0;
        for (size_t i = m; i < n; i++) {
            up += forward[i] * backward[i - 1];
            down += forward[i] * forward[i] + backward[i - 1] * backward[i - 1];
        }
        const double k = down > 0.0 ? -2.0 * up / down : 0.0;
        double next[POLES + 1];
        for (size_t i = 0; i <= m; i++) {
            next[i] = a[i] + k * a[m - i];
        }
        memcpy(a, next, (m + 1) * sizeof *a);
        for (size_t i = n - 1; i >= m; i--) {
            const double f = forward[i];
            forward[i] = f + k * backward[i - 1];
            backward[i] = backward[i - 1] + k * f;
        }
    }
}

static int rising(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Frequencies of the poles, rising; at most POLES / 2. */
static size_t resonances(const double a[POLES + 1], double hz[POLES / 2])
{
    double complex z[POLES];
    for (int i = 0; i < POLES; i++) { /* all roots at once (Durand, Kerner) */
        z[i] = cpow(0.4 + 0.9 * I, i);
    }
    for (int round = 0; round < 200; round++) {
        double moved = 0.0;
        for (int i = 0; i < POLES; i++) {
            double complex value = 1.0, others = 1.0;
            for (int j = 1; j <= POLES; j++) {
                value = value * z[i] + a[j];
            }
            for (int j = 0; j < POLES; j++) {
                others *= j != i ? z[i] - z[j] : 1.0;
            }
            const double complex d = value / others;
            z[i] -= d;
            moved += cabs(d);
        }
        if (moved < 1e-10) {
            break;
        }
    }
    size_t count = 0;
    for (int i = 0; i < POLES; i++) {
        const double f = carg(z[i]) * RATE / (2.0 * pi);
        if (f > 50.0 && f < RATE / 2 - 50.0 && count < POLES / 2) {
            hz[count++] = f;
        }
    }
    qsort(hz, count, sizeof *hz, rising);
    return count;
}

void measure_formants(const hyoid_part *part, unsigned code, unsigned level, double hz[FORMANTS])
{
    enum { FRAMES = 40 };
    sound s = {0};
    hold(&s, part, code, level, part->nominal_hz, 2 * RATE, 800.0);
    double *x = calloc(s.count, sizeof *x);
    if (x == NULL) {
        abort();
    }
    const size_t count = halve(s.frames, s.count, x);
    const double emphasis = exp(-2.0 * pi * 50.0 / RATE), edge = exp(-12.0);
    double found[FORMANTS][FRAMES];
    size_t frames = 0;
    for (size_t at = (size_t)(0.3 * RATE); at + WINDOW < count && frames < FRAMES; at += STEP) {
        double w[WINDOW], a[POLES + 1], f[POLES / 2];
        for (size_t i = 0; i < WINDOW; i++) {
            const double t = ((double)i - 0.5 * (WINDOW - 1)) / (WINDOW + 1);
            w[i] = (x[at + i] - emphasis * x[at + i - 1]) * (exp(-48.0 * t * t) - edge) / (1.0 - edge);
        }
        burg(w, WINDOW, a);
        if (resonances(a, f) >= FORMANTS) {
            for (size_t k = 0; k < FORMANTS; k++) {
                found[k][frames] = f[k];
            }
            frames++;
        }
    }
    for (size_t k = 0; k < FORMANTS; k++) {
        qsort(found[k], frames, sizeof *found[k], rising);
        hz[k] = frames > 0 ? found[k][frames / 2] : 0.0;
    }
    free(x);
    sound_free(&s);
}

void measure_sound(const hyoid_part *part, unsigned code, unsigned level, double *level_db, double *gravity_hz)
{
    enum { SOUND_RATE = 22050, LENGTH = 512, SKIP = 6615 };
    sound s = {0};
    hold(&s, part, code, level, part->nominal_hz, SOUND_RATE, 900.0);
    double power = 0.0, bins[LENGTH / 2] = {0};
    size_t windows = 0;
    for (size_t i = SKIP; i < s.count; i++) {
        power += (double)s.frames[i] * s.frames[i];
    }
    if (level_db != NULL) {
        *level_db = 10.0 * log10(power / (double)(s.count - SKIP) + 1e-20);
    }
    if (gravity_hz != NULL) {
        static double cosine[LENGTH], window[LENGTH];
        if (cosine[0] == 0.0) {
            for (size_t i = 0; i < LENGTH; i++) {
                cosine[i] = cos(2.0 * pi * (double)i / LENGTH);
                window[i] = 0.5 - 0.5 * cos(2.0 * pi * ((double)i + 0.5) / LENGTH);
            }
        }
        for (size_t at = SKIP; at + LENGTH <= s.count; at += LENGTH / 2, windows++) {
            for (size_t k = 1; k < LENGTH / 2; k++) {
                double re = 0.0, im = 0.0;
                for (size_t i = 0; i < LENGTH; i++) {
                    const double v = s.frames[at + i] * window[i];
                    re += v * cosine[i * k % LENGTH];
                    im += v * cosine[(i * k + LENGTH / 4) % LENGTH];
                }
                bins[k] += re * re + im * im;
            }
        }
        double sum = 0.0, moment = 0.0;
        for (size_t k = 1; k < LENGTH / 2; k++) {
            sum += bins[k];
            moment += bins[k] * (double)k * SOUND_RATE / LENGTH;
        }
        *gravity_hz = sum > 0.0 ? moment / sum : 0.0;
    }
    sound_free(&s);
}
