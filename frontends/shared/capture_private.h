/* What the parts of the capture reader share: capture.c (pins), capture_first.c (clock and request, read before),
 * capture_map.c (names), capture_map_text.c (the map's text), capture_clock.c (the clock's story), capture_place.c (which
 * side of a clock edge). */
#ifndef HY_CAPTURE_PRIVATE_H
#define HY_CAPTURE_PRIVATE_H

#include "capture.h"
#include "waves/waves.h"

/* ---- names ---- */

/* The pins of log.h, then: */
enum { HY_WIRE_REQUEST = HY_PINS, HY_WIRE_CLOCK, HY_WIRE_HZ, HY_WIRES };

typedef struct hy_wire {
    int mapped;
    unsigned var, signal, bit; /* bit: 0 the rightmost */
    int inverted;              /* the board has an inverter between the pin and this signal */
} hy_wire;

typedef struct hy_capture_map {
    hy_wire wire[HY_WIRES];
    int guessed; /* at least one of them by its name */
} hy_capture_map;

/* The map's text, which may stand in a file; null if there is none. The caller frees it. `rate`: what it says of the samples, or
 * 0. 0, or -1. */
int hy_capture_map_text(const char *map, char **text, double *rate, hy_diag *diag);

/* `clock_too`: a clock pin is looked for by its name as the others are. */
int hy_capture_map_find(hy_capture_map *map, const char *text, int clock_too, const hy_waves *reader,
                        const char *name, hy_diag *diag);
/* The pin's level, '0', '1', 'x' or 'z', as its signal's change shows it. */
char hy_wire_level(const hy_wire *wire, const hy_vcd_change *change);

/* What is which pin, as a line; `no_clock` ends it if the capture has none. */
void hy_capture_map_tell(const hy_capture_map *map, const hy_waves *reader, const char *name, const char *no_clock,
                         hy_capture_note *note);

/* Adds to the note as far as there is room. */
void hy_capture_say(hy_capture_note *note, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* ---- the clock's story: HY_CLOCK events into a log of its own ---- */

/* A frequency that is stated again and again. Statements at most a millisecond apart that lie on a line were a glide. */
typedef struct hy_clock_point {
    int64_t ps;
    double hz;
} hy_clock_point;

typedef struct hy_stated_clock {
    hy_log *log;
    hy_diag *diag;
    int64_t step; /* of time stamps, ps */
    hy_clock_point point[6];
    int count, at; /* the points from `at` on are not yet told */
    int arrives;   /* the clock moves to the next of them, */
    double slope;  /* so fast, Hz per ps */
} hy_stated_clock;

int hy_stated_clock_add(hy_stated_clock *clock, int64_t ps, double hz);
int hy_stated_clock_end(hy_stated_clock *clock);

/* Rising edges that are counted: the mean over windows of 10 ms, and lines from the middle of one to that of the next. */
typedef struct hy_counted_clock {
    hy_log *log;
    hy_diag *diag;
    int running, heard;       /* edges come; pieces of this run so far */
    int ran;                  /* there was a run before this one */
    int64_t run, start, last; /* first edge of the run, of the window; last edge */
    int64_t edges;            /* since start */
    int64_t told;             /* time of the last event */
    double hz;                /* of the last piece */
    double least, most;       /* over all pieces */
    uint64_t pieces;
} hy_counted_clock;

int hy_counted_clock_edge(hy_counted_clock *clock, int64_t ps);
int hy_counted_clock_end(hy_counted_clock *clock, int64_t end_ps);

/* ---- instants within a time stamp ---- */

typedef struct hy_placer {
    int active;
    int64_t step;
    unsigned delay; /* clocks from latch to request's fall */
    /* the clock as it goes on from `from`, and its phase at `at` */
    int64_t from, to;
    double from_hz, to_hz, from_phase;
    int64_t at;
    double phase, hz;
    /* request as captured, if it was; the next edge, if there is one more */
    hy_log *request;
    hy_event next;
    int more, level;
    int64_t rose;              /* its last rise */
    int64_t fraction;          /* of a step: the host's instants; */
    int64_t ramp;              /* those of the glide under way, or -1 */
    double slope, slope_doubt; /* the glide's; by what part of it rounded times may falsify it */
    int ramped;                /* there was one */
} hy_placer;

/* The clock as it goes on from an event's time (which has its to_ps); `arrives`: a glide ends there. 0, or -1. */
int hy_placer_clock(hy_placer *placer, const hy_event *event, int arrives, hy_diag *diag);

/* The host does something, or strobe rises, in the time stamp ps: when it shall do so in the log. In the order of time. `hz`: if
 * the clock jumps with strobe, to where; otherwise 0. `arrives`: a glide's statement. 0, or -1. */
int hy_placer_instant(hy_placer *placer, int64_t ps, int arrives, int64_t *placed, hy_diag *diag);
int hy_placer_strobe(hy_placer *placer, int64_t ps, double hz, int64_t *placed, hy_diag *diag);

/* ---- a capture under way ---- */

typedef struct hy_capture {
    FILE *in;
    const char *name;
    double rate; /* of its samples, as the map says; 0: not */
    hy_diag *diag;
    hy_waves *reader;
    hy_capture_map map;
    hy_log *clock, *request; /* of the first reading; null: the capture has none */
    hy_counted_clock counted;
} hy_capture;

/* Its first time stamp is 0. */
static inline int64_t hy_capture_shifted(const hy_capture *c, int64_t ps)
{
    return ps < 0 ? 0 : ps - hy_waves_first(c->reader);
}

/* What stands at the first time stamp is no change. */
static inline int hy_capture_is_start(const hy_capture *c, int64_t ps)
{
    return hy_capture_shifted(c, ps) == 0;
}

/* Fills clock and request. 0, or -1. */
int hy_capture_first(hy_capture *capture);

#endif
