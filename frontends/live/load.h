/* INPUT as the score that live plays, whatever its form. */
#ifndef HY_LOAD_H
#define HY_LOAD_H

#include <hyoid/hyoid.h>

#include "host.h"
#include "input.h"
#include "score.h"

/* A score is played once beforehand, silently: what can't be played is told before a sound is heard. *whole, without log and score,
 * keeps what the input sets itself. Null on error. */
hy_score *hy_load_score(const char *path, const hyoid_part *part, const hy_host_options *host, hy_input *whole,
                        hy_diag *diag);

#endif
