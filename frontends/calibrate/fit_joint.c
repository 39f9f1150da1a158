/* Codes and constants together. One after the other they hold each other fast: codes that were searched with a wrong rate or a wrong
 * bandwidth make up for it, and the rate that is searched next stays wrong for their sake. So all of them are moved at once, by Gauss
 * and Newton's method with Levenberg's damping; where the voice stands in its period, of which each item has its own, is let go along
 * (its direction is taken out of each item's differences). Codes and counts are whole numbers: they are rounded one after the other,
 * each in view of what the roundings before it leave over (Babai's nearest plane), and the real numbers come last. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"
#include "knobs.h"
#include "partfile_fields.h"

enum {
    RATES = 2,      /* formants' and amplitudes' counts, while nothing tells where their dividers stand */
    CODED = 7,      /* quantities of a code: all but the delays */
    NEIGHBOURS = 2, /* an item hears its own code and the one before it */
    FIRST_CODE = HY_REAL_KNOBS + RATES,
    LOCAL = FIRST_CODE + NEIGHBOURS * CODED,
    PAIRS = LOCAL * (LOCAL + 1) / 2,
    MOST = FIRST_CODE + HYOID_PHONEMES * CODED
};
static const double PROBE = 0.004; /* turn of a knob */
static const int COUNT_PROBE = 4;  /* filter cycles, of a rate or of the voice's place */

/* What one item says, in its own columns: sums of J'J and J'r. */
typedef struct share {
    int column[LOCAL]; /* the variable that a column is of, or -1 */
    float jj[PAIRS];
    float jr[LOCAL];
} share;

typedef struct joint {
    hy_fit *fit;
    hyoid_part knob[HY_REAL_KNOBS], rate[RATES][2];
    int turned[HY_REAL_KNOBS], counted[RATES];
    share *shares;
    hyoid_part *parts;          /* one for each thread */
    float *scratch;             /* for each thread, LOCAL + 3 sets of residuals */
    size_t room;                /* residuals in a set */
    double *a, *factor, *b, *x; /* the normal equations: MOST squared twice, and MOST */
    hyoid_part tried;
    hy_fit_state *before;
} joint;

static void differ(float *to, const float *from, size_t n, double by)
{
    for (size_t i = 0; i < n; i++) {
        to[i] = (to[i] - from[i]) / (float)by;
    }
}

static double dot(const float *a, const float *b, size_t n)
{
    float sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += a[i] * b[i];
    }
    return (double)sum;
}

/* The differences' change per step of one quantity of a code. */
static void code_column(hy_judge *judge, hyoid_part *part, unsigned code, unsigned q, uint32_t item, float *to,
                        float *other)
{
    uint8_t *value = (uint8_t *)&part->phoneme[code] + hy_quantities[q].offset, now = *value;
    const uint8_t least = q == HY_VA || q == HY_FA, most = (uint8_t)hy_quantities[q].most;
    const uint8_t low = now > least ? now - 1 : now, high = now < most ? now + 1 : now;
    *value = high;
    hy_judge_residual(judge, part, item, to);
    *value = low;
    hy_judge_residual(judge, part, item, other);
    *value = now;
    differ(to, other, hy_judge_size(judge, item), high - low);
}

static int is_searched(const hy_fit *f, unsigned code, unsigned quantity)
{
    return f->by_code_count[code] > 0 && !f->pinned[code][quantity] &&
           hy_fit_searched(&f->part.phoneme[code], quantity, 0);
}

