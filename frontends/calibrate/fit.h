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

/* How an item of a take is used: for fitting, for judging the fit only, or not at all. */
enum { HY_FITTED, HY_HELD_OUT, HY_UNUSED };

/* takes[0..count): materials of the same chip; they and `prior` must outlive the fit. use (or null: all are fitted): for each
 * take, how its items are used. threads: 0 for as many as there are processors; no result depends on it. Null when memory is
 * short. */
hy_fit *hy_fit_new(const hy_material *takes, size_t count, const unsigned char *const *use, const hyoid_part *prior,
                   unsigned threads);
void hy_fit_free(hy_fit *fit);

/* The part as it stands; may be changed between searches. */
hyoid_part *hy_fit_part(hy_fit *fit);

/* Mean squared difference, dB^2, over the items that are fitted, or over those held out. */
double hy_fit_cost(hy_fit *fit, int held_out);

/* Log-spectral distance (judge.h), mean over items; *n as above; negative if there are none. code: HYOID_PHONEMES for all. */
double hy_fit_distance(hy_fit *fit, const hyoid_part *part, unsigned code, int held_out, size_t *n);
/* Mean spectra of a code's fitted items, dB: recording, and model with `part`. 0, or -1 if it was never said. */
int hy_fit_spectra(hy_fit *fit, const hyoid_part *part, unsigned code, float recorded_db[HY_TICK_BANDS],
                   float model_db[HY_TICK_BANDS]);

/* Finds each take's channel anew: in `free` mode a response by band, otherwise one gain and the bands that it does not pass. */
int hy_fit_channel(hy_fit *fit, int free_form);
const float *hy_fit_channel_db(const hy_fit *fit, size_t take);
/* 1: the band tells nothing in this take (the recording chain does not pass it, or noise covers it). */
const unsigned char *hy_fit_deaf(const hy_fit *fit, size_t take);

/* Looks where in its cycle the noise register stood in a take, with the part as it stands (noise_place.h); from then on the model's
 * noise is the recording's own. *heard: how many items told; 0: it is not known. 0, or -1 when memory is short. */
int hy_fit_noise(hy_fit *fit, size_t take, size_t *heard);

/* Finds for each item where in its period the voice stood, so that cuts and onsets sound as they did (fit_phases.c). held_only: of
 * the held-out items; near: only a little around where it was found before. 0, or -1 when memory is short. */
int hy_fit_phases(hy_fit *fit, int held_only, int near);

/* A quantity that something surer than the spectrum has told (F1 by pitch): it is set and no longer searched. */
void hy_fit_pin(hy_fit *fit, unsigned code, unsigned quantity, uint8_t value);

/* All searches below: 0, or -1 when memory is short. */

/* One sweep over the quantities of all codes that were said. delays: also vd and cld. */
int hy_fit_codes(hy_fit *fit, int delays);
/* A quantity's value in a part. */
uint8_t hy_fit_value(const hyoid_part *part, unsigned code, unsigned quantity);
/* [code][quantity]: pinned. */
unsigned char (*hy_fit_pinned(hy_fit *fit))[HY_FIT_QUANTITIES];
const hy_finding *hy_fit_finding(const hy_fit *fit, unsigned code, unsigned quantity);
/* A number that was found to be another and yet is the prior's in `part` was given back: nothing vouches for it. */
void hy_fit_forget_returned(hy_fit *fit, const hyoid_part *part);

/* Takes a step that most levels have in common back to the prior's, and finds the gain anew (fit_levels.c): a recording hardly tells
 * it from the recorder's gain, and while sounds are still wrong that is found a step off. free_form: as for hy_fit_channel. */
int hy_fit_levels_home(hy_fit *fit, int free_form);

/* The same for the second bandwidths, whose damping makes up for it, and for noises, whose couplings do. */
void hy_fit_bandwidths_home(hy_fit *fit);
void hy_fit_noises_home(hy_fit *fit);

/* The constants that count (rates, shifts), beginning with steps of `first`. */
int hy_fit_counts(hy_fit *fit, int first);
/* The dividers of the transitions run free: finds where the first `which` of gate, amplitudes and formants stood when a take began,
 * so that registers move when they did; and with counts_too to how much each counts, near what the part has (2: the gate, too;
 * fit_dividers.c). which: 1..HY_DIVIDERS. */
int hy_fit_dividers(hy_fit *fit, unsigned which, int counts_too);

/* Codes and constants together, in at most so many rounds; where the voice stands is found along (fit_joint.c). */
int hy_fit_joint(hy_fit *fit, int rounds);

/* The glottal pulse's two times in larger steps than the searches around can take, with all else following (fit_pulse.c). free_form:
 * as for hy_fit_channel. */
int hy_fit_pulse(hy_fit *fit, int free_form);

/* The constants that are real numbers, all at once, in at most so many rounds. */
int hy_fit_reals(hy_fit *fit, int rounds);
/* Finds their standard errors, for hy_fit_constant_error. */
int hy_fit_errors(hy_fit *fit);
/* Relative standard error of the constant that lies at this offset in hyoid_part, while all others adapt, as the last hy_fit_errors
 * left it; an estimate by itself. Negative: the search does not move it. */
double hy_fit_constant_error(const hy_fit *fit, size_t offset);
/* A recording does not tell the pin's level: gives output_gain and the voice's unit back to the prior and the difference to the
 * channels. */
void hy_fit_level(hy_fit *fit);

/* Gives numbers back to the prior that the recordings do not prefer by more than chance (fit_prune.c): how many; -1: memory. */
int hy_fit_prune(hy_fit *fit);

#endif
