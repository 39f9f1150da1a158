/* The write log: everything a host did to the chip's inputs, with times. It is the one stimulus that is
 * rendered: a score is first played by a host (host.h), which writes a log; a CSV file or a capture is read into one.
 *
 * CSV form (docs/formats.md): header `time_s,signal,value`, times in seconds with up to 12 decimals (whole picoseconds),
 * not decreasing. */
#ifndef HY_LOG_H
#define HY_LOG_H

#include <stdint.h>
#include <stdio.h>

#include "diag.h"

typedef enum hy_signal {
    HY_PHONEME,    /* number: code 0..63; a strobe is implied */
    HY_INFLECTION, /* number: 0..3 */
    HY_CLOCK, /* hz from here; if to_ps > ps it glides linearly until it reaches to_hz at to_ps (the CSV's next clock row
                      is then a `clock_to`, which stands as its own HY_CLOCK event at to_ps) */
    HY_PIN,  /* number: pin * 2 + level; see hy_pin */
    HY_MARK, /* number: index for hy_log_mark_name */
    HY_END   /* the host's last instant; the last event of every log */
} hy_signal;

/* Raw pins in a CSV: p0..p5, i0, i1, strobe. `request` rows are the chip's answer and are skipped when read. */
typedef enum hy_pin { HY_P0, HY_P1, HY_P2, HY_P3, HY_P4, HY_P5, HY_I0, HY_I1, HY_STROBE, HY_PINS } hy_pin;

typedef struct hy_event {
    int64_t ps; /* host time */
    int32_t signal;
    int32_t number;
    double hz;     /* HY_CLOCK */
    int64_t to_ps; /* HY_CLOCK: end of a glide, or 0 */
    double to_hz;  /* HY_CLOCK: where it goes */
} hy_event;

/* The latest time that a log may name; the stream goes on a little longer, for what sounds after it. */
#define HY_LOG_TIME_MAX (INT64_C(4000000) * INT64_C(1000000000000))

/* Kept in a temporary file, so that an hour needs no more memory than a second. */
typedef struct hy_log hy_log;

hy_log *hy_log_new(hy_diag *diag);
void hy_log_free(hy_log *log);

/* Appends in time order. `glides`: for HY_CLOCK only: the clock has moved linearly since the preceding HY_CLOCK event and
 * reaches event->hz now (the preceding event's to_ps and to_hz are filled in). */
int hy_log_append(hy_log *log, const hy_event *event, int glides, hy_diag *diag);

/* Registers a mark's name (copied) and returns its index, or -1. */
int hy_log_add_mark(hy_log *log, const char *name, hy_diag *diag);
const char *hy_log_mark_name(const hy_log *log, int index);

/* Reading: rewind, then next until 0. Returns 1 and an event, 0 at the end, -1 on error. */
int hy_log_rewind(hy_log *log, hy_diag *diag);
int hy_log_next(hy_log *log, hy_event *event, hy_diag *diag);

/* Time of the last event, ps. */
int64_t hy_log_end(const hy_log *log);

/* CSV in: `name` is for messages. Null on error, with FILE:LINE:COLUMN in the diagnosis. */
hy_log *hy_log_read_csv(FILE *in, const char *name, hy_diag *diag);

/* CSV out. Reading it back gives the same events, and so the same bits. */
int hy_log_write_csv(hy_log *log, FILE *out, hy_diag *diag);

#endif
