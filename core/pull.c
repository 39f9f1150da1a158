/* The pull: a stream whose inputs wait in a queue for their time and whose samples wait in a ring for the host.
 *
 * Time moves only in go() and in hyoid_pull_run_to_request, always to an instant that is known beforehand, so the
 * cutting of audio into blocks can't show. */
#include <string.h>

#include "internal.h"

#define HALF (HYOID_TAPS / 2)

/* ---- samples ---- */

static void keep(hyoid_pull *pull, const float *frames, size_t count)
{
    /* Room was made sure of before time moved; only a host that runs pull->stream on its own can overfill the
     * ring. */
    for (size_t i = 0; i < count && pull->ring_count < pull->ring_room; i++) {
        pull->ring[(pull->ring_first + pull->ring_count) % pull->ring_room] = frames[i];
        pull->ring_count++;
    }
}

static void on_frames(void *user, const float *frames, size_t count)
{
    hyoid_pull *pull = user;
    size_t direct = count < pull->out_left ? count : pull->out_left;
    if (direct > 0) {
        memcpy(pull->out, frames, direct * sizeof *frames);
        pull->out += direct;
        pull->out_left -= direct;
    }
    keep(pull, frames + direct, count - direct);
}

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    const hyoid_observer *to = &((hyoid_pull *)user)->observer;
    to->level(to->user, cycle, ps, fraction, value);
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    const hyoid_observer *to = &((hyoid_pull *)user)->observer;
    to->latch(to->user, cycle, ps, code);
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    const hyoid_observer *to = &((hyoid_pull *)user)->observer;
    to->request(to->user, cycle, ps, level);
}

/* The pull may have been moved in memory since it last listened. */
static void listen(hyoid_pull *pull)
{
    const hyoid_observer *to = &pull->observer;
    pull->stream.observer =
        (hyoid_observer){pull, on_frames, to->level != NULL ? on_level : NULL, to->latch != NULL ? on_latch : NULL,
                         to->request != NULL ? on_request : NULL};
}

size_t hyoid_pull_ready(const hyoid_pull *pull)
{
    return pull == NULL ? 0 : pull->ring_count;
}

/* The first sample that the stream has not handed out. */
static uint64_t handed_out(const hyoid_pull *pull)
{
    return pull->stream.output.first > 0 ? (uint64_t)pull->stream.output.first : 0;
}

uint64_t hyoid_pull_position(const hyoid_pull *pull)
{
    return pull == NULL ? 0 : handed_out(pull) - pull->ring_count;
}

/* ---- set-up ---- */

hyoid_status hyoid_pull_init(hyoid_pull *pull, const hyoid_pull_setup *setup)
{
    if (pull == NULL || setup == NULL || setup->part == NULL || setup->ring == NULL || setup->queue == NULL) {
        return HYOID_E_NULL;
    }
    if (setup->rate == 0 || setup->ring_room == 0 || setup->queue_room == 0 || setup->relaxed > 1) {
        return HYOID_E_RANGE;
    }
    hyoid_stream stream;
    hyoid_status status = hyoid_stream_init(&stream, setup->part, setup->rate, NULL);
    if (status != HYOID_OK) {
        return status;
    }
    *pull = (hyoid_pull){.observer = setup->observer,
                         .relaxed = setup->relaxed,
                         .ring = setup->ring,
                         .ring_room = setup->ring_room,
                         .queue = setup->queue,
                         .queue_room = setup->queue_room};
    pull->stream = stream;
    listen(pull);
    return HYOID_OK;
}

hyoid_status hyoid_pull_reset(hyoid_pull *pull)
{
    if (pull == NULL) {
        return HYOID_E_NULL;
    }
    hyoid_status status = hyoid_stream_reset(&pull->stream);
    if (status == HYOID_OK) {
        pull->last_ps = 0;
        pull->ring_first = pull->ring_count = 0;
        pull->queue_first = pull->queue_count = 0;
    }
    return status;
}

/* ---- the queue ---- */

static hyoid_status put(hyoid_pull *pull, hyoid_input input, bool in_range)
{
    if (pull == NULL) {
        return HYOID_E_NULL;
    }
    if (!in_range || input.ps > HYOID_TIME_MAX) {
        return HYOID_E_RANGE;
    }
    if (input.ps != HYOID_ON_REQUEST) {
        const int64_t now = pull->stream.now;
        const int64_t earliest = pull->last_ps > now ? pull->last_ps : now;
        if (input.ps < earliest) {
            if (!pull->relaxed) {
                return HYOID_E_PAST;
            }
            input.ps = earliest;
        }
    }
    if (pull->queue_count == pull->queue_room) {
        return HYOID_E_FULL;
    }
    pull->queue[(pull->queue_first + pull->queue_count) % pull->queue_room] = input;
    pull->queue_count++;
    if (input.ps != HYOID_ON_REQUEST) {
        pull->last_ps = input.ps;
    }
    return HYOID_OK;
}

