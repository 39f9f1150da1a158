/* A recording: NAME.wav, NAME.csv (write log) and NAME.score, all of them whole or none there.
 *
 * The chip is powered up when a take begins, so the log tells its whole story: `hyoid render NAME.csv` at the same rate and
 * bits gives the take's samples first, every one the same, and after them what the chip would have gone on to say. */
#ifndef HY_TAKE_H
#define HY_TAKE_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "diag.h"
#include "wire.h"

typedef struct hy_take hy_take;

/* `wav` ends in .wav; the others lie beside it. A file that is there already is never overwritten: it might be the score
 * that is being played. Null on error. */
hy_take *hy_take_open(const char *wav, const hyoid_part *part, uint32_t rate, int bits, hy_diag *diag);

/* Reports in their order. After HY_REPORT_TAKE rows are kept. */
int hy_take_report(hy_take *take, const hy_report *report, hy_diag *diag);

/* Samples in their order; `first` is the number of the first one, counted as reports count. Those that don't belong to the
 * take are left out. */
int hy_take_sound(hy_take *take, const float *samples, size_t count, uint64_t first, hy_diag *diag);

/* The end was reported and every sample up to it has come. */
int hy_take_complete(const hy_take *take);
double hy_take_seconds(const hy_take *take);

/* Writes the three files and frees; or leaves none and frees. */
int hy_take_close(hy_take *take, hy_diag *diag);
void hy_take_abandon(hy_take *take);

/* The first of take-001.wav, take-002.wav ... take-999.wav of which no file is there. */
void hy_take_free_name(char *wav, size_t size);

#endif
