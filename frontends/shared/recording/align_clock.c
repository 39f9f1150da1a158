/* The part's clock: what the pitch says once the phonemes are laid side by side, and what pitch and tempo say together. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "align_private.h"
#include "points.h"

/* ---- pitch ---- */

static void see_ratio(void *user, size_t spoken, double at, double recording_hz, double model_hz)
{
    (void)spoken;
    hy_points_add(user, at, log(recording_hz / model_hz));
}

/* The mean of what lies near the median. */
static hy_estimate middle(const double *value, size_t count, hy_diag *diag)
{
    hy_estimate e = {0, INFINITY, count};
    double *copy = malloc((count > 0 ? count : 1) * sizeof *copy);
    if (copy == NULL) {
        hy_fail(diag, "memory is out");
        return e;
    }
    if (count >= 8) {
        memcpy(copy, value, count * sizeof *copy);
        double median = hy_quantile(copy, count, 0.5);
        for (size_t i = 0; i < count; i++) {
            copy[i] = fabs(value[i] - median);
        }
        double spread = 1.4826 * hy_quantile(copy, count, 0.5) + 1e-4;
        double sum = 0, squares = 0, n = 0;
        for (size_t i = 0; i < count; i++) {
            if (fabs(value[i] - median) <= 2.5 * spread) {
                sum += value[i] - median;
                squares += (value[i] - median) * (value[i] - median);
                n += 1;
            }
        }
        e.value = median + sum / n;
        e.uncertainty = 2 * sqrt(squares / n / (n / 4)); /* the windows of four neighbours overlap */
    }
    free(copy);
    return e;
}

enum { WOW_PIECES_MAX = 8192 };

/* How the speed swings about its mean: ratios over a quarter of a second, what the pitch alone can tell. */
static void find_wow(hy_alignment *a, const hy_points *r, double mean, hy_diag *diag)
{
    const double piece = 0.25;
    double *swing = malloc(WOW_PIECES_MAX * sizeof *swing);
    if (swing == NULL) {
        hy_fail(diag, "memory is out");
        return;
    }
    size_t crossings = 0, pieces = 0;
    double first = -1, last = -1;
    for (size_t i = 0; i < r->count && pieces < WOW_PIECES_MAX;) {
        double value[64];
        size_t n = 0, k = i;
        for (; k < r->count && r->at[k] < r->at[i] + piece; k++) {
            if (fabs(r->value[k] - mean) < 0.05 && n < 64) {
                value[n++] = r->value[k] - mean;
            }
        }
        if (n >= 8) {
            swing[pieces] = hy_quantile(value, n, 0.5);
            crossings += pieces > 0 && swing[pieces] * swing[pieces - 1] < 0;
            pieces++;
            first = first < 0 ? r->at[i] : first;
            last = r->at[i];
        }
        i = k;
    }
    a->wow_hz = pieces >= 4 && last > first ? 0.5 * (double)crossings / (last - first) : 0.0;
    /* single pieces may be wrong; a sine's middle nine tenths reach 99 % of its swing */
    a->wow_peak = pieces >= 4 ? 0.5 * (hy_quantile(swing, pieces, 0.95) - hy_quantile(swing, pieces, 0.05)) : 0.0;
    free(swing);
}

static int fit_pitch(hy_alignment *a, hy_diag *diag)
{
    hy_pitch_signal recording = {0}, model = {0};
    hy_points r = {0};
    int failed = hy_pitch_signal_make(&recording, a->recording->samples, a->recording->count, diag) != 0 ||
                 hy_pitch_signal_make(&model, a->model->samples, a->model->count, diag) != 0;
    if (!failed) {
        hy_align_pitches(a, &recording, &model, see_ratio, &r);
        failed = r.failed ? hy_fail(diag, "memory is out") : 0;
    }
    a->pitch = (hy_estimate){0, INFINITY, 0};
    a->wow_peak = a->wow_hz = 0;
    if (!failed) {
        hy_estimate e = middle(r.value, r.count, diag);
        if (isfinite(e.uncertainty)) {
            a->pitch = (hy_estimate){a->model->scale * exp(e.value), a->model->scale * e.uncertainty, e.count};
            find_wow(a, &r, e.value, diag);
        }
    }
    hy_pitch_signal_free(&recording);
    hy_pitch_signal_free(&model);
    hy_points_free(&r);
    return failed ? -1 : 0;
}

/* ---- both ---- */

#define AGREE 0.004 /* what the two may differ by beyond their uncertainties: another pitch period is 0.5 % */

#define APART 0.03 /* and a timer that is off by more than this is not taken for the clock */

int hy_clock_refine(hy_alignment *a, const double *bent, hy_diag *diag)
{
    if (hy_clock_tempo(a, bent, diag) != 0 || fit_pitch(a, diag) != 0) {
        return -1;
    }
    int has_tempo = isfinite(a->tempo.uncertainty), has_pitch = isfinite(a->pitch.uncertainty);
    a->agree = 1;
    if (has_tempo && has_pitch) {
        double apart = fabs(a->tempo.value - a->pitch.value);
        a->agree = apart <= AGREE * a->tempo.value + a->tempo.uncertainty + a->pitch.uncertainty;
    }
    if (has_tempo && has_pitch && a->agree) {
        double ut = a->tempo.uncertainty + 1e-5, up = a->pitch.uncertainty + 1e-5;
        double wt = 1 / (ut * ut), wp = 1 / (up * up);
        a->scale = (wt * a->tempo.value + wp * a->pitch.value) / (wt + wp);
    } else {
        /* formants follow the pitch, and without them nothing is found again: a tempo that is far off is not taken */
        int far = has_tempo && has_pitch && fabs(log(a->tempo.value / a->pitch.value)) > APART;
        a->scale = has_tempo && !far ? a->tempo.value : has_pitch ? a->pitch.value : a->model->scale;
    }
    a->scale = a->scale < HY_SCALE_LEAST ? HY_SCALE_LEAST : a->scale > HY_SCALE_MOST ? HY_SCALE_MOST : a->scale;
    return 0;
}
