/* One clock of a sweep: what the input becomes there, in figures and as sound. */
#ifndef HY_SWEEP_STEP_H
#define HY_SWEEP_STEP_H

#include <hyoid/hyoid.h>

#include "clocks.h"
#include "diag.h"
#include "input.h"

/* Longer inputs are refused. */
enum { HY_SWEEP_SECONDS_MAX = 600 };

/* What is swept. */
typedef struct hy_sweep_subject {
    const char *path;
    const hy_input *input; /* read at the nominal clock */
    const hyoid_part *part;
    int level;       /* where inflection starts, for an input that does not set it */
    double start_hz; /* the clock at which the input starts when it is played at the nominal one */
    double most_hz;  /* and the highest to which it goes */
    /* the phoneme of which pitch, formants and images are told; -1: there is none */
    int code, code_given; /* given by the user, or looked for */
    int code_level;       /* inflection in force when it is first said */
} hy_sweep_subject;

/* Whether a code has a voice and hardly any noise beside it. */
int hy_sweep_is_voiced(const hyoid_part *part, unsigned code);

/* Performs the input at the nominal clock and fills start_hz, most_hz, code_level and, unless it was given, code: the one of all voiced
 * ones that sounds longest. 0, or -1. */
int hy_sweep_look(hy_sweep_subject *subject, hy_diag *diag);

typedef struct hy_sweep_said {
    double at_s;
    unsigned code;
} hy_sweep_said;

/* Figures are NaN where there are none: nothing was played, or nothing is voiced. */
typedef struct hy_sweep_step {
    char label[24];
    double hz;
    double ratio, semitones; /* to the part's nominal clock */
    int played;
    double f0, f1, f2, f3;             /* Hz, of the subject's phoneme when held */
    double filter_hz;                  /* levels in a second; everything above half of it is images */
    double image_hz, image_db;         /* first image of the harmonic next to F1, against that harmonic */
    double seconds;                    /* from the first strobe until all is said */
    double whole_s;                    /* the whole sound, from time 0 to the tail's end */
    unsigned phonemes, syllables, cut; /* cut: strobed away before their time was up */
    /* the sound */
    float *frames;
    size_t count;
    uint32_t rate;
    hy_sweep_said *said;
    size_t said_count;
} hy_sweep_step;

/* rate 0: figures only. 0, or -1 with the diagnosis. */
int hy_sweep_play(hy_sweep_step *step, const hy_sweep_subject *subject, const hy_sweep_clock *clock, uint32_t rate,
                  int64_t tail_ps, hy_diag *diag);
void hy_sweep_drop_sound(hy_sweep_step *step);
void hy_sweep_step_free(hy_sweep_step *step);

#endif
