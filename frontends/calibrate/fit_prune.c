/* What was moved without need goes back: a number keeps its prior unless the recordings prefer the value that was found by more than
 * chance gives.
 *
 * Let A be the part with the prior's value and B the one with the found value. Their speech differs by s (dB, root of the mean square
 * over the frames of an item), and the recording from B by r. If A is right, its cost is less than B's by s^2, give or take
 * 2 r s / sqrt(INDEPENDENT) by chance, as an item's frames and bands err together. A is given up when, summed over the items, its
 * cost lies so far above that that BELIEVED standard errors don't explain it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"
#include "partfile_fields.h"
#include "stakes.h"

static const double INDEPENDENT =
    16; /* differences in an item that err by themselves: measured on recordings of known parts */
static const double CLEAR = 12;   /* standard errors that no place of the voice in its period makes up for */
static const double BELIEVED = 3; /* standard errors */

typedef struct contest {
    hy_fit *fit;
    const hyoid_part *a, *b;
    const hy_place *places;
    size_t count, room;
    int retune;     /* the voice's place in its period is found anew for a */
    float *scratch; /* for each thread, two items' residuals */
    double *gain, *apart, *variance;
} contest;

static void contest_one(void *user, unsigned thread, size_t i)
{
    contest *w = user;
    hy_place place = w->places[i];
    hy_judge *judge = w->fit->judges[thread * w->fit->take_count + place.take];
    size_t n = hy_judge_size(judge, place.item);
    float *a = w->scratch + 2 * (size_t)thread * w->room, *b = a + w->room;
    hy_judge_residual(judge, w->b, place.item, b);
    uint16_t *pitch = &w->fit->pitch[place.take][place.item], kept = *pitch;
    if (w->retune) {
        hy_fit_phase(w->fit, thread, w->a, place, 0);
    }
    hy_judge_residual(judge, w->a, place.item, a);
    *pitch = kept;
    double of_a = 0, of_b = 0, apart = 0;
    for (size_t x = 0; x < n; x++) {
        of_a += (double)(a[x] * a[x]);
        of_b += (double)(b[x] * b[x]);
        apart += (double)((a[x] - b[x]) * (a[x] - b[x]));
    }
    double each = 1 / (double)n;
    w->gain[i] = (of_a - of_b) * each;
    w->apart[i] = apart * each;
    w->variance[i] = 4 * (of_b * each) * (apart * each) / INDEPENDENT;
}

/* By how many standard errors the recordings speak against a, in favour of b; 0 if they don't. */
static double lead(contest *w, const hyoid_part *b, const hyoid_part *a, const hy_place *places, size_t count)
{
    w->a = a;
    w->b = b;
    w->places = places;
    hy_parallel(w->fit->threads, count, contest_one, w);
    double gain = 0, apart = 0, variance = 0;
    for (size_t i = 0; i < count; i++) {
        gain += w->gain[i];
        apart += w->apart[i];
        variance += w->variance[i];
    }
    return gain > 0 && variance > 0 ? (gain + apart) / sqrt(variance) : 0;
}

/* b has had the voice's places found for it; a prior that would lose gets the same before it does. */
static int preferred(contest *w, const hyoid_part *b, const hyoid_part *a, const hy_place *places, size_t count)
{
    w->retune = 0;
    double first = lead(w, b, a, places, count);
    w->retune = count < w->fit->fitted_count && first > BELIEVED && first < CLEAR;
    return (w->retune ? lead(w, b, a, places, count) : first) > BELIEVED;
}

static unsigned prune_constants(contest *w, hyoid_part *tried)
{
    hy_fit *f = w->fit;
    unsigned back = 0;
    for (unsigned g = 0; g < HY_CONSTANT_STAKES; g++) {
        *tried = f->part;
        unsigned changed = hy_stake_restore(tried, f->prior, g, NULL);
        const char *problem;
        if (changed > 0 && hyoid_part_check(tried, &problem) == HYOID_OK &&
            !preferred(w, &f->part, tried, f->fitted, f->fitted_count)) {
            f->part = *tried;
            back += changed;
        }
    }
    return back;
}

static unsigned restore_code(const hy_fit *f, hyoid_part *part, unsigned code, unsigned first, unsigned last)
{
    unsigned changed = 0;
    for (unsigned q = first; q <= last; q++) {
        uint8_t *now = (uint8_t *)&part->phoneme[code] + hy_quantities[q].offset;
        uint8_t was = hy_fit_value(f->prior, code, q);
        if (*now != was && !f->pinned[code][q]) {
            *now = was;
            changed++;
        }
    }
    return changed;
}

static unsigned prune_code(contest *w, hyoid_part *tried, hy_place *places, unsigned code)
{
    hy_fit *f = w->fit;
    size_t n = hy_fit_reach(f, code, places);
    *tried = f->part;
    unsigned all = restore_code(f, tried, code, 0, HY_FIT_QUANTITIES - 1), back = 0;
    if (all == 0 || n == 0) {
        return 0;
    }
    if (!preferred(w, &f->part, tried, places, n)) {
        f->part = *tried;
        return all;
    }
    for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
        *tried = f->part;
        if (restore_code(f, tried, code, q, q) > 0 && !preferred(w, &f->part, tried, places, n)) {
            f->part = *tried;
            back++;
        }
    }
    return back;
}

int hy_fit_prune(hy_fit *f)
{
    size_t n = f->fitted_count, room = 1;
    for (size_t i = 0; i < n; i++) {
        size_t size = hy_judge_size(f->judges[f->fitted[i].take], f->fitted[i].item);
        room = size > room ? size : room;
    }
    contest w = {.fit = f, .room = room};
    w.scratch = malloc(2 * (size_t)f->threads * room * sizeof *w.scratch);
    w.gain = malloc((n + 1) * sizeof *w.gain);
    w.apart = malloc((n + 1) * sizeof *w.apart);
    w.variance = malloc((n + 1) * sizeof *w.variance);
    hyoid_part *tried = malloc(sizeof *tried);
    hy_place *places = malloc((n + 1) * sizeof *places);
    int back = -1;
    if (w.scratch != NULL && w.gain != NULL && w.apart != NULL && w.variance != NULL && tried != NULL &&
        places != NULL) {
        back = (int)prune_constants(&w, tried);
        int status = back > 0 ? hy_fit_codes(f, 1) : 0; /* codes had leaned on what went back */
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            back += (int)prune_code(&w, tried, places, code);
        }
        back += (int)prune_constants(&w, tried); /* codes that went back may have been what held them */
        back = status == 0 ? back : -1;
    }
    free(w.scratch);
    free(w.gain);
    free(w.apart);
    free(w.variance);
    free(tried);
    free(places);
    return back;
}
