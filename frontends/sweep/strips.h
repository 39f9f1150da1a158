/* A sweep as a picture: a spectrogram strip for each clock, on one time axis. */
#ifndef HY_SWEEP_STRIPS_H
#define HY_SWEEP_STRIPS_H

#include "measure/grid.h"
#include "step.h"

enum { HY_STRIPS_MAX = 32 };

typedef struct hy_strips hy_strips;

/* `longest_s`: seconds that the time axis must hold. At most HY_STRIPS_MAX strips. Null on error. */
hy_strips *hy_strips_new(size_t count, double longest_s, const char *title, const char *note, hy_diag *diag);
/* Keeps the step's spectrogram and names; its sound may go afterwards. 0, or -1. */
int hy_strips_add(hy_strips *strips, const hy_sweep_step *step, hy_diag *diag);
/* The page, once all are there; the caller destroys it. Null on error. */
cairo_t *hy_strips_draw(const hy_strips *strips, hy_diag *diag);
void hy_strips_free(hy_strips *strips);

#endif
