/* What sound.c needs done to a finished file that libsndfile does not do. Both work on a complete file through a
 * seekable stream. */
#ifndef HY_SOUND_PARTS_H
#define HY_SOUND_PARTS_H

#include <stdio.h>

#include "sound.h"

typedef struct hy_sound_cue {
    int64_t frame;
    char *name;
} hy_sound_cue;

/* Appends cue points and their names (chunks `cue ` and `LIST`/`adtl`) to a WAV. 0, or -1 with errno set. */
int hy_wav_append_marks(FILE *file, const hy_sound_cue *cues, size_t count);

/* Gives every page of an Ogg file the same serial number. 0, or -1 with errno set. */
int hy_ogg_fix_serial(FILE *file);

#endif
