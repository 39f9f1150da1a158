/* The pins of a capture in the order of time: changes of one time stamp together, glitches passed over if that is wanted, and
 * the clock counted on its pin. */
#ifndef HY_TIMING_BUS_H
#define HY_TIMING_BUS_H

#include "capture_private.h"
#include "progress/progress.h"

enum { HY_BUS_CODE = 0x3f, HY_BUS_STROBE = 1 << HY_STROBE, HY_BUS_REQUEST = 1 << HY_WIRE_REQUEST };
enum { HY_BUS_INFLECTION = 3 << HY_I0 };

/* The levels of all pins, bit i that of wire i (capture_private.h), from `ps` on. */
typedef struct hy_bus_step {
    int64_t ps;       /* since the capture's first instant */
    unsigned levels;  /* an unknown pin keeps the level that was known last, 0 if none was */
    unsigned unknown; /* x or z, or not heard of so far */
    double clocks;    /* since the first edge of the clock's pin; 0 without one */
} hy_bus_step;

/* Rising edges of the clock's pin. */
typedef struct hy_bus_clock {
    uint64_t count;
    int64_t first, last;
    int64_t recent[64];       /* the last edges, a ring */
    double least, most;       /* Hz, over 64 periods */
    uint64_t periods;         /* measured singly, for the jitter: */
    double shortest, longest; /* ps */
    double mean, spread;      /* ps, and the sum of squares about the mean */
} hy_bus_clock;

/* A common sample rate on whose grid all edges lie (bus_grid.c). */
typedef struct hy_bus_grid {
    int64_t first;
    unsigned edges;
    uint64_t open; /* rates that are still possible, by number */
} hy_bus_grid;

typedef struct hy_bus_queue hy_bus_queue;

typedef struct hy_bus {
    hy_waves *waves;
    const hy_capture_map *map;
    hy_diag *diag;
    int64_t glitch; /* pulses of strobe, request, code and inflection that are shorter are passed over, ps; 0: none */
    int (*step)(void *user, const hy_bus_step *step); /* each with a change but the first; 0, or -1 */
    void *user;
    hy_progress *progress; /* may be null */
    /* what came of it */
    hy_bus_clock clock;
    hy_bus_grid grid;
    hy_stated_clock *stated; /* null: the capture states no clock */
    uint64_t edges, glitches;
    int64_t end; /* ps: the capture's last instant */
    /* private */
    hy_bus_step now, told;
    int started, told_any;
    int settled; /* the clocks of `now` are known */
    hy_bus_queue *queue;
    unsigned first, queued; /* in the queue, a ring */
} hy_bus;

/* Reads the whole capture. 0, or -1. */
int hy_bus_run(hy_bus *bus);

/* bus_grid.c */
void hy_grid_add(hy_bus_grid *grid, int64_t ps, int64_t step);
/* ps between its points; 0: there is none, or too few edges to tell. */
double hy_grid_period(const hy_bus_grid *grid);
/* The least sample rate in common use that is at least so high, Hz; the rate itself above them all. */
double hy_grid_rate_for(double hz);

/* Standard deviation of the clock pin's single periods, ps. */
double hy_bus_jitter(const hy_bus_clock *clock);

#endif
