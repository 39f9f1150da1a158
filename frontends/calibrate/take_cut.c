/* A recording of which only a part is of the input, or that holds only a part of the input: which part. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "take.h"
#include "warp.h"

enum { LEAST_ITEMS = 12, ROUNDS = 4 };
/* Of the whole input's distance: what a part of it must come to. Complete recordings came to 0.97 and more (clean, clipped throughout, a
 * telephone's band, clocks from 500 kHz to 1 MHz), recordings that lack 2.4 s of 36 to 0.91 and less. */
static const double BETTER = 0.94;
static const double LACKING_S = 1.0; /* the path may pass over a first burst that is well in the recording */

typedef struct stretch {
    size_t first, last; /* items, the last one excluded */
    double clock_hz, apart;
    double *found; /* samples a filter cycle of clock_hz; NaN: not in the recording */
} stretch;

/* Lays the recording within the input, at the clock that take has. 1: it can't be. */
static int lay_within(hy_take *t, const hyoid_part *part, stretch *s, uint32_t *at, hy_diag *diag)
{
    if (hy_take_in_cycles(t, part, diag) != 0) {
        return -1;
    }
    size_t room = 1;
    for (size_t i = 0; i < t->items; i++) {
        room += hy_said_ticks(part, &t->said[i]);
    }
    float *model = malloc(room * sizeof *model);
    if (model == NULL) {
        hy_fail(diag, "out of memory");
        return -1;
    }
    size_t count = hy_speech_render(part, (hy_start){0}, t->said, t->items, model, room, at);
    int status = hy_warp_within(model, count, t->sound, t->material.count, at, t->items + 1, s->found, &s->apart);
    free(model);
    if (status != 0) {
        return 1;
    }
    s->first = 0;
    while (s->first < t->items && isnan(s->found[s->first])) {
        s->first++;
    }
    s->last = t->items;
    while (s->last > s->first && isnan(s->found[s->last])) {
        s->last--;
    }
    s->clock_hz = t->clock_hz;
    return s->last < s->first + LEAST_ITEMS;
}

/* From the clock that is stated on to the one that the stretch's tempo tells. */
static int search(hy_take *t, const hyoid_part *part, stretch *s, uint32_t *at, hy_diag *diag)
{
    int status = 0;
    t->clock_hz = t->clock_known ? t->clock_hz : t->stated_hz;
    for (int round = 0; status == 0 && round < ROUNDS; round++) {
        status = lay_within(t, part, s, at, diag);
        if (status != 0 || t->clock_known) {
            break;
        }
        double ratio = (s->found[s->last] - s->found[s->first]) / (double)(at[s->last] - at[s->first]);
        if (fabs(ratio - 1) < 0.005 || !(ratio > 0.3 && ratio < 3)) {
            break;
        }
        t->clock_hz /= ratio;
    }
    return status;
}

static void drop(hy_take *t, const hyoid_part *part, const stretch *s)
{
    const size_t of = t->items, first = s->first, items = s->last - s->first;
    const double cycle_s = part->filter_clocks / s->clock_hz;
    for (size_t i = 0; i <= items; i++) {
        t->onset_s[i] = s->found[first + i] * cycle_s;
    }
    memmove(t->said, t->said + first, items * sizeof *t->said);
    memmove(t->seconds, t->seconds + first, items * sizeof *t->seconds);
    memmove(t->uneven, t->uneven + first, items);
    t->items = items;
    t->uneven[0] = t->uneven[0] || first > 0; /* what sounded before it is not known */
    const size_t used = strlen(t->note);
    snprintf(t->note + used, sizeof t->note - used,
             "%sPARTIAL: phonemes %zu to %zu of the input's %zu are in the recording; the others are left out",
             used > 0 ? "; " : "", first + 1, s->last, of);
}

int hy_take_cut(hy_take *t, const hyoid_part *part, hy_diag *diag)
{
    const double whole_hz = t->clock_hz;
    stretch s = {.found = malloc((t->items + 1) * sizeof *s.found)};
    uint32_t *at = malloc((t->items + 1) * sizeof *at);
    if (s.found == NULL || at == NULL) {
        free(s.found);
        free(at);
        return hy_fail(diag, "out of memory");
    }
    int status = search(t, part, &s, at, diag);
    const double lacking = status == 0 ? (double)(at[s.first] + at[t->items] - at[s.last]) : 0.0;
    if (status == 0 && lacking * part->filter_clocks > LACKING_S * t->clock_hz && s.apart < BETTER * t->apart) {
        t->clock_hz = s.clock_hz;
        drop(t, part, &s);
    } else if (status >= 0 && isinf(t->apart)) {
        status = hy_fail(diag, "%s: %.1f s, far too short for the input, and no part of that is found in it",
                         t->recording->name, t->recording->seconds);
    } else {
        t->clock_hz = whole_hz;
        status = status > 0 ? 0 : status;
    }
    free(s.found);
    free(at);
    return status;
}
