/* The transitions' dividers run free, so that a register may begin to move at once or a whole count after its target changed. With
 * time counted by the noise register, one number a take says when for all items: but only together with the exact count, as a
 * count off by one is out of step after a second. So counts and places are searched as pairs. */
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"
#include "partfile_fields.h"

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

/* The count of a divider in a part. */
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

/* The place of one take that fits best with a count, HY_UNKNOWN if none of its items was listened to; *cost: the items' sum there. */
static uint32_t best_place(const search *s, size_t take, size_t count, double *cost)
{
    uint32_t best = HY_UNKNOWN;
    *cost = 0;
    for (size_t p = 0; p < s->places; p++) {
        double here = 0;
        int any = 0;
        for (size_t i = 0; i < s->items; i++) {
            const int of_take = s->listened[i].take == take;
            here += of_take ? (double)s->cost[i][count * s->places + p] : 0;
            any |= of_take;
        }
        if (any && (best == HY_UNKNOWN || here < *cost)) {
            *cost = here;
            best = place_of(s, count, p);
        }
    }
    return best;
}

/* The best pair: the same count for all takes, a place for each. */
static size_t choose(const search *s, uint32_t *places)
{
    size_t best = 0;
    double least = 0;
    for (size_t c = 0; c < s->counts; c++) {
        double sum = 0, cost;
        for (size_t t = 0; t < s->fit->take_count; t++) {
            places[c * s->fit->take_count + t] = best_place(s, t, c, &cost);
            sum += cost;
        }
        if (c == 0 || sum < least) {
            least = sum;
            best = c;
        }
    }
    return best;
}

/* An item as a witness of when registers moved. */
typedef struct witness {
    hy_place at;
    int moved; /* how far, in steps of the registers */
} witness;

static int by_moved(const void *a, const void *b)
{
    const witness *x = a, *y = b;
    if (x->moved != y->moved) {
        return y->moved - x->moved;
    }
    if (x->at.take != y->at.take) {
        return x->at.take < y->at.take ? -1 : 1;
    }
    return (x->at.item > y->at.item) - (x->at.item < y->at.item);
}

/* How far what a divider moves has to go when an item begins. */
static int moved_at(const hy_fit *f, unsigned divider, hy_place at)
{
    const hy_said *said = f->takes[at.take].said;
    const hyoid_phoneme *now = &f->part.phoneme[said[at.item].code];
    const hyoid_phoneme *was = &f->part.phoneme[said[at.item > 0 ? at.item - 1 : 0].code];
    switch (divider) {
    case 0:
        return 2 * abs(now->f1 - was->f1) + abs(now->f2 - was->f2) + 2 * abs(now->f3 - was->f3);
    case 1:
        return abs(now->va - was->va) + abs(now->fa - was->fa);
    default:
        return now->closure ? was->va : 0;
    }
}

/* Items to listen to, of each take whose time is counted: those with the longest ways to go. */
static size_t gather(const hy_fit *f, unsigned divider, witness *all, hy_place *listened)
{
    size_t stored = 0, told = 0;
    for (size_t t = 0; t < f->take_count; t++) {
        size_t n = 0;
        for (size_t i = 0; f->heard[t] && i < f->fitted_count; i++) {
            if (f->fitted[i].take == t) {
                all[n++] = (witness){f->fitted[i], moved_at(f, divider, f->fitted[i])};
            }
        }
        qsort(all, n, sizeof *all, by_moved);
        told += n;
        const size_t wanted = n < LISTENED ? n : LISTENED;
        const size_t every = n >= 2 * wanted ? 2 : 1; /* others than the very same codes */
        for (size_t i = 0; i < wanted; i++) {
            listened[stored++] = all[i * every].at;
        }
    }
    return told < FEW ? 0 : stored; /* so many pairs would find one that suits a few words by chance */
}

/* By what share of the cost a place, or a count with its place, must fit better to be believed: while sounds are still wrong some pair
 * of many always fits a little better, and would hold them fast. What the gate does is heard by far the most. Set by hand on seeds 1
 * to 4 of random_part.py, between what wrong pairs gained and what right ones did. */
static const double WORTH[2][2] = {{0.015, 0.03}, {0.05, 0.1}}; /* [gate][count with its place] */

/* The present count in every place: what all places are of. For the gate also with the delays of the stop that is said most: when a
 * gate closes is the delay and the place together, so that a delay that was searched without the place hides it. */
