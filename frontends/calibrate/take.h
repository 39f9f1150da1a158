/* One recording of a chip, laid out for fitting: file -> one channel without hum -> one sample per filter cycle, with the
 * place of each phoneme. */
#ifndef HY_TAKE_H
#define HY_TAKE_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "grid.h"
#include "input.h"
#include "material.h"
#include "recording/floor.h"
#include "recording/recording.h"

typedef struct hy_take {
    hy_recording *recording; /* owned */
    hy_hum hum;              /* what was taken out */
    double stated_hz;        /* the clock that the input states, or the user measured */
    hy_said *said;           /* owned */
    double *seconds;         /* owned; what said[].ticks stands for in host time, s */
    unsigned char *uneven;   /* owned; 1: the level changed while the item sounded; it is not fitted */
    size_t items;
    size_t clipped, passed_over; /* items with flat tops; of them not fitted */
    int clock_known;             /* 1: the user measured it, 2: the capture shows it; it is not searched */
    char note[300];              /* what of the input is not used, in words; empty if all is */

    double apart; /* hy_warp's cost with all of the input; infinite: it can't be in the recording */

    /* found by hy_take_place */
    double clock_hz;                                        /* the part's */
    double clock_by_grid;                                   /* Hz, from durations of whole milliseconds; 0: not so */
    double clock_by_pitch;                                  /* Hz, from whole pitch periods; 0: not told */
    double grid_misfit, grid_next;                          /* hy_grid_scale's */
    double duration[HYOID_PHONEMES], sigma[HYOID_PHONEMES]; /* filter cycles; sigma 0: not known */
    double spread;                                          /* of the moments around the fit, in their own sigmas */
    size_t bursts;                                          /* sharp moments that were found */
    hy_pitch_fit pitch;
    double *onset_s;      /* owned; items + 1, seconds of the recording */
    float *sound;         /* owned; the recording at one sample a filter cycle of clock_hz */
    uint32_t *onset;      /* owned; items + 1 */
    hy_material material; /* of the above */
} hy_take;

/* Reads a recording and lays out what `input` says it holds. host: clock and level where the input doesn't set them. 0, or
 * -1. */
int hy_take_read(hy_take *take, const char *path, hy_input *input, const hyoid_part *prior,
                 const hy_host_options *host, double known_hz, hy_diag *diag);
void hy_take_free(hy_take *take);

/* Finds where each item lies by warping the model's speech onto the recording; `part` is what is known of the chip so far.
 * Sets clock_hz roughly. */
int hy_take_warp(hy_take *take, const hyoid_part *part, hy_diag *diag);

/* A recording that holds only a part of the input (it begins late, or ends early): if that lies clearly better beside it than all of
 * it does, the other items are dropped, and the note says so. After hy_take_warp. */
int hy_take_cut(hy_take *take, const hyoid_part *part, hy_diag *diag);

/* The recording with one sample a filter cycle of clock_hz; onsets and lengths follow. */
int hy_take_in_cycles(hy_take *take, const hyoid_part *part, hy_diag *diag);

/* Improves places, durations and clock with a part whose sounds are near; channel_db as for a judge, or null. reach: how far a
 * moment may lie off, filter cycles. */
int hy_take_place(hy_take *take, const hyoid_part *part, const float *channel_db, int reach, hy_diag *diag);

#endif
