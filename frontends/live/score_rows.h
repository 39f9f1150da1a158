/* A write log's rows, with what has to be known of them to say them as a score. */
#ifndef HY_SCORE_ROWS_H
#define HY_SCORE_ROWS_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <hyoid/hyoid.h>

#include "log.h"

typedef struct hy_row {
    hy_event event;
    int64_t reached; /* phoneme: when a host could see its request, if nothing was strobed before; -1: it was */
    int glide;   /* clock: pieces of the glide that starts here; 0: none; -1: a corner within or at the end of one */
    int arc;     /* it is exponential */
    int changes; /* clock: it jumps here */
} hy_row;

typedef struct hy_rows {
    hy_log *log;
    hy_row *rows;
    size_t count, room;
    hyoid_stream chip; /* answers */
    hy_diag *diag;
    /* for whoever writes them: where to, and what its host has come to */
    FILE *out;
    int64_t now, hold;
} hy_rows;

/* Reads w->log: single pins put together to phonemes and levels, each phoneme's request worked out, the pieces of glides
 * joined. 0, or -1. w->rows is the caller's to free in any case. */
int hy_rows_read(hy_rows *w, const hyoid_part *part);

/* The clock row that continues the piece of row i without a jump, or 0. */
size_t hy_row_next_corner(const hy_rows *w, size_t i);

#endif
