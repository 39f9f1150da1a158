/* A recording laid beside the model: which clock the part had, when each phoneme began, how loud, which way round.
 *
 *     recording --+-> hum out -> bands -> noise floor --+
 *                 |                                     v
 *     input ------+-> model at a clock ---------> path of least difference -> edges of phonemes
 *                          ^                                                     |
 *                          +------ clock from tempo and pitch <------------------+
 *
 * Tempo tells the clock where the host waited for requests. Where it didn't (a log or capture with times of its own), pitch does,
 * and tempo tells how the recorder's clock and the host's differ. */
#ifndef HY_ALIGN_H
#define HY_ALIGN_H

#include "floor.h"
#include "model.h"
#include "pitch.h"
#include "recording.h"
#include "spectrum.h"

#define HY_SCALE_MIN 0.6 /* of the stated clock: what is searched */
#define HY_SCALE_MAX 1.67
#define HY_CUT_LOW_HZ 150.0 /* a recording whose band begins above it has lost the pitch's first harmonic */
#define HY_SCALE_LEAST 0.45 /* what may be found all the same */
#define HY_SCALE_MOST 2.2

/* When the edge between two phonemes was. Edge i is the latch of phoneme i; one more ends the last. */
typedef struct hy_edge {
    double model;       /* s */
    double recording;   /* s; an edge that can't be seen lies between its neighbours in the model's proportion */
    double uncertainty; /* s, two standard deviations; INFINITY: can't be seen (both sides sound alike, or noise) */
} hy_edge;

/* An estimate with what it rests on. */
typedef struct hy_estimate {
    double value, uncertainty; /* two standard deviations; INFINITY: none could be made, value is 0 */
    size_t count;              /* of pieces of evidence */
} hy_estimate;

typedef struct hy_alignment {
    /* what was compared */
    const hy_recording *recording; /* borrowed */
    hy_model *model;               /* owned; rendered with `scale` */
    hy_frames frames;              /* of the recording, owned */
    hy_frames model_frames;        /* of the model, owned */

    /* the recording */
    hy_hum hum; /* what was taken out */
    hy_noise noise;
    double speech_db;               /* level of the speech: mean over frames in which the model speaks, dBFS (RMS) */
    double snr_db;                  /* speech against noise */
    double low_hz, high_hz;         /* outside this band the recording carries nothing */
    unsigned char usable[HY_BANDS]; /* bands inside it that stand above the noise */

    /* the clock: ratios to what the input states */
    double scale;             /* the best of what follows */
    hy_estimate tempo, pitch; /* as ratios to the stated clock, from each alone */
    hy_estimate recorder; /* seconds of the recording for a second of the input's own times, where these are fixed */
    int tempo_tells;      /* tempo followed the clock */
    int agree;            /* tempo and pitch say the same */
    double wow_peak,
        wow_hz; /* largest deviation of the speed from its mean (ratio) and how fast it swings; 0 if unknown */

    /* the rest */
    double delay; /* s: where the input's time 0 lies in the recording (below 0: before it) */
    double delay_uncertainty;
    double gain_db;       /* recording against model */
    int polarity;         /* 1, -1 (inverted), 0 can't be told, as through a low cut, which turns phases */
    double polarity_sure; /* 0..1 */
    double likeness;      /* 0..1: how well the bands' ups and downs agree; below 0.45 it is another text */

    hy_edge *edge; /* owned; model->spoken_count + 1 */
} hy_alignment;

typedef struct hy_align_setup {
    hy_recording *recording; /* its hum is taken out of its samples */
    hy_model_setup model;    /* scale and offset are not looked at */
    double known_scale;      /* > 0: don't search, only lay beside; 0: search */
    /* called between steps with what has been done, 0..1; may be null */
    void (*progress)(void *user, double done);
    void *user;
} hy_align_setup;

/* Lays the recording beside the model. -1 with one line: the recording is too short for the input, it has no speech above its
 * noise, or says something else. */
int hy_align(hy_alignment *alignment, const hy_align_setup *setup, hy_diag *diag);
void hy_alignment_free(hy_alignment *alignment);

/* The recording's time for a time of the model, and back. Straight between the edges that can be seen, on at the mean slope
 * beyond them. */
double hy_align_recording_time(const hy_alignment *alignment, double model_s);
double hy_align_model_time(const hy_alignment *alignment, double recording_s);

/* Pitch of recording and model side by side, for each voiced place of the model (every 10 ms): calls back with the phoneme's
 * number, the model's time and both f0 (Hz). Skips places where either is not clearly voiced. */
void hy_align_pitches(const hy_alignment *alignment, const hy_pitch_signal *recording, const hy_pitch_signal *model,
                      void (*see)(void *user, size_t spoken, double at, double recording_hz, double model_hz),
                      void *user);

#endif
