/* A phoneme that is held until nothing in the chip moves any more, and recorded from there on: what measurements of its sound
 * are made from. The chip goes on sounding a phoneme after its time is up, so nothing artificial is needed for this. */
#ifndef HY_HELD_H
#define HY_HELD_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "diag.h"

typedef struct hy_held {
    float *frames; /* owned; free with hy_held_free */
    size_t count;
    uint32_t rate;
    int settled; /* 0: the registers still moved when patience ended; the frames mean little */
    /* the chip's state while it was recorded */
    int voiced, noisy, silent; /* the amplitude registers above 0; neither, or the gate is closed */
} hy_held;

typedef struct hy_hold_how {
    unsigned level;    /* inflection */
    uint32_t rate;     /* host samples a second */
    double ms;         /* how much to record */
    int from_start;    /* record from the strobe on, without waiting for anything */
    int without_voice; /* the noise alone */
} hy_hold_how;

/* Writes `code` at time 0, at the part's nominal clock, and waits: for the phoneme's time, for every
 * register to arrive, and HY_HELD_RING filter cycles for the resonators. Then records. 0, or -1 (out
 * of memory; a rate that the core refuses). */
enum { HY_HELD_RING = 2000 };
int hy_hold(hy_held *held, const hyoid_part *part, unsigned code, const hy_hold_how *how, hy_diag *diag);
/* Mean square of what was recorded. */
double hy_held_power(const hy_held *held);
void hy_held_free(hy_held *held);

#endif
