/* What a chip would have said: the input played by the core, at the analysis rate, with each phoneme's place and what the chip's
 * registers stood at in it. */
#ifndef HY_MODEL_H
#define HY_MODEL_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "input.h"

/* The samples begin this much before the input's time 0, so that its first sound has a before. */
enum { HY_MODEL_LEAD_MS = 100 };

/* One phoneme as it was spoken. Times are seconds from the first sample. */
typedef struct hy_spoken {
    double from, to;   /* its latch; the next one's, or for the last one when its time is over */
    double due;        /* when its time was over (request rose); < 0: it was cut before */
    double clock_hz;   /* at its end */
    double f0_hz;      /* the pitch counter's, at its end; whether it can be heard is another matter */
    double f1, f2, f3; /* where the resonances stood at its end, Hz */
    double f4;
    uint8_t code;
    uint8_t level; /* inflection, at its end */
    uint8_t voice; /* voice amplitude register at its end, 0..255 */
    uint8_t noise; /* noise amplitude register at its end, 0..255 */
    uint8_t last;  /* the last one */
} hy_spoken;

typedef struct hy_model_setup {
    const hy_input *input; /* a score is played anew by a host that waits for this chip's requests */
    const hyoid_part *part;
    hy_host_options host; /* clock and level where the input doesn't set them; its other fields are not looked at */
    double scale;         /* the part's own oscillator against the input's clocks; 1 = as stated */
    int offset_ms;        /* another history of noise and pitch before the first word: the chip has run so much longer
                                when the samples begin; no time changes */
    double tail;          /* seconds after the last phoneme's time */
    double longest;       /* seconds; an input that lasts longer is refused */
    void (*prepare)(void *user, hyoid_stream *stream); /* faults; may be null. Called for the host's chip and for the
                                                          one that sounds */
    void *user;
} hy_model_setup;

typedef struct hy_model {
    float *samples; /* owned; at HY_ANALYSIS_RATE; sample 0 is HY_MODEL_LEAD_MS before the input's time 0 */
    size_t count;
    hy_spoken *spoken; /* owned */
    size_t spoken_count;
    double scale;   /* as set up */
    double seconds; /* from the first sample until what was said is over */
} hy_model;

/* Null on error: an input that can't be played (a request that never comes), that says nothing, or is too long. */
hy_model *hy_model_render(const hy_model_setup *setup, hy_diag *diag);
void hy_model_free(hy_model *model);

#endif
