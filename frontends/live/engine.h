/* The engine: chip, clock and host inside the audio callback. It plays what waits in its queues as a sound board's
 * processor would (strobe, wait for request or the hold, strobe), does what the hand orders, and reports each change of a
 * pin with its time. Nothing here allocates, locks or calls the system.
 *
 * The reports are the write log of what was played: rendering them gives the same samples, bit for bit. That is why a
 * gliding clock is laid out in pieces none of which is ever cut: an end is settled before a piece begins, the host's next
 * strobe being foreseen on a copy of the chip.
 *
 * The clock is a product: what the score says, times what the hand has made of it. */
#ifndef HY_ENGINE_H
#define HY_ENGINE_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "curve.h"
#include "ring.h"
#include "wire.h"

typedef struct hy_engine_rings {
    hy_ring *orders;          /* hy_order */
    hy_ring *cues[HY_QUEUES]; /* hy_cue */
    hy_ring *reports;         /* hy_report */
} hy_engine_rings;

typedef struct hy_engine {
    hyoid_stream stream;
    hy_engine_rings rings;
    uint64_t samples; /* in all, through every take */
    uint32_t token;   /* of the order that is being obeyed, or 0 */
    uint64_t lost;    /* reports for which there was no room */

    /* the clock */
    hy_curve score_clock, hand; /* Hz, factor */
    int64_t clock_row;          /* time of the last clock report */

    /* the host */
    uint32_t generation[HY_QUEUES];
    int waits;       /* a phoneme was strobed and nothing has followed yet */
    int sounds;      /* the last one was no pause */
    int64_t strobe;  /* when */
    int64_t reached; /* when a host can first see its request; -1: not yet */
    int64_t ready;   /* no action before this: a rest */
    int64_t score_hold, hand_hold, answer;
    int playing, sustain;
    int32_t silence; /* a pause's code, or -1 */

    /* for whoever calls */
    int restart_wanted, taking, take_ends;
    double gain;
    int limiter;

    /* a fetch under way */
    float *out;
    size_t out_left;
} hy_engine;

/* `rings` stay the caller's. The part must outlive the engine. Errors as hyoid_stream_init. */
hyoid_status hy_engine_init(hy_engine *engine, const hyoid_part *part, uint32_t rate, double hz, int level,
                            const hy_engine_rings *rings);

/* The next `count` samples of the audio pin. Orders for HY_SOON act before the first. */
void hy_engine_render(hy_engine *engine, float *out, size_t count);

/* Powers the chip up afresh, at time 0, with clock, inflection and phoneme as they were; the report says so. */
void hy_engine_restart(hy_engine *engine);

/* The end of a take, reported. */
void hy_engine_end_take(hy_engine *engine);

void hy_engine_status(const hy_engine *engine, hy_status *status);

/* ---- between engine.c and engine_host.c ---- */

double hy_engine_hz(const hy_engine *engine, int64_t ps);
void hy_engine_report(hy_engine *engine, const hy_report *report);
void hy_engine_clock_row(hy_engine *engine, double hz, int glides);

/* Does all that is due at the present instant. */
void hy_engine_act(hy_engine *engine);

/* When the host or an order acts next, not after `stop`; `stop` if not before. `ahead` is a copy of the stream on which
 * the clock up to `stop` is laid out. */
int64_t hy_engine_next(hy_engine *engine, hyoid_stream *ahead, int64_t stop);

/* When the next order acts; INT64_MAX without one. */
int64_t hy_engine_next_order(const hy_engine *engine);

#endif
