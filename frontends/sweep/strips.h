/* A sweep as a picture: a spectrogram strip for each clock, on one time axis. */
#ifndef HY_SWEEP_STRIPS_H
#define HY_SWEEP_STRIPS_H

#include "measure/grid.h"
#include "outfile.h"
#include "step.h"

enum { HY_STRIPS_MAX = 32 };

typedef struct hy_strips hy_strips;

/* `longest_s`: seconds that the time axis must hold. At most HY_STRIPS_MAX strips. Null on error. */
hy_strips *hy_strips_open(const char *path, size_t count, double longest_s, const char *title, const char *note,
                          hy_diag *diag);
/* Keeps the step's spectrogram and names; its sound may go afterwards. 0, or -1. */
int hy_strips_add(hy_strips *strips, const hy_sweep_step *step, hy_diag *diag);
/* Draws and finishes the file; then commit or abandon, which free. */
int hy_strips_finish(hy_strips *strips, hy_diag *diag);
int hy_strips_commit(hy_strips *strips, hy_diag *diag);
void hy_strips_abandon(hy_strips *strips);

#endif
