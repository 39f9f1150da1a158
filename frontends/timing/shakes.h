/* Handshakes: a strobe and what came of it up to the next one. Kept in a temporary file, so that memory does not grow with the
 * capture. */
#ifndef HY_TIMING_SHAKES_H
#define HY_TIMING_SHAKES_H

#include "bus.h"

enum {
    HY_SHAKE_HIGH = 1,      /* request was high when strobe rose; otherwise the phoneme before was cut short */
    HY_SHAKE_DOUBT = 2,     /* the code can't be told: x or z, or it changed within the instrument's skew */
    HY_SHAKE_INFLECTED = 4, /* inflection changed between strobe and request's rise */
    HY_SHAKE_LAST = 8       /* `end` is the capture's, not another strobe */
};

/* Times in ps since the capture's first instant, -1: did not come; the same in clocks counted on the clock's pin. */
typedef struct hy_shake {
    int64_t strobe, release, fall, rise, end; /* release: strobe falls */
    double strobe_at, release_at, fall_at, rise_at, end_at;
    uint8_t code;
    uint8_t flags;
} hy_shake;

/* How often something was seen that is not part of a handshake, and when first. */
typedef struct hy_sighting {
    uint64_t count;
    int64_t first; /* ps */
} hy_sighting;

typedef struct hy_shakes {
    hy_diag *diag;
    int64_t skew; /* what two pins may be apart by and still mean one instant, ps */
    FILE *file;
    uint64_t count;
    hy_sighting unasked;    /* request fell without a strobe */
    hy_sighting unknown;    /* x or z on strobe, request or inflection, or on the code at a strobe */
    hy_sighting moved;      /* the code changed while strobe was high; once a pulse */
    hy_sighting inflection; /* changes */
    uint64_t doubts;
    /* private: the handshake under way and the one before it, and the pins */
    hy_shake before, open;
    int has_before, is_open;
    int blind; /* strobe was high when the capture began: request's first fall may be its answer */
    hy_bus_step last;
    int started;
    int64_t fell; /* request did, unasked so far; -1: no */
    double fell_at;
    int64_t code_changed; /* while strobe is high; -1: no */
    int64_t code_last;    /* its last change at all; -1: none */
} hy_shakes;

/* 0, or -1. */
int hy_shakes_start(hy_shakes *shakes, int64_t skew, hy_diag *diag);
int hy_shakes_step(void *shakes, const hy_bus_step *step);
int hy_shakes_end(hy_shakes *shakes, int64_t ps, double clocks);
void hy_shakes_free(hy_shakes *shakes);

/* Reading, from the first: 1 and a handshake, 0 behind the last, -1. */
int hy_shakes_rewind(hy_shakes *shakes);
int hy_shakes_next(hy_shakes *shakes, hy_shake *shake);

#endif
