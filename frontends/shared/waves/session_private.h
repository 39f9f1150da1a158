/* What the parts of the session reader share: session.c (the archive), session_meta.c (what it says of itself),
 * session_samples.c. */
#ifndef HY_SESSION_PRIVATE_H
#define HY_SESSION_PRIVATE_H

#include <stdint.h>

#include "waves/channels.h"

enum { HY_SESSION_UNIT_MAX = 64, HY_SESSION_FILE_MAX = 100, HY_SESSION_BLOCK = 256 * 1024 };

typedef struct hy_session_meta {
    char file[HY_SESSION_FILE_MAX + 1]; /* what the pieces are called */
    double rate;                        /* samples a second */
    unsigned unit;                      /* bytes a sample */
    hy_channels channels;               /* place: bit of the sample, 0 the lowest of the first byte */
} hy_session_meta;

/* Reads the text of `metadata`. 0, or -1; the channels are the caller's to free in both cases. */
int hy_session_meta_read(hy_session_meta *meta, const char *text, size_t length, const char *name, hy_diag *diag);

typedef struct hy_session {
    const char *name;
    hy_diag *diag;
    struct zip *archive;
    hy_session_meta meta;
    uint64_t *pieces; /* where each stands in the archive; by number, from 0 */
    unsigned piece_count, pieces_done;
    uint64_t samples;     /* so far */
    unsigned char *block; /* the sample before, then what was read */
} hy_session;

/* Tells what is new in a piece, counted from 0. 0, or -1. */
int hy_session_piece(hy_session *session, unsigned number, const hy_vcd_listener *listener);

/* Time of a sample, ps. */
int64_t hy_session_time(const hy_session *session, uint64_t sample);

#endif
