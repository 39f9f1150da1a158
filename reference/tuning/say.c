#include "say.h"

#include <stdlib.h>
#include <string.h>

static void collect(void *user, const float *frames, size_t count)
{
    sound *s = user;
    if (s->count + count > s->room) {
        s->room = 2 * (s->count + count) + 4096;
        s->frames = realloc(s->frames, s->room * sizeof *s->frames);
        if (s->frames == NULL) {
            abort();
        }
    }
    memcpy(s->frames + s->count, frames, count * sizeof *frames);
    s->count += count;
}

static void must(hyoid_status status)
{
    if (status != HYOID_OK) {
        abort(); /* every argument here is ours */
    }
}

static void start(hyoid_stream *stream, sound *out, const hyoid_part *part, unsigned level, double clock_hz,
                  uint32_t rate)
{
    const hyoid_observer observer = {.user = out, .frames = collect};
    out->rate = rate;
    must(hyoid_stream_init(stream, part, rate, &observer));
    must(hyoid_stream_set_clock(stream, 0, clock_hz));
    must(hyoid_stream_set_inflection(stream, 0, level));
}

static int64_t ps_of(double ms)
{
    return (int64_t)(ms * 1e9);
}

void say(sound *out, const hyoid_part *part, const uint8_t *codes, size_t count, unsigned level, double clock_hz,
         uint32_t rate, double tail_ms)
{
    hyoid_stream *stream = malloc(sizeof *stream);
    if (stream == NULL) {
        abort();
    }
    start(stream, out, part, level, clock_hz, rate);
    for (size_t i = 0; i < count; i++) {
        int64_t reached;
        must(hyoid_stream_write(stream, stream->now, codes[i]));
        /* one clock, so that the strobe has been latched and request is low */
        must(hyoid_stream_run(stream, stream->now + (int64_t)(4e12 / clock_hz)));
        must(hyoid_stream_run_to_request(stream, stream->now + 2 * HYOID_PS_PER_S, &reached));
    }
    must(hyoid_stream_run(stream, stream->now + ps_of(tail_ms)));
    free(stream);
}

void hold(sound *out, const hyoid_part *part, unsigned code, unsigned level, double clock_hz, uint32_t rate,
          double ms)
{
    hyoid_stream *stream = malloc(sizeof *stream);
    if (stream == NULL) {
        abort();
    }
    start(stream, out, part, level, clock_hz, rate);
    must(hyoid_stream_write(stream, 0, code));
    must(hyoid_stream_run(stream, ps_of(ms)));
    free(stream);
}

void sound_free(sound *s)
{
    free(s->frames);
    *s = (sound){0};
}
