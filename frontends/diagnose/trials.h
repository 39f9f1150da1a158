/* All suppositions rendered for one input at one clock. */
#ifndef HY_TRIALS_H
#define HY_TRIALS_H

#include "reference.h"

enum { HY_TRIALS_MOST = 128 };

typedef struct hy_trials {
    hy_reference *reference[HY_TRIALS_MOST]; /* owned; as hy_suppositions has them */
    size_t count;
} hy_trials;

/* Renders what is not there yet, of the first `most` suppositions. `tell` is called with how many there are; may be null. 0, or -1. */
int hy_trials_render(hy_trials *trials, const hy_reference_setup *setup, size_t most,
                     void (*tell)(void *user, size_t done), void *user, hy_diag *diag);
void hy_trials_free(hy_trials *trials);

#endif
