/* Sound files through libsndfile: WAV, FLAC and Ogg Vorbis by the path's extension ("-" is WAV). */
#ifndef HY_SOUND_H
#define HY_SOUND_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

typedef struct hy_sound_options {
    uint32_t rate; /* Hz: 8000..192000, for WAV 1..192000 */
    int bits;      /* 16, 24 or 32 (32 = IEEE float, WAV only); Ogg ignores it */
    int dither;    /* 16 and 24 bits: triangular, +-1 LSB, two SplitMix64 numbers from seed 0; 0 = off */
} hy_sound_options;

typedef struct hy_sound hy_sound;

/* Opens a temporary file beside the destination. Null on error. */
hy_sound *hy_sound_open(const char *path, const hy_sound_options *options, hy_diag *diag);

/* Appends samples; 1.0 is full scale. Integer formats clip, and count it. */
int hy_sound_write(hy_sound *sound, const float *frames, size_t count, hy_diag *diag);

/* A named cue point at a frame, in ascending order (WAV; other formats have none and ignore it). The name is copied. */
int hy_sound_mark(hy_sound *sound, int64_t frame, const char *name, hy_diag *diag);

/* How many samples were clipped so far, and the largest magnitude seen. Float WAV and Ogg are not clipped: there it is
 * how many lie beyond full scale. */
uint64_t hy_sound_clipped(const hy_sound *sound);
float hy_sound_peak(const hy_sound *sound);

/* As for hy_outfile: finish (all bytes are on disk), then commit (rename; frees) or abandon (remove; frees). */
int hy_sound_finish(hy_sound *sound, hy_diag *diag);
int hy_sound_commit(hy_sound *sound, hy_diag *diag);
void hy_sound_abandon(hy_sound *sound);

#endif
