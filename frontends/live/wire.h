/* What crosses between the control thread and the audio callback, each in a ring of its own. */
#ifndef HY_WIRE_H
#define HY_WIRE_H

#include <stdint.h>

#include "log.h"
#include "score.h"

#define HY_SOON INT64_C(-1) /* an order's time: at the start of the next block */

/* ---- control -> callback: what a hand does, at once or at a given time ---- */

typedef enum hy_order_kind {
    HY_ORDER_SAY,     /* strobe `number`, cutting short what sounds */
    HY_ORDER_CLOCK,   /* the clock goes to `value` Hz in `span` */
    HY_ORDER_STEP,    /* the clock is multiplied by `value`, at once */
    HY_ORDER_START,   /* the score's clock is `value` Hz: it begins again */
    HY_ORDER_LEVEL,   /* inflection pins */
    HY_ORDER_HOLD,    /* cut phonemes after `span`; 0: as the score says */
    HY_ORDER_PLAY,    /* 1: the score goes on, 0: it pauses */
    HY_ORDER_DROP,    /* forget what waits in the queue `number` with a generation below `generation` */
    HY_ORDER_SUSTAIN, /* 1: the last phoneme sounds on, 0: the host says a pause after it */
    HY_ORDER_TAKE,    /* 1: power the chip up afresh and report all; 0: end of it */
    HY_ORDER_GAIN,    /* volume, as a factor */
    HY_ORDER_LIMITER  /* 1: on */
} hy_order_kind;

typedef struct hy_order {
    int64_t ps; /* stream time, or HY_SOON; an order waits behind earlier ones */
    int32_t kind, number;
    int32_t exponential; /* HY_ORDER_CLOCK */
    uint32_t generation;
    uint32_t token; /* comes back with what is reported because of this order; 0: none */
    double value;
    int64_t span; /* ps */
} hy_order;

/* ---- control -> callback: what the host will say, one queue for scores, one for what is typed ---- */

enum { HY_QUEUE_TYPED, HY_QUEUE_SCORE, HY_QUEUES }; /* the first goes first */

typedef struct hy_cue {
    hy_action action;
    uint32_t generation;
} hy_cue;

/* ---- callback -> control ---- */

typedef enum hy_report_kind {
    HY_REPORT_EVENT,    /* something was done to the chip's pins: a row for the write log */
    HY_REPORT_TAKE,     /* the chip was powered up: time and samples count from here */
    HY_REPORT_TAKE_END, /* event.ps is the take's last instant */
    HY_REPORT_STATUS    /* how things stand at a block's end; left out if the ring is filling up */
} hy_report_kind;

typedef struct hy_status {
    double hz;       /* the clock */
    double score_hz; /* what it would be without the hand */
    int64_t ps;      /* stream time */
    int64_t hold;    /* in force; 0: none */
    int32_t phoneme, request, slot, level;
    int32_t moving;    /* the clock glides */
    int32_t playing;   /* the score is not paused */
    int32_t busy;      /* something is being said, or waits to be */
    float raw, played; /* the block's peaks, before and after volume and limiter */
    float reduction;   /* least gain of the limiter in this block */
    uint64_t lost;     /* reports and samples for which there was no room, so far */
    double heard;      /* sound device's time at which the block's end is heard, s; 0: not known */
} hy_status;

typedef struct hy_report {
    int32_t kind;
    int32_t glides;   /* HY_REPORT_EVENT, clock: it has moved linearly since the clock row before */
    uint32_t token;   /* of the order that made it happen, or 0 */
    uint64_t sample;  /* samples that were put into the sound ring before this */
    const char *name; /* a mark's, owned by the score */
    hy_event event;
    hy_status status;
} hy_report;

#endif