static hyoid_status put_value(hyoid_pull *pull, int64_t ps, hyoid_input_kind kind, unsigned value, unsigned values)
{
    return put(pull, (hyoid_input){.ps = ps, .kind = kind, .value = value}, value < values);
}

hyoid_status hyoid_pull_write(hyoid_pull *pull, int64_t ps, unsigned code)
{
    return put_value(pull, ps, HYOID_INPUT_WRITE, code, HYOID_PHONEMES);
}

hyoid_status hyoid_pull_set_code(hyoid_pull *pull, int64_t ps, unsigned code)
{
    return put_value(pull, ps, HYOID_INPUT_CODE, code, HYOID_PHONEMES);
}

hyoid_status hyoid_pull_set_strobe(hyoid_pull *pull, int64_t ps, unsigned strobe)
{
    return put_value(pull, ps, HYOID_INPUT_STROBE, strobe, 2);
}

hyoid_status hyoid_pull_set_inflection(hyoid_pull *pull, int64_t ps, unsigned inflection)
{
    return put_value(pull, ps, HYOID_INPUT_INFLECTION, inflection, HYOID_LEVELS);
}

static bool clock_in_range(double hz)
{
    return hz >= 0.0 && hz <= HYOID_CLOCK_MAX;
}

hyoid_status hyoid_pull_set_clock(hyoid_pull *pull, int64_t ps, double hz)
{
    return put(pull, (hyoid_input){.ps = ps, .hz = hz, .kind = HYOID_INPUT_CLOCK}, clock_in_range(hz));
}

hyoid_status hyoid_pull_glide_clock(hyoid_pull *pull, int64_t ps, int64_t end_ps, double hz)
{
    return put(pull, (hyoid_input){.ps = ps, .end_ps = end_ps, .hz = hz, .kind = HYOID_INPUT_GLIDE},
               clock_in_range(hz) && end_ps > ps && end_ps > 0 && end_ps <= HYOID_TIME_MAX);
}

/* Values and times were checked when it was queued: no call here can fail. */
static void act(hyoid_stream *stream, const hyoid_input *input)
{
    const int64_t at = input->ps > stream->now ? input->ps : stream->now;
    switch ((hyoid_input_kind)input->kind) {
    case HYOID_INPUT_WRITE:
        hyoid_stream_write(stream, at, input->value);
        break;
    case HYOID_INPUT_CODE:
        hyoid_stream_set_code(stream, at, input->value);
        break;
    case HYOID_INPUT_STROBE:
        hyoid_stream_set_strobe(stream, at, input->value);
        break;
    case HYOID_INPUT_INFLECTION:
        hyoid_stream_set_inflection(stream, at, input->value);
        break;
    case HYOID_INPUT_GLIDE:
        if (input->end_ps > at) {
            hyoid_stream_glide_clock(stream, at, input->end_ps, input->hz);
            break;
        } /* too late for a glide */
        hyoid_stream_set_clock(stream, at, input->hz);
        break;
    case HYOID_INPUT_CLOCK:
        hyoid_stream_set_clock(stream, at, input->hz);
        break;
    }
}

/* Runs until request is high or to `limit`, and tells when a waiting host acts; HYOID_ON_REQUEST if not before
 * limit. An edge is answered at the second whole picosecond after it, as `hyoid render` does (docs/formats.md says
 * why). */
static int64_t await_request(hyoid_stream *stream, int64_t limit)
{
    const int64_t before = stream->now;
    int64_t reached = -1;
    hyoid_stream_run_to_request(stream, limit, &reached);
    if (reached < 0) {
        return HYOID_ON_REQUEST;
    }
    return reached > before ? reached + 1 : reached;
}

/* Lets everything act that is due up to `ps`, which is not past. */
static void act_all(hyoid_pull *pull, int64_t ps)
{
    while (pull->queue_count > 0) {
        hyoid_input *head = &pull->queue[pull->queue_first];
        if (head->ps == HYOID_ON_REQUEST) {
            head->ps = await_request(&pull->stream, ps);
        }
        if (head->ps == HYOID_ON_REQUEST || head->ps > ps) {
            return;
        }
        const hyoid_input input = *head;
        pull->queue_first = (pull->queue_first + 1) % pull->queue_room;
        pull->queue_count--;
        act(&pull->stream, &input);
    }
}

