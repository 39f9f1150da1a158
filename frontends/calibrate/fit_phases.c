/* Where in its period the voice stood when an item's context began. A recording does not say it outright, and any place is as likely
 * as another; so every place in the period is tried, coarsely and then finely, and the nearest speech stays. */
#include "fit_private.h"

enum { COARSE = 4, NEAR = 8 }; /* filter cycles: half a period of F3; how far around a place that is known roughly */

typedef struct phase_work {
    hy_fit *fit;
    size_t first; /* of the fitted, then the held out */
    int near;
} phase_work;

/* Whether a voice sounds in the item's context. */
static int is_voiced(const hy_material *m, const hyoid_part *part, uint32_t item)
{
    int voiced = 0;
    for (uint32_t k = item > 2 ? item - 2 : 0; k <= item + 1 && k < m->items; k++) {
        voiced |= part->phoneme[m->said[k].code].va > 0;
    }
    return voiced;
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

void hy_fit_phase(hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place, int near)
{
    const hy_material *m = &f->takes[place.take];
    if (!is_voiced(m, part, place.item)) {
        return;
    }
    unsigned level = m->said[place.item].level;
    int period = (int)(part->pitch_period[level] + (255u >> part->pitch_f1_shift));
    double least = hy_fit_item(f, thread, part, place);
    for (int at = 0; at < period && !near; at += COARSE) {
        attempt(f, thread, part, place, at, &least);
    }
    for (int step = near ? NEAR : COARSE / 2; step > 0; step /= 2) {
        int middle = f->pitch[place.take][place.item];
        attempt(f, thread, part, place, middle - step, &least);
        attempt(f, thread, part, place, middle + step, &least);
    }
}

static void find_one(void *user, unsigned thread, size_t i)
{
    phase_work *w = user;
    hy_fit *f = w->fit;
    i += w->first;
    hy_fit_phase(f, thread, &f->part, i < f->fitted_count ? f->fitted[i] : f->held[i - f->fitted_count], w->near);
}

void hy_fit_phases(hy_fit *f, int held_only, int near)
{
    phase_work w = {f, held_only ? f->fitted_count : 0, near};
    hy_parallel(f->threads, f->fitted_count + f->held_count - w.first, find_one, &w);
}
