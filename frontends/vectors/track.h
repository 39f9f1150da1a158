/* What the chip's pins did, clock by clock. Row n belongs to clock n; row 0 is the state after power-up. */
#ifndef HY_VECTORS_TRACK_H
#define HY_VECTORS_TRACK_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "diag.h"
#include "log.h"

#define HY_TRACK_MOST (UINT64_C(1) << 25) /* clocks that a track can hold: 46 s at 720 kHz */

/* Stimulus of a clock, as in stimulus.hex:
 *
 *    15  14      9  8   7 6  5  0
 *   +---+---------+---+-----+----+
 *   | e |  code   | s |  i  | p  |
 *   +---+---------+---+-----+----+
 *
 * e: strobe rose since the clock before, `code` stood on p then (of several edges the last); s, i, p: the pins at the clock. */
typedef struct hy_track {
    uint64_t clocks; /* rows are 0..clocks */
    uint16_t *stimulus;
    uint8_t *request;
    int32_t *level;   /* codes of the audio pin's levels, in order; level[0] is 0, before the first */
    uint64_t levels;  /* without level[0] */
    uint64_t strobes; /* clocks ahead of which strobe rose */
    uint64_t rises;   /* times that request rose */
    uint64_t clipped; /* levels that did not fit */
    double first_hz;  /* the clock at time 0 */
    int clock_moved;
} hy_track;

typedef struct hy_track_setup {
    const hyoid_part *part;
    int64_t end_ps; /* runs until here; afterwards where it came to */
    uint64_t most;  /* but no further than this many clocks; 0: the whole input, which must fit HY_TRACK_MOST */
    unsigned bits, fraction; /* of a level's code */
} hy_track_setup;

/* Plays a log. The implied strobe of a phoneme is 10 us wide, or half the gap to the next edge if that is shorter. 0, or -1
 * (the track is then empty). */
int hy_track_play(hy_track *track, hy_log *log, hy_track_setup *setup, hy_diag *diag);
void hy_track_free(hy_track *track);

#endif
