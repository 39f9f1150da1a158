/* Which clocks are compared: a bit for each output. */
#ifndef HY_VECTORS_MASK_H
#define HY_VECTORS_MASK_H

#include "track.h"

enum { HY_MASK_REQUEST = 1, HY_MASK_AUDIO = 2 };

typedef struct hy_mask_setup {
    const char *ignore; /* "A..B,C..D": clocks that are not compared at all; or null */
    uint64_t slack;     /* request may change this many clocks earlier or later */
} hy_mask_setup;

/* A row for each clock 0..track->clocks; the caller frees it. Null on error. */
uint8_t *hy_mask_make(const hy_track *track, const hy_mask_setup *setup, hy_diag *diag);

/* Reads the ignored clocks without using them: 0, or -1 if they are no such list. */
int hy_mask_check(const char *ignore, hy_diag *diag);

#endif
