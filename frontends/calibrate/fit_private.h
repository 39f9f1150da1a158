#ifndef HY_FIT_PRIVATE_H
#define HY_FIT_PRIVATE_H

#include "fit.h"
#include "knobs.h"
#include "parallel.h"

/* An item of a take. */
typedef struct hy_place {
    uint32_t take, item;
} hy_place;

struct hy_fit {
    const hy_material *takes;
    size_t take_count;
    const hyoid_part *prior;
    hyoid_part part;
    unsigned threads;
    hy_judge **judges; /* threads * takes */
    float (*channel)[HY_TICK_BANDS];
    unsigned char (*deaf)[HY_TICK_BANDS];
    uint16_t **pitch;                 /* for each take, by item: see hy_judge_set_pitch */
    hy_noise_cycle *cycle;            /* of the prior's noise register */
    int *sign;                        /* for each take: the recorder's, 1 or -1 */
    uint32_t **noise;                 /* for each take, by item: see hy_judge_set_noise */
    uint32_t (*divider)[HY_DIVIDERS]; /* for each take: see hy_judge_set_dividers */
    int gate_sought;                  /* no more will be found out about when the gate closes than is known */
    unsigned char *heard;             /* for each take: the noise register's place is known */
    hy_place *fitted, *held;          /* items by how they are used */
    size_t fitted_count, held_count;
    hy_place *by_code[HYOID_PHONEMES]; /* fitted items of a code, in order */
    size_t by_code_count[HYOID_PHONEMES];
    hy_finding finding[HYOID_PHONEMES][HY_FIT_QUANTITIES];
    unsigned char pinned[HYOID_PHONEMES][HY_FIT_QUANTITIES];
    double knob_error[HY_REAL_KNOBS]; /* turns; see hy_fit_errors */
    double *costs;                    /* scratch: one for each fitted or held item */
};

/* Cost of one item with a part, on a thread's own judge. */
static inline double hy_fit_item(const hy_fit *f, unsigned thread, const hyoid_part *part, hy_place place)
{
    return hy_judge_item(f->judges[thread * f->take_count + place.take], part, place.item);
}

/* Finds where in its period the voice stood in one item with a part: f->pitch. near: see hy_fit_phases. */
void hy_fit_phase(hy_fit *fit, unsigned thread, const hyoid_part *part, hy_place place, int near);

/* The fitted items on which a code bears: its own and the two behind each, which begin where it ended. Stores at most fitted_count
 * places and returns their number. */
size_t hy_fit_reach(const hy_fit *fit, unsigned code, hy_place *places);

/* All that a step of the search can change, kept so that the step can be taken back. */
typedef struct hy_fit_state {
    hyoid_part part;
    size_t takes;
    uint16_t **pitch; /* as in hy_fit, as are these */
    uint32_t (*divider)[HY_DIVIDERS];
    float (*channel)[HY_TICK_BANDS];
    unsigned char (*deaf)[HY_TICK_BANDS];
} hy_fit_state;

/* Room for a state, which is not kept yet; null when memory is short. */
hy_fit_state *hy_fit_state_new(const hy_fit *fit);
void hy_fit_state_free(hy_fit_state *state);
void hy_fit_state_keep(hy_fit_state *state, const hy_fit *fit);
void hy_fit_state_restore(const hy_fit_state *state, hy_fit *fit);

/* Cholesky's factor of the symmetric n by n matrix whose lower half is in a (rows of `stride`), in place; 0 if it is not positive
 * definite. Then x, the solution of L x = b, in place of b. */
int hy_cholesky(double *a, int n, int stride);
void hy_cholesky_forward(const double *l, int n, int stride, double *x);

/* Whether a quantity of a phoneme is searched. delays: vd and cld are, too. */
int hy_fit_searched(const hyoid_phoneme *phoneme, unsigned quantity, int delays);

/* Takes codes as `found` has them. They were searched all at once, each as if its neighbours stood still: so one change after the other
 * is tried in the company of those taken before, and stays if all that it bears on then fits better. 0, or -1 when memory is short. */
int hy_fit_adopt(hy_fit *fit, const hyoid_part *found);

/* Mean cost of places with a part. */
double hy_fit_mean(hy_fit *fit, const hyoid_part *part, const hy_place *places, size_t count);

#endif
