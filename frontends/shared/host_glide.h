/* A clock glide as the pieces in which the host plays it: one for a linear glide, as many as docs/formats.md says for an
 * exponential one. Only + - * /: the same bits everywhere. */
#ifndef HY_HOST_GLIDE_H
#define HY_HOST_GLIDE_H

#include <stdint.h>

typedef struct hy_glide {
    int64_t from, to; /* the whole glide */
    double to_hz;
    int64_t pieces, piece; /* how many, and which is under way, from 1 */
    int falling;
    double step; /* ratio of frequencies over a piece, > 1 */
    /* where the piece under way goes */
    int64_t end;
    double end_hz;
} hy_glide;

/* Starts at `ps` (before `to`). Call hy_glide_next to get the first piece. -1 if exponential and a frequency is 0 or the ratio
 * is beyond 2^64. */
int hy_glide_start(hy_glide *glide, int64_t from, int64_t to, double from_hz, double to_hz, int exponential);

/* The next piece: 1, or 0 if there is none. */
int hy_glide_next(hy_glide *glide);

#endif
