/* Pins as a value change dump (IEEE 1364-2005, clause 18), timescale 1 ns, times rounded to the nearest.
 *
 * Signals, scope `board`: p[5:0] vector and scalars p0..p5, i0, i1, strobe, request, and reals clock_hz and audio; fewer if the
 * caller says so.
 * An implied strobe is 10 us wide, or half the gap to the next one if that is shorter; during a glide clock_hz is
 * restated at least every millisecond. Marks become $comment lines.
 *
 * Of several values of a signal within one nanosecond the last is written; what stands at 0 is in $dumpvars. Edges of strobe
 * and request never vanish, though: one that would share its nanosecond with the edge before it is put a nanosecond
 * later (with its code, for a write), and so one at 0 appears at 1 ns. If more than a thousand pile up,
 * the rest are merged and a $comment says so. */
#ifndef HY_VCD_H
#define HY_VCD_H

#include <stdint.h>

#include "diag.h"
#include "log.h"
#include "vcd_queue.h"

typedef struct hy_vcd hy_vcd;

/* Opens a temporary file beside the destination. note: a comment at the top, or null or empty. */
hy_vcd *hy_vcd_open(const char *path, hy_vcd_holds holds, const char *note, hy_diag *diag);

/* Things in the order of their times (equal times: inputs first). `log` gives mark names. */
void hy_vcd_input(hy_vcd *vcd, const hy_event *event, const hy_log *log);
void hy_vcd_request(hy_vcd *vcd, int64_t ps, int level);
void hy_vcd_level(hy_vcd *vcd, int64_t ps, double fraction, double value);

/* Writes the last time stamp; then as for hy_outfile. */
int hy_vcd_finish(hy_vcd *vcd, int64_t end_ps, hy_diag *diag);
int hy_vcd_commit(hy_vcd *vcd, hy_diag *diag);
void hy_vcd_abandon(hy_vcd *vcd);

#endif
