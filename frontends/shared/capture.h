/* A capture as a write log: the signals of a capture (waves/waves.h) are told to be pins, by a map or by their names,
 * and every change of a pin becomes an event.
 *
 * Map: `p0=NAME,p1=NAME,...`, or the name of a file with such pairs, one a line; keys p0..p5 or p (a vector: its low six
 * bits), i0, i1, strobe, request, and for the clock either clock (a pin that toggles at the chip's clock) or clock_hz (a
 * real); rate=1M is the instrument's sample rate where the capture doesn't say. A NAME may have some or all of its scopes
 * ahead ("top.bus") and a bit behind ("bus[3]"); a ! ahead says that the board inverts it. Keys that the map leaves out are
 * looked for by their own names, letters of either case, which finds everything in what `hyoid render --pins` writes.
 * docs/formats.md, "Captures", has the rules. */
#ifndef HY_CAPTURE_H
#define HY_CAPTURE_H

#include <stdio.h>

#include <hyoid/hyoid.h>

#include "diag.h"
#include "log.h"

/* Lines for the user, each with its end: what was taken for which pin, and what was odd. */
typedef struct hy_capture_note {
    char text[2400];
} hy_capture_note;

/* Reads the capture, which must be seekable (with a clock in it, it is read twice). `map` may be null. The log starts at the
 * first time stamp and ends at the last; without a clock in the capture it has none. Null on error. */
hy_log *hy_capture_read(FILE *in, const char *name, const char *map, const hyoid_part *part, hy_capture_note *note,
                        hy_diag *diag);

#endif
