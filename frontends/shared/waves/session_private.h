/* What the parts of the session reader share: session.c (archive and samples), session_meta.c (what it says of itself). */
#ifndef HY_SESSION_PRIVATE_H
#define HY_SESSION_PRIVATE_H

#include "waves/channels.h"

enum { HY_SESSION_UNIT_MAX = 64, HY_SESSION_FILE_MAX = 100 };

typedef struct hy_session_meta {
    char file[HY_SESSION_FILE_MAX + 1]; /* what the pieces are called */
    double rate;                        /* samples a second */
    unsigned unit;                      /* bytes a sample */
    hy_channels channels;               /* place: bit of the sample, 0 the lowest of the first byte */
} hy_session_meta;

/* Reads the text of `metadata`. 0, or -1; the channels are the caller's to free in both cases. */
int hy_session_meta_read(hy_session_meta *meta, const char *text, size_t length, const char *name, hy_diag *diag);

#endif
