/* Which way round a recording is, and where it begins. */
#include <math.h>
#include <stdlib.h>

#include "align_private.h"

enum { WINDOW = HY_ANALYSIS_RATE * 3 / 100, LAGS = HY_ANALYSIS_RATE * 6 / 1000, LOOKS = 80 };

/* The largest agreement and the largest disagreement of the two signals around a place, over lags of half a pitch period. */
static void agreement(const hy_alignment *a, double at, double *like, double *unlike)
{
    long m0 = lround(at * HY_ANALYSIS_RATE) - WINDOW / 2;
    long r0 = lround(hy_align_recording_time(a, at) * HY_ANALYSIS_RATE) - WINDOW / 2;
    *like = *unlike = 0;
    if (m0 < 0 || m0 + WINDOW > (long)a->model->count || r0 < LAGS ||
        r0 + WINDOW + LAGS > (long)a->recording->count) {
        return;
    }
    const float *m = a->model->samples + m0, *r = a->recording->samples + r0;
    float mm = 0;
    for (int i = 0; i < WINDOW; i++) {
        mm += m[i] * m[i];
    }
    for (int lag = -LAGS; lag <= LAGS; lag += 2) {
        float mr = 0, rr = 0;
        for (int i = 0; i < WINDOW; i++) {
            mr += m[i] * r[i + lag];
            rr += r[i + lag] * r[i + lag];
        }
        double c = mm > 0 && rr > 0 ? (double)mr / sqrt((double)mm * (double)rr) : 0.0;
        *like = c > *like ? c : *like;
        *unlike = -c > *unlike ? -c : *unlike;
    }
}

void hy_align_polarity(hy_alignment *a)
{
    size_t voiced = 0;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        voiced += a->model->spoken[i].voice > 60;
    }
    size_t every = voiced / LOOKS + 1, k = 0;
    double votes = 0, cast = 0;
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        const hy_spoken *s = &a->model->spoken[i];
        if (s->voice <= 60 || k++ % every != 0) {
            continue;
        }
        double like, unlike;
        agreement(a, 0.4 * s->from + 0.6 * s->to, &like, &unlike);
        double best = like > unlike ? like : unlike;
        if (best > 0.5) {
            votes += (like > unlike ? 1 : -1) * best * best;
            cast += best * best;
        }
    }
    a->polarity_sure = cast > 0 ? fabs(votes) / cast : 0.0;
    a->polarity = cast > 0 && a->polarity_sure > 0.5 && a->low_hz <= HY_CUT_LOW_HZ ? (votes > 0 ? 1 : -1) : 0;
}

enum { FIRST_EDGES = 9 };

/* Where the input's time 0 lies: the median of the first edges that are seen, drift taken out. */
int hy_align_delay(hy_alignment *a, hy_diag *diag)
{
    size_t count = a->model->spoken_count + 1, n = 0;
    double speed = isfinite(a->recorder.uncertainty) ? a->recorder.value : 1.0;
    double *off = malloc(count * sizeof *off);
    if (off == NULL) {
        return hy_fail(diag, "memory is out");
    }
    double weight = 0;
    for (size_t i = 0; i < count && n < FIRST_EDGES; i++) {
        const hy_edge *e = &a->edge[i];
        if (isfinite(e->uncertainty)) {
            off[n++] = e->recording - speed * (e->model - HY_MODEL_LEAD_MS * 1e-3);
            weight += 1 / (e->uncertainty * e->uncertainty + 1e-8);
        }
    }
    a->delay = n > 0 ? hy_quantile(off, n, 0.5) : a->edge[0].recording - a->edge[0].model;
    a->delay_uncertainty = weight > 0 ? 1 / sqrt(weight) : INFINITY;
    free(off);
    return 0;
}
