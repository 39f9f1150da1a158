/* Where in its period the voice stood when an item's context began. A recording does not say it outright, and any place is as likely
 * as another. It is found on the waveform: pulses lie where they lie, whatever the formants are. Bands would not do: where a voice is
 * cut off by a closure matters to them more than where it stood, so that a wrong cut would choose a wrong place, and a wrong place
 * hold the cut. Only the last few cycles are for the bands to say, as items begin where they do to a few cycles only. */
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"

enum {
    AGAIN = 12, /* the second time, or around a place that is known roughly */
    COARSE = 4, /* without a waveform: half a period of F3 */
    NEAR = 8,   /* bands' first step around that: half of COARSE's neighbours */
    FINE = 4    /* and around a waveform's place: to what its onset was cut, a few cycles */
};
static const float TOLD =
    0.1F; /* agreement below which a waveform tells nothing: two unlike ones reach it by chance */

/* Whether a voice sounds in the item's context. */
static int is_voiced(const hy_material *m, const hyoid_part *part, uint32_t item)
{
    int voiced = 0;
    for (uint32_t k = item > 2 ? item - 2 : 0; k <= item + 1 && k < m->items; k++) {
        voiced |= part->phoneme[m->said[k].code].va > 0;
    }
    return voiced;
}

/* Half of the longest period that an item's voice can have, and some more. */
static int half_period(const hyoid_part *part, const hy_said *said)
{
    const int half = (int)(part->pitch_period[said->level] + (255u >> part->pitch_f1_shift)) / 2 + AGAIN;
    return half < HY_JUDGE_REACH ? half : HY_JUDGE_REACH;
}

/* A place anywhere, as one within the period in which the context begins. */
static uint16_t wrapped(const hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int at)
{
    const int period = hy_judge_period(f->judges[thread * f->take_count + place.take], part, place.item);
    const int rest = at % period;
    return (uint16_t)(rest < 0 ? rest + period : rest);
}

static void attempt(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int at, double *least)
{
    uint16_t *pitch = &f->pitch[place.take][place.item], before = *pitch;
    *pitch = wrapped(f, thread, part, place, at);
    if (*pitch == before) {
        return;
    }
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

/* Where the waveforms agree best, and how well: as they are, and with the recording's sign turned. */
typedef struct agreement {
    int lag[2];
    float peak[2]; /* 1: the same sound */
} agreement;

static agreement agree(const hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int reach)
{
    float sums[2 * HY_JUDGE_REACH + 1], scale;
    int most = 0, least = 0;
    hy_judge_correlate(f->judges[thread * f->take_count + place.take], part, place.item, reach, sums, &scale);
    for (int i = 1; i <= 2 * reach; i++) {
        most = sums[i] > sums[most] ? i : most;
        least = sums[i] < sums[least] ? i : least;
    }
    const float by = scale > 0 ? 1 / scale : 0;
    return (agreement){{most - reach, least - reach}, {by * sums[most], -by * sums[least]}};
}

/* Moves the voice to where the waveform has it; 0 if that tells nothing. */
static int by_waveform(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int reach)
{
    uint16_t *pitch = &f->pitch[place.take][place.item];
    const int turned = f->sign[place.take] < 0;
    const agreement a = agree(f, thread, part, place, reach);
    if (a.peak[turned] < TOLD) {
        return 0;
    }
    *pitch = wrapped(f, thread, part, place, *pitch + a.lag[turned]);
    return 1;
}

void hy_fit_phase(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int near)
{
    const hy_material *m = &f->takes[place.take];
    if (!is_voiced(m, part, place.item)) {
        return;
    }
    int told = near || by_waveform(f, thread, part, place, half_period(part, &m->said[place.item]));
    told = told && by_waveform(f, thread, part, place, AGAIN);
    /* while it is not known when a gate closes, bands would move the voice to suit it */
    const int gated = !f->heard[place.take] || f->divider[place.take][2] != HY_UNKNOWN || f->gate_sought;
    if (!told || gated) {
        const int period = hy_judge_period(f->judges[thread * f->take_count + place.take], part, place.item);
        by_bands(f, thread, part, place, told || near ? 0 : period, told ? FINE : NEAR);
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
    agreement a = {{0}, {0}};
    if (f->part.phoneme[said->code].va > 0) {
        a = agree(f, thread, &f->part, f->fitted[i], half_period(&f->part, said));
    }
    memcpy(w->peaks[i], a.peak, sizeof a.peak);
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