static void go(hyoid_pull *pull, int64_t ps)
{
    listen(pull);
    act_all(pull, ps);
    hyoid_stream_run(&pull->stream, ps);
}

/* ---- moving time ---- */

/* The instant at which sample number `last` becomes final. */
static int64_t final_at(uint64_t last, uint32_t rate)
{
    const uint64_t second = (uint64_t)HYOID_PS_PER_S;
    const uint64_t samples = last + HALF;
    return (int64_t)(samples / rate * second + (samples % rate * second + rate - 1) / rate);
}

static size_t fetch(hyoid_pull *pull, float *out, size_t count)
{
    size_t fetched = 0;
    while (fetched < count && pull->ring_count > 0) {
        out[fetched++] = pull->ring[pull->ring_first];
        pull->ring_first = (pull->ring_first + 1) % pull->ring_room;
        pull->ring_count--;
    }
    return fetched;
}

hyoid_status hyoid_pull_frames(hyoid_pull *pull, float *out, size_t count)
{
    if (pull == NULL || (out == NULL && count > 0)) {
        return HYOID_E_NULL;
    }
    if (count <= pull->ring_count) {
        fetch(pull, out, count);
        return HYOID_OK;
    }
    const uint32_t rate = pull->stream.output.rate;
    const uint64_t most = (uint64_t)(HYOID_TIME_MAX / HYOID_PS_PER_S) * rate;
    const uint64_t wanted = count - pull->ring_count;
    if (wanted > most || handed_out(pull) + wanted - 1 > most - HALF) {
        return HYOID_E_RANGE;
    }
    const int64_t ps = final_at(handed_out(pull) + wanted - 1, rate);
    const size_t ready = fetch(pull, out, count);
    pull->out = out + ready;
    pull->out_left = count - ready;
    go(pull, ps);
    pull->out = NULL;
    return HYOID_OK;
}

/* May time move to ps? */
static hyoid_status check(const hyoid_pull *pull, int64_t ps)
{
    if (pull == NULL) {
        return HYOID_E_NULL;
    }
    if (ps > HYOID_TIME_MAX) {
        return HYOID_E_RANGE;
    }
    if (ps < pull->stream.now) {
        return HYOID_E_PAST;
    }
    const uint64_t most = hyoid_most_frames(pull->stream.output.rate, ps - pull->stream.now);
    return ps > pull->stream.now && most > pull->ring_room - pull->ring_count ? HYOID_E_FULL : HYOID_OK;
}

hyoid_status hyoid_pull_run(hyoid_pull *pull, int64_t ps)
{
    hyoid_status status = check(pull, ps);
    if (status == HYOID_E_PAST && pull->relaxed) {
        return HYOID_OK;
    }
    if (status == HYOID_OK) {
        go(pull, ps);
    }
    return status;
}

hyoid_status hyoid_pull_run_to_request(hyoid_pull *pull, int64_t limit_ps, int64_t *reached_ps)
{
    hyoid_status status = check(pull, limit_ps);
    if (status != HYOID_OK) {
        return status;
    }
    int64_t reached = -1;
    listen(pull);
    act_all(pull, limit_ps);
    if (pull->queue_count > 0) { /* the next is due later */
        hyoid_stream_run(&pull->stream, limit_ps);
    } else {
        hyoid_stream_run_to_request(&pull->stream, limit_ps, &reached);
    }
    if (reached_ps != NULL) {
        *reached_ps = reached;
    }
    return HYOID_OK;
}

hyoid_status hyoid_pull_request_at(const hyoid_pull *pull, int64_t ps, int *level)
{
    if (pull == NULL || level == NULL) {
        return HYOID_E_NULL;
    }
    if (pull->relaxed && ps < pull->stream.now) {
        ps = pull->stream.now;
    }
    hyoid_stream ahead = pull->stream;
    ahead.observer = (hyoid_observer){0};
    ahead.output.rate = 0;
    ahead.images.left_out = 0;
    hyoid_chip_set_tap(&ahead.chip, NULL, NULL);
    for (size_t i = 0; i < pull->queue_count && ps >= ahead.now && ps <= HYOID_TIME_MAX; i++) {
        hyoid_input input = pull->queue[(pull->queue_first + i) % pull->queue_room];
        if (input.ps == HYOID_ON_REQUEST) {
            input.ps = await_request(&ahead, ps);
        }
        if (input.ps == HYOID_ON_REQUEST || input.ps > ps) {
            break;
        }
        act(&ahead, &input);
    }
    hyoid_status status = hyoid_stream_run(&ahead, ps);
    if (status == HYOID_OK) {
        *level = hyoid_chip_request(&ahead.chip);
    }
    return status;
}
