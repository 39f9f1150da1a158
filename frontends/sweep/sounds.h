/* A sweep as sound: one file with all steps, or a file for each. */
#ifndef HY_SWEEP_SOUNDS_H
#define HY_SWEEP_SOUNDS_H

#include "sound.h"
#include "step.h"

typedef struct hy_sounds hy_sounds;

/* `pattern`: a name with %n (the step's number, from 1, as many digits as the last has) or %c (its clock in whole hertz) makes a
 * file for each step, and any other one file, with a silence of gap_ms between the steps and a cue point at each. Null on
 * error. */
hy_sounds *hy_sounds_open(const char *pattern, const hy_sweep_clocks *clocks, const hy_sound_options *options,
                          double gap_ms, hy_diag *diag);
/* The next step's sound; a step that was not played has none. 0, or -1. */
int hy_sounds_add(hy_sounds *sounds, const hy_sweep_step *step, hy_diag *diag);
/* Everything on the disk; then commit (all files appear) or abandon (none does), which free. */
int hy_sounds_finish(hy_sounds *sounds, hy_diag *diag);
int hy_sounds_commit(hy_sounds *sounds, hy_diag *diag);
void hy_sounds_abandon(hy_sounds *sounds);

float hy_sounds_peak(const hy_sounds *sounds);
size_t hy_sounds_files(const hy_sounds *sounds);

#endif