/* Fills the columns of an item and returns their number. */
static int columns(joint *w, unsigned thread, hy_place at, share *s, float *base, float *first, float *other)
{
    hy_fit *f = w->fit;
    hy_judge *judge = f->judges[thread * f->take_count + at.take];
    const hy_material *m = &f->takes[at.take];
    const size_t n = hy_judge_size(judge, at.item);
    int count = 0;
    hy_judge_residual(judge, &f->part, at.item, base);
    for (int k = 0; k < HY_REAL_KNOBS; k++) {
        if (w->turned[k]) {
            float *to = first + (size_t)count * n;
            hy_judge_residual(judge, &w->knob[k], at.item, to);
            differ(to, base, n, PROBE);
            s->column[count++] = k;
        }
    }
    for (int k = 0; k < RATES; k++) {
        if (w->counted[k]) {
            float *to = first + (size_t)count * n;
            hy_judge_residual(judge, &w->rate[k][1], at.item, to);
            hy_judge_residual(judge, &w->rate[k][0], at.item, other);
            differ(to, other, n, 2 * COUNT_PROBE);
            s->column[count++] = HY_REAL_KNOBS + k;
        }
    }
    hyoid_part *part = &w->parts[thread];
    *part = f->part;
    for (unsigned back = 0; back < NEIGHBOURS && back <= at.item; back++) {
        const unsigned code = m->said[at.item - back].code;
        if (f->by_code_count[code] == 0 || (back > 0 && code == m->said[at.item].code)) {
            continue;
        }
        for (unsigned q = 0; q < CODED; q++) {
            if (is_searched(f, code, q)) {
                code_column(judge, part, code, q, at.item, first + (size_t)count * n, other);
                s->column[count++] = (int)(FIRST_CODE + code * CODED + q);
            }
        }
    }
    return count;
}

/* What the differences change per cycle of the voice's place. */
static void place_column(joint *w, unsigned thread, hy_place at, float *to, float *other)
{
    hy_fit *f = w->fit;
    hy_judge *judge = f->judges[thread * f->take_count + at.take];
    uint16_t *pitch = &f->pitch[at.take][at.item], kept = *pitch;
    *pitch = (uint16_t)(kept + COUNT_PROBE);
    hy_judge_residual(judge, &f->part, at.item, to);
    *pitch = (uint16_t)(kept >= COUNT_PROBE ? kept - COUNT_PROBE : kept);
    hy_judge_residual(judge, &f->part, at.item, other);
    differ(to, other, hy_judge_size(judge, at.item), kept >= COUNT_PROBE ? 2 * COUNT_PROBE : COUNT_PROBE);
    *pitch = kept;
}

static void one_item(void *user, unsigned thread, size_t i)
{
    static const double LEAST = 1e-4; /* dB^2 per squared cycle, below which a place can't be told */
    joint *w = user;
    hy_fit *f = w->fit;
    hy_place at = f->fitted[i];
    share *s = &w->shares[i];
    const size_t n = hy_judge_size(f->judges[thread * f->take_count + at.take], at.item);
    float *base = w->scratch + (size_t)thread * (LOCAL + 3) * w->room, *other = base + w->room,
          *place = other + w->room;
    float *first = place + w->room;
    memset(s->column, 0xff, sizeof s->column);
    const int count = columns(w, thread, at, s, base, first, other);
    place_column(w, thread, at, place, other);
    const double square = dot(place, place, n) + LEAST * (double)n;
    for (int k = -1; k < count; k++) {
        float *column = k < 0 ? base : first + (size_t)k * n;
        const float share_of = (float)(dot(column, place, n) / square);
        for (size_t x = 0; x < n; x++) {
            column[x] -= share_of * place[x];
        }
    }
    for (int k = 0, to = 0; k < count; k++) {
        const float *column = first + (size_t)k * n;
        s->jr[k] = (float)(dot(column, base, n) / (double)n);
        for (int j = 0; j <= k; j++, to++) {
            s->jj[to] = (float)(dot(column, first + (size_t)j * n, n) / (double)n);
        }
    }
}

