/* The host: plays a score against a chip as a sound board's processor would, and writes down what it did.
 *
 * A phoneme is strobed; then the host waits for request plus its answer time, or until the hold time is over, whichever
 * comes first. What stands after a phoneme in the score happens at the instant of that next strobe. The last phoneme has no
 * next: it lasts its full time. The log ends when the last phoneme's time is over, all rests have passed and a glide that
 * is under way has arrived. */
#ifndef HY_HOST_H
#define HY_HOST_H

#include <hyoid/hyoid.h>

#include "log.h"
#include "score.h"

enum { HY_LEVEL_DEFAULT = 1 }; /* of inflection, where neither the input nor an option says it */

typedef struct hy_host_options {
    double clock_hz; /* where the clock starts */
    int level;       /* where inflection starts, 0..3 */
    /* The part's own oscillator against what the score says, such as 1.017: every clock is multiplied by it; 0 means 1. */
    double clock_scale;
    /* A host that loses patience: where the log would go beyond this, it ends there instead, and a request that never comes is no
     * error. 0: it waits. */
    int64_t longest_ps;
    /* Called once, before time moves, to give the chip that answers its faults; may be null. */
    void (*prepare)(void *user, hyoid_stream *stream);
    void *user;
} hy_host_options;

/* Plays the whole score. Null on error (a wait for request while the clock stands still for good names
 * the statement; more than 24 h). The log always starts with a HY_CLOCK and a HY_INFLECTION event at 0. */
hy_log *hy_host_play(hy_score *score, const hyoid_part *part, const hy_host_options *options, hy_diag *diag);

#endif
