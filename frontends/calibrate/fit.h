/* Fitting a part to recordings: numbers are moved one by one, the chip speaks, and what fits the recordings better stays. */
#ifndef HY_FIT_H
#define HY_FIT_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "judge.h"
#include "material.h"

enum { HY_FIT_QUANTITIES = 9 }; /* f1 f2 f3 bw2 va fa fc vd cld: those of a phoneme that the search moves */

/* What the search found out about one number. */
typedef struct hy_finding {
    unsigned char moved;      /* it is no longer the prior's */
    unsigned char determined; /* the recordings prefer one value clearly; otherwise the prior's was kept */
    float gain;               /* dB^2 by which the value beats the prior's, in the phoneme's frames */
    float span;               /* dB^2 between the best and the worst value: how much the number matters at all */
} hy_finding;

typedef struct hy_fit hy_fit;

/* takes[0..count): materials of the same chip; they and `prior` must outlive the fit. held (or null): for each take, which
 * items are kept out of the fit (1), for judging it. Null when memory is short. */
hy_fit *hy_fit_new(const hy_material *takes, size_t count, const unsigned char *const *held, const hyoid_part *prior);
void hy_fit_free(hy_fit *fit);

/* The part as it stands; may be changed between searches. */
hyoid_part *hy_fit_part(hy_fit *fit);

/* Mean squared difference, dB^2, over the items that are fitted, or over those held out. */
double hy_fit_cost(hy_fit *fit, int held_out);
/* The same for one code's items; *n (or null) gets their number. Negative if there are none. */
double hy_fit_code_cost(hy_fit *fit, unsigned code, int held_out, size_t *n);

/* Finds each take's channel anew: in `free` mode a response by band, otherwise one gain and the bands that it does not pass. */
int hy_fit_channel(hy_fit *fit, int free_form);
const float *hy_fit_channel_db(const hy_fit *fit, size_t take);
/* 1: the band tells nothing in this take (the recording chain does not pass it, or noise covers it). */
const unsigned char *hy_fit_deaf(const hy_fit *fit, size_t take);

/* One sweep over the quantities of all codes that were said. delays: also vd and cld. */
int hy_fit_codes(hy_fit *fit, int delays);
const hy_finding *hy_fit_finding(const hy_fit *fit, unsigned code, unsigned quantity);

/* One sweep over the constants that sound tells (fit_constants.c lists them); steps start at `step` (0.04: 4 %) times a
 * constant's own unit and are halved `halvings` times. */
int hy_fit_constants(hy_fit *fit, double step, int halvings);

/* Shapes the glottal pulse as two times give it, filter cycles (fit_constants.c). */
void hy_pulse_shape(hyoid_part *part, int opening, int closing);

/* The name of constant `i` that the search moves, null after the last; and whether this part's differs from the prior's. */
const char *hy_fit_constant_name(size_t i);

#endif
