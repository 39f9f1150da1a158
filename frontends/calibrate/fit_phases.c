/* Where in its period the voice stood when an item's context began. A recording does not say it outright, and any place is as likely
 * as another. It is found on the waveform: pulses lie where they lie, whatever the formants are. Bands would not do: where a voice is
 * cut off by a closure matters to them more than where it stood, so that a wrong cut would choose a wrong place, and a wrong place
 * hold the cut. Only the last few cycles are for the bands to say, as items begin where they do to a few cycles only. */
#include <stdlib.h>

#include "fit_private.h"

enum {
    REACH = 1024, /* filter cycles at most: half a period */
    AGAIN = 12,   /* the second time, or around a place that is known roughly */
    COARSE = 4,   /* without a waveform: half a period of F3 */
    NEAR = 8,
    FINE = 4
};
static const float TOLD = 0.1F; /* correlation below which a waveform tells nothing */

/* Whether a voice sounds in the item's context. */
static int is_voiced(const hy_material *m, const hyoid_part *part, uint32_t item)
{
    int voiced = 0;
    for (uint32_t k = item > 2 ? item - 2 : 0; k <= item + 1 && k < m->items; k++) {
        voiced |= part->phoneme[m->said[k].code].va > 0;
    }
    return voiced;
}

/* A period of the voice in an item, with F1 anywhere. */
static int period_of(const hyoid_part *part, const hy_said *said)
{
    return (int)(part->pitch_period[said->level] + (127u >> part->pitch_f1_shift));
}

static void attempt(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int at, double *least)
{
    uint16_t *pitch = &f->pitch[place.take][place.item], before = *pitch;
    if (at < 0 || at == before) {
        return;
    }
    *pitch = (uint16_t)at;
    double cost = hy_fit_item(f, thread, part, place);
    if (cost < *least) {
        *least = cost;
    } else {
        *pitch = before;
    }
}

static void by_bands(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int all, int first)
{
    double least = hy_fit_item(f, thread, part, place);
    for (int at = 0; at < all; at += COARSE) {
        attempt(f, thread, part, place, at, &least);
    }
    for (int step = first; step > 0; step /= 2) {
        int middle = f->pitch[place.take][place.item];
        attempt(f, thread, part, place, middle - step, &least);
        attempt(f, thread, part, place, middle + step, &least);
    }
}

/* The lag of the best agreement, and that with the sign turned; *best and *turned: how good, 0..1. */
static int lag_of(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int reach, int sign,
                  float *best)
{
    float sums[2 * REACH + 1], scale;
    int at = 0;
    hy_judge_correlate(f->judges[thread * f->take_count + place.take], part, place.item, reach, sums, &scale);
    for (int i = 1; i <= 2 * reach; i++) {
        at = (float)sign * sums[i] > (float)sign * sums[at] ? i : at;
    }
    *best = scale > 0 ? (float)sign * sums[at] / scale : 0;
    return at - reach;
}

/* Moves the voice to where the waveform has it; 0 if that tells nothing. */
static int by_waveform(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int reach)
{
    const hy_material *m = &f->takes[place.take];
    const int period = period_of(part, &m->said[place.item > 2 ? place.item - 2 : 0]);
    uint16_t *pitch = &f->pitch[place.take][place.item];
    float peak;
    int at = *pitch + lag_of(f, thread, part, place, reach, f->sign[place.take], &peak);
    if (peak < TOLD) {
        return 0;
    }
    *pitch = (uint16_t)(at < 0 ? at + period : at >= period ? at - period : at);
    return 1;
}

void hy_fit_phase(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int near)
{
    const hy_material *m = &f->takes[place.take];
    if (!is_voiced(m, part, place.item)) {
        return;
    }
    const int period = period_of(part, &m->said[place.item]), half = period / 2 + AGAIN;
    int told = near || by_waveform(f, thread, part, place, half < REACH ? half : REACH);
    told = told && by_waveform(f, thread, part, place, AGAIN);
    /* while it is not known when a gate closes, bands would move the voice to suit it */
    const int gated = !f->heard[place.take] || f->divider[place.take][2] != HY_UNKNOWN || f->gate_sought;
    if (!told || gated) {
        by_bands(f, thread, part, place, told || near ? 0 : period + AGAIN, told ? FINE : NEAR);
    }
}

typedef struct phase_work {
    hy_fit *fit;
    size_t first; /* of the fitted, then the held out */
    int near;
    float (*peaks)[2]; /* of fitted items, for either sign */
} phase_work;

static void vote_one(void *user, unsigned thread, size_t i)
{
    phase_work *w = user;
    hy_fit *f = w->fit;
    const hy_said *said = &f->takes[f->fitted[i].take].said[f->fitted[i].item];
    const int half = period_of(&f->part, said) / 2 + AGAIN;
    w->peaks[i][0] = w->peaks[i][1] = 0;
    for (int k = 0; k < 2 && f->part.phoneme[said->code].va > 0; k++) {
        lag_of(f, thread, &f->part, f->fitted[i], half < REACH ? half : REACH, k == 0 ? 1 : -1, &w->peaks[i][k]);
    }
}

/* Which sign each recorder has: a pulse is no mirror image of itself. */
static int find_signs(phase_work *w)
{
    hy_fit *f = w->fit;
    w->peaks = malloc((f->fitted_count + 1) * sizeof *w->peaks);
    if (w->peaks == NULL) {
        return -1;
    }
    hy_parallel(f->threads, f->fitted_count, vote_one, w);
    for (size_t t = 0; t < f->take_count; t++) {
        double same = 0, turned = 0;
        for (size_t i = 0; i < f->fitted_count; i++) {
            if (f->fitted[i].take == t) {
                same += (double)(w->peaks[i][0] * w->peaks[i][0]);
                turned += (double)(w->peaks[i][1] * w->peaks[i][1]);
            }
        }
        f->sign[t] = turned > same ? -1 : 1;
    }
    free(w->peaks);
    return 0;
}

static void find_one(void *user, unsigned thread, size_t i)
{
    phase_work *w = user;
    hy_fit *f = w->fit;
    i += w->first;
    hy_fit_phase(f, thread, &f->part, i < f->fitted_count ? f->fitted[i] : f->held[i - f->fitted_count], w->near);
}

int hy_fit_phases(hy_fit *f, int held_only, int near)
{
    phase_work w = {.fit = f, .first = held_only ? f->fitted_count : 0, .near = near};
    if (!near && !held_only && find_signs(&w) != 0) {
        return -1;
    }
    hy_parallel(f->threads, f->fitted_count + f->held_count - w.first, find_one, &w);
    return 0;
}
