/* The last word on a part that was found: what held-out phonemes do not bear out is not handed out. */
#ifndef HY_GUARD_H
#define HY_GUARD_H

#include "calibration.h"

/* session->part: as fitted. Gives numbers back to the prior where the recordings do not prefer what was found, stake by stake where the
 * held-out phonemes come no nearer by it, and altogether if they come no nearer at all. Fills in the session's figures of before
 * and after, and what was given back. 0, or -1. */
int hy_guard(hy_calibration *session, hy_diag *diag);

#endif
