/* Leaving the staircase's images out, for listeners who want the chip's speech without its repetition above half the
 * filter rate (a real chip sends both to its amplifier).
 *
 * The staircase is low-passed in its own time, by the very kernel of output.c with the filter cycle as its sample,
 * and handed on in so many smaller steps per filter cycle that what images they have lie beyond the host's rate
 * (down to a clock of rate * filter_clocks / FINEST; what is slower is no speech). This looks ahead, so the sound
 * comes HALF filter cycles later. */
#include <string.h>

#include "internal.h"

enum { TAPS = HYOID_TAPS, HALF = HYOID_TAPS / 2, FINEST = HYOID_IMAGE_STEPS };

/* Value of the low-passed staircase, HALF cycles ago and `step` of `steps` into that cycle. */
static double smoothed(const hyoid_images *images)
{
    float kernel[TAPS];
    const uint64_t left = images->steps - images->step;
    hyoid_output_kernel((uint32_t)((left << 32) / images->steps), kernel);
    /* history[0] is the newest; four sums, so that the additions need not wait for each other */
    const double *level = images->history;
    double sum[4] = {0.0, 0.0, 0.0, 0.0};
    for (int k = 0; k < TAPS; k += 4) {
        for (int i = 0; i < 4; i++) {
            sum[i] += (double)kernel[k + i] * (level[k + i] - level[k + i + 1]);
        }
    }
    return level[HALF] + ((sum[0] + sum[1]) + (sum[2] + sum[3]));
}

/* Hands on the small steps of the present filter cycle that lie before `due`, an offset from the start of the clock's
 * piece; or all of them, if the cycle ends there, which a divider that turns slow can bring about early. */
static void hand_on(hyoid_stream *stream, double due, bool ends)
{
    hyoid_images *images = &stream->images;
    const hyoid_clock *clock = &stream->clock;
    const int64_t second = clock->start / HYOID_PS_PER_S;
    const double into_second = (double)(clock->start - second * HYOID_PS_PER_S);
    while (images->step < images->steps) {
        const uint64_t place = (uint64_t)(images->step + 1) * stream->chip.filter_clocks;
        double at = hyoid_clock_place(clock, images->cycle + place / images->steps,
                                      (double)(place % images->steps) / images->steps);
        if (at >= due) {
            if (!ends) {
                return;
            }
            at = due;
        }
        images->step++;
        hyoid_output_step(&stream->output, second, into_second + (at > 0.0 ? at : 0.0), smoothed(images),
                          &stream->observer);
    }
}

void hyoid_images_level(hyoid_stream *stream, const hyoid_level *level)
{
    hyoid_images *images = &stream->images;
    const double at = hyoid_clock_edge(&stream->clock, level->cycle);
    hand_on(stream, at, true);
    memmove(images->history + 1, images->history, TAPS * sizeof images->history[0]);
    images->history[0] = level->value;
    images->cycle = level->cycle;
    images->step = 0;

    const double hz = hyoid_clock_hz_at(&stream->clock, stream->clock.start + (int64_t)at);
    const double wanted = hz > 0.0 ? (double)stream->output.rate * stream->chip.filter_clocks / hz : FINEST;
    images->steps = wanted < FINEST ? (uint32_t)wanted + 1 : FINEST;
}

void hyoid_images_run(hyoid_stream *stream, int64_t ps)
{
    hand_on(stream, (double)(ps - stream->clock.start), false);
}

hyoid_status hyoid_stream_keep_images(hyoid_stream *stream, int keep)
{
    if (stream == NULL) {
        return HYOID_E_NULL;
    }
    memset(&stream->images, 0, sizeof stream->images);
    for (int k = 0; k <= TAPS; k++) {
        stream->images.history[k] = stream->output.level;
    }
    stream->images.left_out = !keep;
    return HYOID_OK;
}
