/* A capture, whatever its form: signals with names, and their changes in the order of time, in a stream.
 *
 *   value change dump   vcd_read.h
 *   session (.sr)       of logic analysers: a ZIP archive of raw samples, session.h
 *   table (.csv)        of logic analysers: a row a change or a row a sample, table.h
 *
 * All tell the same: hy_vcd_change, which is the four-state change of a dump; channels of an analyser are signals of one bit.
 * Which form it is shows in the file's first bytes, not in its name. */
#ifndef HY_WAVES_H
#define HY_WAVES_H

#include <stdio.h>

#include "diag.h"
#include "vcd_read.h"

typedef struct hy_waves hy_waves;

typedef enum hy_waves_form { HY_WAVES_NONE, HY_WAVES_DUMP, HY_WAVES_SESSION, HY_WAVES_TABLE } hy_waves_form;

/* What stands in the stream, which must be seekable and is rewound. A write log is a table of our own and no capture; a
 * text that looks like nothing known is HY_WAVES_NONE. */
hy_waves_form hy_waves_look(FILE *in);

/* Opens whatever stands there; what is of no known form is read as a dump, whose reader says what is wrong. `rate`: samples a
 * second where the capture doesn't say; 0: not known. `in` stays the caller's, `name` must live as long. Null on error. */
hy_waves *hy_waves_open(FILE *in, const char *name, double rate, hy_diag *diag);
void hy_waves_close(hy_waves *waves);

hy_waves_form hy_waves_is(const hy_waves *waves);

/* As for a dump's reader (vcd_read.h). */
unsigned hy_waves_vars(const hy_waves *waves);
hy_vcd_var hy_waves_var(const hy_waves *waves, unsigned var);
hy_vcd_name hy_waves_name(const hy_waves *waves, unsigned var);
int hy_waves_matches(const hy_waves *waves, unsigned var, const char *text, size_t length, int fold);
unsigned hy_waves_select(hy_waves *waves, unsigned var);
int hy_waves_run(hy_waves *waves, const hy_vcd_listener *listener, hy_diag *diag);
int64_t hy_waves_first(const hy_waves *waves);
int64_t hy_waves_last(const hy_waves *waves);
int64_t hy_waves_step(const hy_waves *waves);
int hy_waves_refuse(hy_waves *waves, const char *expected);

/* How much of the capture has been read, in any unit. */
void hy_waves_progress(const hy_waves *waves, uint64_t *done, uint64_t *whole);

/* ps between two samples of the instrument, which an edge may have come late by; 0 if the form doesn't say. */
double hy_waves_period(const hy_waves *waves);

/* Time that the file gives to its first instant, ps: tables may begin anywhere, even below 0. hy_waves_first is 0 then. */
int64_t hy_waves_origin(const hy_waves *waves);

#endif
