/* Inside the alignment. */
#ifndef HY_ALIGN_PRIVATE_H
#define HY_ALIGN_PRIVATE_H

#include "align.h"

/* Band levels as bytes, so that frames can be compared fast: steps of a quarter of a dB above -60 dB, against the loud frames'
 * level; each band's mean over the speech is the same in both signals, so that the colour of a microphone does not matter. */
typedef struct hy_levels {
    unsigned char *level; /* count * HY_BANDS */
    size_t count;
    double hop; /* s */
} hy_levels;

#define HY_LEVEL_STEP 0.25 /* dB */
enum { HY_LEVELS_PER_DB = 4 };

typedef struct hy_level_setup {
    const hy_frames *frames;
    int every;          /* frames that become one: their mean */
    const float *noise; /* density per band that is added, or null */
    double reference;   /* density: 0 dB; see hy_loud_density */
} hy_level_setup;

/* Mean density over the bands that the loudest twentieth of frames exceed. */
double hy_loud_density(const hy_frames *frames, hy_diag *diag);
int hy_levels_make(hy_levels *levels, const hy_level_setup *setup, hy_diag *diag);
/* Shifts b's bands so that, over frames within 30 dB of the loudest, their means are a's. */
void hy_levels_match(const hy_levels *a, hy_levels *b);
/* Bands that are not usable become the same in all frames. */
void hy_levels_mute(hy_levels *levels, const unsigned char *usable);
void hy_levels_free(hy_levels *levels);

/* Difference of two frames, in quarter dB summed over bands. */
unsigned hy_levels_apart(const unsigned char *a, const unsigned char *b);

/* A path: for each frame of the model the frame of the recording beside it, not decreasing; -1 before the recording begins,
 * recording's count after it ends. */
typedef struct hy_path {
    int *at; /* owned; one per frame of the model */
    size_t count;
    double cost; /* mean difference along it, dB, warping and leaving out included */
} hy_path;

/* All paths are allowed if `near` is null; otherwise those within `band` frames of near[i]. */
int hy_path_find(hy_path *path, const hy_levels *model, const hy_levels *recording, const int *near, int band,
                 hy_diag *diag);
void hy_path_free(hy_path *path);

/* One step: model at a scale, path through the recording, edges. Leaves model, model_frames and edge in the alignment. */
int hy_align_at(hy_alignment *a, const hy_align_setup *setup, double scale, hy_diag *diag);

/* How unlike the recording the model at this scale is (dB), from a coarse path; the rendering is thrown away. */
int hy_align_try(const hy_alignment *a, const hy_align_setup *setup, double scale, double *cost, hy_diag *diag);

/* The edges from a path through frames. */
int hy_edges_find(hy_alignment *a, const hy_levels *model, const hy_levels *recording, const hy_path *path,
                  hy_diag *diag);

/* Once the edges are known: gain, noise, usable bands, speech and signal-to-noise ratio. */
int hy_align_levels(hy_alignment *a, hy_diag *diag);
int hy_align_delay(hy_alignment *a, hy_diag *diag);
void hy_align_polarity(hy_alignment *a);

/* Where to begin the search for the clock. */
int hy_clock_start(const hy_alignment *a, const hy_align_setup *setup, double *scale, hy_diag *diag);
/* Tempo, pitch and what they say together; `bent`: the edges' model times at a scale 1 % higher. */
int hy_clock_refine(hy_alignment *a, const double *bent, hy_diag *diag);

#endif
