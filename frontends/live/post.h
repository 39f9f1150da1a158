/* What lies between the audio pin and the sound device: volume that never jumps, and a limiter that looks ahead.
 *
 *     pin -> volume (ramped) -> delay of 1 ms -> gain from the limiter -> device
 *
 * With the volume at 1 and the limiter idle or bypassed, what comes out is what went in, bit for bit, 1 ms later. */
#ifndef HY_POST_H
#define HY_POST_H

#include <stddef.h>
#include <stdint.h>

#define HY_POST_AHEAD 192          /* most samples of looking ahead: 1 ms at 192 kHz */
#define HY_POST_CEILING 0.70794578 /* -3 dB of full scale: what the limiter lets pass */

typedef struct hy_post {
    uint32_t rate, ahead;
    double gain, slope; /* volume now, and its change per sample while it moves */
    double share;       /* of the limiter: 1 on, 0 bypassed; it moves over 20 ms */
    double envelope, release;
    float delay[HY_POST_AHEAD];
    float need[HY_POST_AHEAD + 1]; /* the gain that each of the samples ahead needs */
    double held[HY_POST_AHEAD];    /* envelopes whose mean is the gain */
    uint32_t at, need_at;
    float peak, least; /* of the last call: what came out, least gain */
} hy_post;

/* Starts silent; the first rise takes a second. rate: 8000..192000. */
void hy_post_init(hy_post *post, uint32_t rate);

/* Works on `samples` in place. volume: factor to go to, in 20 ms; limiter: 1 or 0. fade: 1: be silent at the last sample,
 * whatever the volume. */
void hy_post_run(hy_post *post, float *samples, size_t count, double volume, int limiter, int fade);

#endif
