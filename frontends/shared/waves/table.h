/* Tables of logic analysers (.csv), both forms in use. No standard rules them; what is read:
 *
 *   a row a change    Time [s],Channel 0,Channel 1        a row a sample    ; Samplerate: 1 MHz
 *                     -0.001,0,0                                            logic,logic
 *                     0.000012,1,0                                          0,0
 *
 * Comma, semicolon or tab between the fields; comment lines begin with # or ; and may carry the sample rate and the channels'
 * names; a byte order mark; LF or CR LF; fields may be quoted. The first column is a time if its heading begins with "time",
 * with the unit in it (s, ms, us, ns; s if there is none), or is a unit spelled out ("microseconds"). Values are 0, 1, x and z.
 *
 * sigrok-cli writes both, under any mark of comments, with headings or none. Its times are whole multiples of a sample period that
 * was cut off to the unit, so where the rate is known they count samples, the first row's number being one. */
#ifndef HY_TABLE_H
#define HY_TABLE_H

#include <stdio.h>

#include "waves/channels.h"

/* Whether a text's first rows may be such a table. A write log's can't. */
int hy_table_looks_so(const char *text);

/* Reads up to the heading. `rate`: samples a second where the table says none, or 0. `in` stays the caller's. Null on error. */
void *hy_table_open(FILE *in, const char *name, double rate, hy_diag *diag);
void hy_table_close(void *table);

hy_channels *hy_table_channels(void *table);
int hy_table_run(void *table, const hy_vcd_listener *listener, hy_diag *diag);
int64_t hy_table_last(const void *table);   /* time of the last row, ps; the first one's is 0 */
int64_t hy_table_step(const void *table);   /* of the times as they are written so far, ps */
double hy_table_period(const void *table);  /* ps; 0: not known */
int64_t hy_table_origin(const void *table); /* time of the first row as the table gives it, ps */

#endif
