/* The transitions' dividers run free, so that a register may begin to move at once or a whole count after its target changed. With
 * time counted by the noise register, one number a take says when for all items: but only together with the exact count, as a
 * count off by one is out of step after a second. So counts and places are searched as pairs. */
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"

enum { FEW = 120, LISTENED = 24, PLACES = 8, REACH = 24, PAIRS = (2 * REACH + 1) * PLACES, LEAST = 8, MOST = 512 };

typedef struct search {
    hy_fit *fit;
    unsigned divider;
    size_t counts, places; /* pairs are all of both */
    uint32_t count[2 * REACH + 1];
    hyoid_part part[2 * REACH + 1];
    hy_place *listened;
    size_t items;
    float (*cost)[PAIRS]; /* of each item */
} search;

static uint32_t *count_of(hyoid_part *part, unsigned divider)
{
    return divider == 0 ? &part->formant_cycles : divider == 1 ? &part->amplitude_cycles : &part->gate_cycles;
}

static uint32_t place_of(const search *s, size_t count, size_t place)
{
    return (uint32_t)(place * s->count[count] / s->places);
}

/* All pairs for one item. Formants take the pitch along (period and F1): where the voice stood is found anew for each. */
static void try_item(void *user, unsigned thread, size_t i)
{
    search *s = user;
    hy_fit *f = s->fit;
    hy_place at = s->listened[i];
    hy_judge *judge = f->judges[thread * f->take_count + at.take];
    uint16_t *pitch = &f->pitch[at.take][at.item], kept = *pitch;
    uint32_t divider[HY_DIVIDERS];
    memcpy(divider, f->divider[at.take], sizeof divider);
    hy_judge_set_dividers(judge, divider);
    for (size_t c = 0; c < s->counts; c++) {
        for (size_t p = 0; p < s->places; p++) {
            divider[s->divider] = place_of(s, c, p);
            if (s->divider == 0) {
                hy_fit_phase(f, thread, &s->part[c], at, 1);
            }
            s->cost[i][c * s->places + p] = (float)hy_fit_item(f, thread, &s->part[c], at);
            *pitch = kept;
        }
    }
    hy_judge_set_dividers(judge, f->divider[at.take]);
}

/* The best pair: the same count for all takes, a place for each. */
static size_t choose(const search *s, uint32_t *places)
{
    size_t best = 0;
    double least = 1e30;
    for (size_t c = 0; c < s->counts; c++) {
        double sum = 0;
        for (size_t t = 0; t < s->fit->take_count; t++) {
            double lowest = 1e30;
            for (size_t p = 0; p < s->places; p++) {
                double here = 0;
                for (size_t i = 0; i < s->items; i++) {
                    here += s->listened[i].take == t ? (double)s->cost[i][c * s->places + p] : 0;
                }
                if (here < lowest) {
                    lowest = here;
                    places[c * s->fit->take_count + t] = place_of(s, c, p);
                }
            }
            sum += lowest;
        }
        if (sum < least) {
            least = sum;
            best = c;
        }
    }
    return best;
}

/* Items to listen to, evenly spread, of the takes whose time is counted. */
static size_t gather(const hy_fit *f, hy_place *listened)
{
    size_t all = 0, n = 0, seen = 0;
    for (size_t i = 0; i < f->fitted_count; i++) {
        all += f->heard[f->fitted[i].take];
    }
    if (all < FEW) {
        return 0; /* so many pairs would find one that suits a few words by chance */
    }
    size_t most = LISTENED * f->take_count, wanted = all < most ? all : most;
    for (size_t i = 0; i < f->fitted_count && n < wanted; i++) {
        if (f->heard[f->fitted[i].take] && seen++ * wanted / all >= n) {
            listened[n++] = f->fitted[i];
        }
    }
    return n;
}

/* One divider: counts within reach in PLACES places, or the present count in every place; kept if all then fits better. */
static void find(search *s, int reach, uint32_t *places, uint32_t (*before)[HY_DIVIDERS], hyoid_part *part)
{
    hy_fit *f = s->fit;
    uint32_t now = *count_of(&f->part, s->divider);
    s->counts = 0;
    s->places = reach > 0 ? PLACES : now < PAIRS ? now : PAIRS;
    for (int64_t count = (int64_t)now - reach; count <= (int64_t)now + reach; count++) {
        const char *problem;
        s->part[s->counts] = f->part;
        *count_of(&s->part[s->counts], s->divider) = s->count[s->counts] = (uint32_t)(count > LEAST ? count : LEAST);
        s->counts += count >= LEAST && count <= MOST && hyoid_part_check(&s->part[s->counts], &problem) == HYOID_OK;
    }
    if (s->counts == 0) {
        return;
    }
    hy_parallel(f->threads, s->items, try_item, s);
    size_t best = choose(s, places);
    double cost = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
    *part = f->part;
    memcpy(before, f->divider, f->take_count * sizeof *before);
    f->part = s->part[best];
    for (size_t t = 0; t < f->take_count; t++) {
        f->divider[t][s->divider] = f->heard[t] ? places[best * f->take_count + t] : HY_UNKNOWN;
    }
    if (s->divider == 0) {
        hy_fit_phases(f, 0, 1);
    }
    if (hy_fit_mean(f, &f->part, f->fitted, f->fitted_count) >= cost) {
        f->part = *part;
        memcpy(f->divider, before, f->take_count * sizeof *before);
        if (s->divider == 0) {
            hy_fit_phases(f, 0, 1);
        }
    }
}

static int is_unknown(const hy_fit *f, unsigned divider)
{
    for (size_t t = 0; t < f->take_count; t++) {
        if (f->divider[t][divider] != HY_UNKNOWN) {
            return 0;
        }
    }
    return 1;
}

int hy_fit_dividers(hy_fit *f, int counts_too)
{
    /* amplitudes first: they are heard in all items and take no pitch along */
    static const unsigned order[HY_DIVIDERS] = {1, 0, 2};
    search *s = calloc(1, sizeof *s);
    hyoid_part *part = malloc(sizeof *part);
    uint32_t *places = calloc((2 * REACH + 1) * f->take_count, sizeof *places);
    uint32_t(*before)[HY_DIVIDERS] = calloc(f->take_count, sizeof *before);
    int status = -1;
    if (s != NULL && part != NULL && places != NULL && before != NULL) {
        s->fit = f;
        s->listened = calloc(LISTENED * f->take_count, sizeof *s->listened);
        s->cost = calloc(LISTENED * f->take_count, sizeof *s->cost);
        status = s->listened != NULL && s->cost != NULL ? 0 : -1;
        s->items = status == 0 ? gather(f, s->listened) : 0;
        for (unsigned i = 0; i < HY_DIVIDERS && s->items > 0; i++) {
            s->divider = order[i];
            if (counts_too && is_unknown(f, s->divider)) {
                find(s, REACH, places, before, part);
            }
            find(s, 0, places, before, part);
        }
        free(s->listened);
        free(s->cost);
    }
    free(s);
    free(part);
    free(places);
    free(before);
    return status;
}