static void linearise(joint *w)
{
    hy_fit *f = w->fit;
    for (unsigned k = 0; k < HY_REAL_KNOBS; k++) {
        w->knob[k] = f->part;
        w->turned[k] = hy_knob_turn(&w->knob[k], k, PROBE);
    }
    for (unsigned k = 0; k < RATES; k++) {
        w->counted[k] = 1;
        for (size_t t = 0; t < f->take_count; t++) {
            w->counted[k] &= f->divider[t][k] == HY_UNKNOWN;
        }
        for (int side = 0; side < 2; side++) {
            w->rate[k][side] = f->part;
            w->counted[k] &= hy_knob_count(&w->rate[k][side], k, side == 0 ? -COUNT_PROBE : COUNT_PROBE);
        }
    }
    hy_parallel(f->threads, f->fitted_count, one_item, w);
    memset(w->a, 0, (size_t)MOST * MOST * sizeof *w->a);
    memset(w->b, 0, MOST * sizeof *w->b);
    const double each = 1 / (double)f->fitted_count;
    for (size_t i = 0; i < f->fitted_count; i++) {
        const share *s = &w->shares[i];
        for (int k = 0, at = 0; k < LOCAL && s->column[k] >= 0; k++) {
            w->b[s->column[k]] -= each * (double)s->jr[k];
            for (int j = 0; j <= k; j++, at++) {
                const int row = s->column[k] > s->column[j] ? s->column[k] : s->column[j];
                const int column = s->column[k] > s->column[j] ? s->column[j] : s->column[k];
                w->a[(size_t)row * MOST + (size_t)column] += each * (double)s->jj[at];
            }
        }
    }
}

/* How far a variable may be moved at once: not much farther than differences are straight lines. */
static double bounded(const joint *w, int variable, double x)
{
    static const double KNOB = 0.08 /* turns: 8 %, or 1.9 times */, RATE = 16 /* filter cycles */,
                        CODE = 3 /* steps */;
    const double most = variable < HY_REAL_KNOBS ? KNOB : variable < FIRST_CODE ? RATE : CODE;
    x = fmin(fmax(x, -most), most);
    if (variable >= FIRST_CODE) {
        const unsigned code = (unsigned)(variable - FIRST_CODE) / CODED,
                       q = (unsigned)(variable - FIRST_CODE) % CODED;
        if (!is_searched(w->fit, code, q)) {
            return 0; /* an amplitude of 0 stays 0 */
        }
        const int now = hy_fit_value(&w->fit->part, code, q), least = q == HY_VA || q == HY_FA;
        x = fmin(fmax(x, least - now), (double)hy_quantities[q].most - now);
    }
    return x;
}

/* Adds what keeps a step short: knobs and counts are damped; a code's step must be worth PULL on its own items, or chance would move
 * it (set by hand on seeds 1 and 4 of random_part.py, as the bounds of a step were). */
static double damped(const joint *w, int variable, double diagonal, double damping)
{
    static const double PULL = 0.02 /* dB^2 */, LEAST = 1e-6; /* so that what nothing depends on can be solved for */
    if (variable < FIRST_CODE) {
        return diagonal + damping * (variable < HY_REAL_KNOBS ? diagonal + 1 : diagonal) + LEAST;
    }
    const size_t said = w->fit->by_code_count[(unsigned)(variable - FIRST_CODE) / CODED];
    return diagonal + damping * diagonal + PULL * (double)(said + 1) / (double)w->fit->fitted_count;
}

/* Solves the damped equations, whole numbers rounded: w->x. 0 if it can't be. */
static int solve(joint *w, double damping)
{
    double *l = w->factor;
    memcpy(l, w->a, (size_t)MOST * MOST * sizeof *l);
    for (int i = 0; i < MOST; i++) {
        double *diagonal = l + (size_t)i * MOST + (size_t)i;
        *diagonal = damped(w, i, *diagonal, damping);
    }
    if (!hy_cholesky(l, MOST, MOST)) {
        return 0;
    }
    memcpy(w->x, w->b, MOST * sizeof *w->x);
    hy_cholesky_forward(l, MOST, MOST, w->x);
    for (int i = MOST - 1; i >= 0; i--) {
        double sum = w->x[i];
        for (int k = i + 1; k < MOST; k++) {
            sum -= l[(size_t)k * MOST + (size_t)i] * w->x[k];
        }
        const double x = bounded(w, i, sum / l[(size_t)i * MOST + (size_t)i]);
        w->x[i] = i < HY_REAL_KNOBS ? x : round(x);
    }
    return 1;
}

