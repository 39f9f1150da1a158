/* A recording of a chip, ready for analysis: one channel, at the analysis rate, without DC.
 *
 * What flows: file -> one channel -> 24 kHz (band-limited, libsamplerate) -> quality (floor.h) -> alignment with a model's
 * rendering (model.h, align.h) -> figures per phoneme (features.h). */
#ifndef HY_RECORDING_H
#define HY_RECORDING_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

enum { HY_ANALYSIS_RATE = 24000 }; /* Hz; the chip's own band ends at 10 kHz at its nominal clock */

#define HY_RECORDING_SECONDS_MAX 1200.0 /* longer ones are refused */
#define HY_RECORDING_SECONDS_MIN 0.05   /* shorter ones too */

typedef struct hy_recording {
    char name[256];         /* as the user gave it */
    double rate;            /* of the file, Hz */
    int channels;           /* in the file */
    int channel;            /* the one that was taken, from 1 */
    char channel_note[120]; /* why, in words; empty if there was no choice */
    double seconds;         /* length */
    double dc;              /* mean over the file, full scale = 1; taken out of `samples` */
    double peak;            /* largest magnitude, full scale = 1 */
    uint64_t clipped;       /* samples in flat tops: three or more equal ones in a row within 0.1 dB of the peak */
    unsigned char *tops;    /* owned; how many flat tops begin in each hundredth of a second, 255: or more */
    size_t hundredths;
    int silent;     /* below -100 dBFS throughout, DC apart */
    double top_hz;  /* nothing above this is judged: what the file's rate and the analysis rate carry */
    float *samples; /* owned; at HY_ANALYSIS_RATE */
    size_t count;
} hy_recording;

/* Reads any sound file that libsndfile reads (WAV, FLAC, AIFF, Ogg ...) of 4000 Hz or more; "-" is standard input. channel: 0
 * chooses (the loudest of several; if they are the same, the first), 1.. takes that one. Refuses, each in one line: what can't
 * be read, what is shorter than its header says, too short, too long, or not finite. Null on error. */
hy_recording *hy_recording_read(const char *path, int channel, hy_diag *diag);

/* The same from samples in memory (one channel, any rate from 4000 Hz): for tests and for recordings made by a program. */
hy_recording *hy_recording_from(const char *name, const float *samples, size_t count, double rate, hy_diag *diag);

/* How many flat tops begin between two times, s; to a hundredth of a second. */
unsigned long hy_recording_tops(const hy_recording *recording, double from_s, double to_s);

/* For what can't be done with a silent one. 0, or -1. */
int hy_recording_must_sound(const hy_recording *recording, hy_diag *diag);

void hy_recording_free(hy_recording *recording);

/* Every factor-th sample of a copy whose band has been limited to suit (a windowed sinc, flat to 0.35 of the new rate): quicker
 * than resampling. malloc'd; count / factor + 1 samples, sample i at i * factor of the input. Null if memory is out. */
float *hy_decimate(const float *in, size_t count, int factor, size_t *out_count, hy_diag *diag);

/* Band-limited resampling (libsamplerate, 121 dB, 90 % of the band): to = count * ratio samples, malloc'd. Null on error. */
float *hy_resample(const float *in, size_t count, double ratio, size_t *out_count, hy_diag *diag);

#endif
