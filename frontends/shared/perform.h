/* Performing a write log: its events go into a stream, in order, and everyone who listens hears both sides. */
#ifndef HY_PERFORM_H
#define HY_PERFORM_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "log.h"

typedef struct hy_performance {
    hy_log *log;
    const hyoid_part *part;
    uint32_t rate;           /* host samples per second, or 0 for none */
    int no_images;           /* leave the staircase's images out of the frames */
    int64_t end_ps;          /* runs to here; what the log does later is left out */
    hyoid_observer observer; /* what the chip does; any may be null. It hears of no pin or level at or after end_ps,
                                and of exactly ceil(end_ps * rate) frames */
    double clock_scale;      /* the part's own oscillator against what the log says, such as 1.017; 0 means 1 */
    int64_t offset_ps; /* everything in the log happens this much later: another history before the first word */
    /* called once, before time moves: faults and taps; may be null */
    void (*prepare)(void *user, hyoid_stream *stream);
    /* what the host does, each after all that came before it; may be null */
    void (*input)(void *user, const hy_event *event);
} hy_performance;

/* 0, or -1 with the diagnosis (the log can't be read). */
int hy_perform(const hy_performance *performance, hy_diag *diag);

/* When what was said is over: the later of the log's end and the end of its last phoneme's time. If the clock
 * stands still for good, the log's end. -1 on error. */
int64_t hy_perform_end(hy_log *log, const hyoid_part *part, hy_diag *diag);

#endif