static int apply(joint *w)
{
    w->tried = w->fit->part;
    for (unsigned k = 0; k < HY_REAL_KNOBS; k++) {
        if (w->x[k] != 0 && !hy_knob_turn(&w->tried, k, w->x[k])) {
            return 0;
        }
    }
    for (unsigned k = 0; k < RATES; k++) {
        const int by = (int)w->x[HY_REAL_KNOBS + k];
        if (by != 0 && !hy_knob_count(&w->tried, k, by)) {
            return 0;
        }
    }
    for (int i = FIRST_CODE; i < MOST; i++) {
        const unsigned code = (unsigned)(i - FIRST_CODE) / CODED, q = (unsigned)(i - FIRST_CODE) % CODED;
        uint8_t *value = (uint8_t *)&w->tried.phoneme[code] + hy_quantities[q].offset;
        *value = (uint8_t)(*value + (int)w->x[i]);
    }
    const char *problem;
    return hyoid_part_check(&w->tried, &problem) == HYOID_OK;
}

/* One step down; the new cost, or `now` if there is none. Constants move as they were found; of the codes' moves those stay that
 * bring their own items nearer, as a code's step is no small one. */
static double step(joint *w, double now, double *damping)
{
    hy_fit *f = w->fit;
    linearise(w);
    for (int attempt = 0; attempt < 4; attempt++, *damping *= 8) {
        if (!solve(w, *damping) || !apply(w)) {
            continue;
        }
        hy_fit_state_keep(w->before, f);
        f->part = w->tried;
        memcpy(f->part.phoneme, w->before->part.phoneme, sizeof f->part.phoneme);
        if (hy_fit_phases(f, 0, 1) != 0 || hy_fit_adopt(f, &w->tried) != 0) {
            return -1;
        }
        const double cost = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
        if (cost < now) {
            *damping = *damping > 1e-3 ? *damping / 10 : *damping;
            return cost;
        }
        hy_fit_state_restore(w->before, f);
    }
    return now;
}

static void joint_free(joint *w)
{
    if (w != NULL) {
        hy_fit_state_free(w->before);
        free(w->shares);
        free(w->parts);
        free(w->scratch);
        free(w->a);
        free(w->factor);
        free(w->b);
        free(w->x);
    }
    free(w);
}

static joint *joint_new(hy_fit *f)
{
    joint *w = calloc(1, sizeof *w);
    if (w == NULL) {
        return NULL;
    }
    w->fit = f;
    w->room = 1;
    for (size_t i = 0; i < f->fitted_count; i++) {
        const size_t size = hy_judge_size(f->judges[f->fitted[i].take], f->fitted[i].item);
        w->room = size > w->room ? size : w->room;
    }
    w->shares = malloc((f->fitted_count + 1) * sizeof *w->shares);
    w->parts = malloc(f->threads * sizeof *w->parts);
    w->scratch = malloc((size_t)f->threads * (LOCAL + 3) * w->room * sizeof *w->scratch);
    w->a = malloc((size_t)MOST * MOST * sizeof *w->a);
    w->factor = malloc((size_t)MOST * MOST * sizeof *w->factor);
    w->b = malloc(MOST * sizeof *w->b);
    w->x = malloc(MOST * sizeof *w->x);
    w->before = hy_fit_state_new(f);
    if (w->shares == NULL || w->parts == NULL || w->scratch == NULL || w->a == NULL || w->factor == NULL ||
        w->b == NULL || w->x == NULL || w->before == NULL) {
        joint_free(w);
        return NULL;
    }
    return w;
}

int hy_fit_joint(hy_fit *f, int rounds)
{
    if (f->fitted_count == 0) {
        return 0;
    }
    joint *w = joint_new(f);
    if (w == NULL) {
        return -1;
    }
    double now = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count), damping = 0.01;
    for (int round = 0; now > 0 && round < rounds; round++) {
        const double before = now;
        now = step(w, now, &damping);
        if (before - now < 1e-3 * before) {
            break;
        }
    }
    joint_free(w);
    hy_fit_level(f);
    return now >= 0 ? 0 : -1;
}
