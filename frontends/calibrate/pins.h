/* What the pins tell that a recording doesn't, or only nearly: durations in whole filter cycles, and request's delay. Measured by
 * the analysis of hyoid timing. */
#ifndef HY_PINS_H
#define HY_PINS_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "partfile.h"

typedef struct hy_pins {
    const char *path, *map;                               /* borrowed; map: as for hyoid timing, or null */
    int measured;                                         /* the fields below are valid */
    double with_hz;                                       /* the clock that it was measured with; 0: its own */
    double clock_hz;                                      /* as the capture shows it; 0: it doesn't, or it moved */
    unsigned least[HYOID_PHONEMES], most[HYOID_PHONEMES]; /* durations that fit, filter cycles; 0: none told */
    int delay_least, delay_most;                          /* request_delay, clocks; -1: not told */
    unsigned long strobes;
    unsigned exact, narrowed; /* codes of whose duration one value fits, and several */
    unsigned contradicted;    /* codes whose measurements agree on no duration: none is taken */
    unsigned differing;       /* codes that the recordings say last otherwise: set by the calibration */
    const char *clock_from;   /* in words */
} hy_pins;

/* Reads and measures the capture. clock_hz: the chip's clock, if another source told it, else 0. Without one only a capture that shows
 * it (its pin, or a dump's clock_hz) can be measured: otherwise `measured` stays 0, and that is no error. A clock by which request's rises
 * lie on no filter cycles is refused: every figure would be wrong. 0, or -1. */
int hy_pins_measure(hy_pins *pins, const hy_partfile *prior, double clock_hz, hy_diag *diag);

/* A code's duration in filter cycles, the one nearest to `near` if several fit; 0: the capture doesn't tell. */
unsigned hy_pins_duration(const hy_pins *pins, unsigned code, double near);

/* request_delay in clocks; -1: the capture doesn't tell. */
int hy_pins_delay(const hy_pins *pins);

/* "board.vcd: clock ..., n strobes; ..." for people. */
typedef struct hy_pins_text {
    char text[600];
} hy_pins_text;
hy_pins_text hy_pins_say(const hy_pins *pins);

#endif
