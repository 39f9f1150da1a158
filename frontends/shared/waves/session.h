/* Sessions of logic analysers (.sr, media type application/vnd.sigrok.session), versions 1 and 2: a ZIP archive with `version`,
 * `metadata` and the samples in raw pieces `logic-1-1`, `logic-1-2`, ... of any size, read by number in a stream. Analog channels
 * are passed over. */
#ifndef HY_SESSION_H
#define HY_SESSION_H

#include <stdio.h>

#include "waves/channels.h"

/* Opens the archive and reads what it says of itself. `in` is a regular file and stays the caller's. Null on error. The readers
 * are void to fit waves.c. */
void *hy_session_open(FILE *in, const char *name, hy_diag *diag);
void hy_session_close(void *opened);

hy_channels *hy_session_channels(void *opened);
int hy_session_run(void *opened, const hy_vcd_listener *listener, hy_diag *diag);
int64_t hy_session_last(const void *opened);                                   /* time of the last sample, ps */
void hy_session_progress(const void *opened, uint64_t *done, uint64_t *whole); /* pieces */
double hy_session_period(const void *opened);

#endif
