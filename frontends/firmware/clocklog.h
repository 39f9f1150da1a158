/* A clock that is known by its edges, as the frequency that a write log holds, with the other events in between.
 *
 * From one rising edge to the next the log's clock runs at one over their distance; a row is written only when that changes.
 * Rows stand at whole picoseconds and frequencies are doubles, so the log's edges come to lie a little off the true ones;
 * the sum of what was rounded is kept, and as soon as it reaches 1/64 of a CPU cycle one period is bent to take it back. The log's
 * edges therefore never leave the true ones by more than that (and 10 ps for each day), and since everything else lies a
 * quarter of a cycle or more from an edge, the log has exactly as many clocks between two events as there were.
 *
 * A distance longer than a millisecond and twice as long as the next one is a clock that stood still: the log's clock is 0, and
 * runs again from one period ahead of the edge. So it is before the first edge. */
#ifndef HY_CLOCKLOG_H
#define HY_CLOCKLOG_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"
#include "log.h"

/* What waits until the clock around it is known. */
typedef struct hy_waiting {
    uint64_t tick;
    enum { HY_EDGE, HY_STOOD, HY_EVENT } kind; /* HY_STOOD: since here the log's clock has been 0 */
    hy_event event;                            /* HY_EVENT; its time is not yet filled in */
} hy_waiting;

typedef struct hy_clocklog {
    hy_log *log;
    hy_diag *diag;
    uint32_t mcu_hz;
    double hz;                      /* the log's clock */
    double error;                   /* how far the log's clock is ahead, in clocks */
    uint64_t period;                /* the last distance of two edges, ticks; 0: none yet */
    uint64_t rows;                  /* clock rows written */
    hy_waiting *item;               /* item[0] is an edge or HY_STOOD; at most one more edge stands behind */
    size_t count, capacity, second; /* second: index of the other edge, or 0 */
} hy_clocklog;

/* The log must be empty; its clock starts at 0. 0, or -1. hy_clocklog_free is due either way. */
int hy_clocklog_init(hy_clocklog *c, hy_log *log, uint32_t mcu_hz, hy_diag *diag);
void hy_clocklog_free(hy_clocklog *c);

/* Ticks must not decrease, and increase from edge to edge. 0, or -1. */
int hy_clocklog_edge(hy_clocklog *c, uint64_t tick);
int hy_clocklog_event(hy_clocklog *c, uint64_t tick, const hy_event *event);

/* Writes what waits. The clock goes on if its next edge isn't overdue at `tick`, else it has stopped. */
int hy_clocklog_finish(hy_clocklog *c, uint64_t tick);

#endif