static void ask_places(search *s)
{
    enum { EARLIER = 1, LATER = 2 };
    const hy_fit *f = s->fit;
    unsigned stop = HYOID_PHONEMES;
    for (unsigned c = 0; c < HYOID_PHONEMES && s->divider == 2; c++) {
        const int more = stop == HYOID_PHONEMES || f->by_code_count[c] > f->by_code_count[stop];
        stop = f->part.phoneme[c].closure && f->by_code_count[c] > 0 && more ? c : stop;
    }
    const hyoid_phoneme none = {0}, *now = stop < HYOID_PHONEMES ? &f->part.phoneme[stop] : &none;
    const int by = stop < HYOID_PHONEMES, cld_most = (int)hy_quantities[HY_CLD].most,
              vd_most = (int)hy_quantities[HY_VD].most;
    s->counts = 0;
    for (int cld = now->cld - by; cld <= now->cld + by; cld++) {
        for (int vd = now->vd - by * EARLIER; vd <= now->vd + by * LATER; vd++) {
            if (cld < 0 || cld > cld_most || vd < 0 || vd > vd_most) {
                continue;
            }
            hyoid_part *part = &s->part[s->counts];
            *part = f->part;
            if (by) {
                part->phoneme[stop].cld = (uint8_t)cld;
                part->phoneme[stop].vd = (uint8_t)vd;
            }
            s->count[s->counts++] = *count_of(part, s->divider);
        }
    }
    const size_t all = s->count[0], room = PAIRS / s->counts;
    s->places = all < room ? all : room;
}

/* Counts within reach, each in a few places. */
static void ask_counts(search *s)
{
    const hyoid_part *now = &s->fit->part;
    s->counts = 0;
    s->places = PLACES;
    for (int64_t by = -REACH; by <= REACH; by++) {
        const char *problem;
        hyoid_part *part = &s->part[s->counts];
        *part = *now;
        const int64_t count = (int64_t)*count_of(part, s->divider) + by;
        if (count >= LEAST && count <= MOST) {
            *count_of(part, s->divider) = s->count[s->counts] = (uint32_t)count;
            s->counts += hyoid_part_check(part, &problem) == HYOID_OK;
        }
    }
}

/* The voice's place hangs on formants, by the period. */
static int follow(search *s)
{
    return s->divider == 0 ? hy_fit_phases(s->fit, 0, 1) : 0;
}

/* One divider; what is found is kept if all then fits better. 0, or -1 when memory is short. */
static int find(search *s, int any_count, uint32_t *places, hy_fit_state *was)
{
    hy_fit *f = s->fit;
    if (any_count) {
        ask_counts(s);
    } else {
        ask_places(s);
    }
    if (s->counts == 0) {
        return 0;
    }
    if (follow(s) != 0) {
        return -1;
    }
    hy_parallel(f->threads, s->items, try_item, s);
    const size_t best = choose(s, places);
    const double cost = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
    hy_fit_state_keep(was, f);
    f->part = s->part[best];
    for (size_t t = 0; t < f->take_count; t++) {
        f->divider[t][s->divider] = places[best * f->take_count + t];
    }
    if (follow(s) != 0) {
        return -1;
    }
    if (hy_fit_mean(f, &f->part, f->fitted, f->fitted_count) >= cost * (1 - WORTH[s->divider == 2][any_count])) {
        hy_fit_state_restore(was, f);
    }
    return 0;
}

static int find_all(search *s, unsigned which, int counts_too, witness *all, uint32_t *places, hy_fit_state *was)
{
    /* the gate first: when it closes decides over most; then amplitudes: they are heard in all items and take no pitch along */
    static const unsigned order[HY_DIVIDERS] = {2, 1, 0};
    for (unsigned i = 0; i < which && i < HY_DIVIDERS; i++) {
        s->divider = order[i];
        s->items = gather(s->fit, order[i], all, s->listened);
        if (s->items == 0) {
            s->fit->gate_sought = 1;
            return 0;
        }
        const int count = counts_too > (order[i] == 2);
        if (find(s, 0, places, was) != 0 ||
            (count && (find(s, 1, places, was) != 0 || find(s, 0, places, was) != 0))) {
            return -1;
        }
    }
    return 0;
}

int hy_fit_dividers(hy_fit *f, unsigned which, int counts_too)
{
    search *s = calloc(1, sizeof *s);
    hy_place *listened = calloc(LISTENED * f->take_count, sizeof *listened);
    float(*cost)[PAIRS] = calloc(LISTENED * f->take_count, sizeof *cost);
    witness *all = calloc(f->fitted_count + 1, sizeof *all);
    uint32_t *places = calloc((2 * REACH + 1) * f->take_count, sizeof *places);
    hy_fit_state *was = hy_fit_state_new(f);
    int status = -1;
    if (s != NULL && listened != NULL && cost != NULL && all != NULL && places != NULL && was != NULL) {
        *s = (search){.fit = f, .listened = listened, .cost = cost};
        status = find_all(s, which, counts_too, all, places, was);
    }
    f->gate_sought |= counts_too > 1;
    free(s);
    free(listened);
    free(cost);
    free(all);
    free(places);
    hy_fit_state_free(was);
    return status;
}
