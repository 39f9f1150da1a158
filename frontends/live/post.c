#include "post.h"

#include <math.h>
#include <string.h>

#define RAMP_S 0.02
#define FIRST_RAMP_S 1.0
#define RELEASE_S 0.15
#define ARRIVED 1e-7

void hy_post_init(hy_post *p, uint32_t rate)
{
    memset(p, 0, sizeof *p);
    p->rate = rate;
    p->ahead = rate / 1000;
    p->slope = 1.0 / (FIRST_RAMP_S * rate);
    p->share = 1.0;
    p->envelope = 1.0;
    p->release = 1.0 / (RELEASE_S * rate);
    for (size_t i = 0; i < HY_POST_AHEAD; i++) {
        p->held[i] = 1.0;
    }
    for (size_t i = 0; i <= HY_POST_AHEAD; i++) {
        p->need[i] = 1.0F;
    }
}

static double toward(double from, double to, double step)
{
    if (from < to) {
        return from + step < to ? from + step : to;
    }
    return from - step > to ? from - step : to;
}

/* The gain for the sample that comes out now, given the newest one, which comes out `ahead` samples later: the mean of the
 * last envelopes, none of which is above what that sample needs. */
static double limiter_gain(hy_post *p, float newest)
{
    const float size = fabsf(newest);
    p->need[p->need_at] = size > (float)HY_POST_CEILING ? (float)HY_POST_CEILING / size : 1.0F;
    p->need_at = p->need_at == p->ahead ? 0 : p->need_at + 1;
    double hold = 1.0;
    for (uint32_t i = 0; i <= p->ahead; i++) {
        hold = p->need[i] < hold ? p->need[i] : hold;
    }
    p->envelope += (1.0 - p->envelope) * p->release;
    p->envelope = p->envelope > 1.0 - ARRIVED ? 1.0 : p->envelope;
    p->envelope = hold < p->envelope ? hold : p->envelope;
    p->held[p->at] = p->envelope;
    double sum = 0.0;
    for (uint32_t i = 0; i < p->ahead; i++) {
        sum += p->held[i];
    }
    return sum / p->ahead;
}

void hy_post_run(hy_post *p, float *samples, size_t count, double volume, int limiter, int fade)
{
    const double step = fade && count > 0 ? p->gain / (double)count : p->slope;
    p->peak = 0.0F;
    p->least = 1.0F;
    for (size_t i = 0; i < count; i++) {
        p->gain = toward(p->gain, fade ? 0.0 : volume, step);
        p->share = toward(p->share, limiter ? 1.0 : 0.0, 1.0 / (RAMP_S * p->rate));
        const float in = (float)(samples[i] * p->gain);
        const float late = p->delay[p->at];
        p->delay[p->at] = in;
        const double gain = 1.0 + (limiter_gain(p, in) - 1.0) * p->share;
        p->at = p->at + 1 == p->ahead ? 0 : p->at + 1;
        const float out = (float)(late * gain);
        samples[i] = out;
        p->peak = fabsf(out) > p->peak ? fabsf(out) : p->peak;
        p->least = (float)gain < p->least ? (float)gain : p->least;
    }
    if (!fade && p->gain == volume) {
        p->slope = 1.0 / (RAMP_S * p->rate); /* from now on */
    }
    if (fade) {
        p->gain = 0.0;
    }
}
