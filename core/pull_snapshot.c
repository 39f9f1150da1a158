/* Snapshots of a pull: what waits in ring and queue, then the stream's own snapshot.
 *
 *     0   8  "hyoidpl1"                the 1 is the version
 *     8   8  length of the whole
 *    16   8  samples that wait
 *    24   8  inputs that wait
 *    32   8  time of the input queued last, ps
 *    40   .  samples, 4 bytes each; inputs, 32 bytes each; snapshot of the stream
 *   end   8  checksum over all that stands before
 *
 * Little-endian throughout. */
#include <string.h>

#include "internal.h"

enum { HEAD = 40, FRAME = 4, INPUT = 32, TAIL = 8 };

static const char magic[8] = {'h', 'y', 'o', 'i', 'd', 'p', 'l', '1'};

static void put(uint8_t *at, uint64_t value, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        at[i] = (uint8_t)(value >> (8 * i));
    }
}

static uint64_t get(const uint8_t *at, size_t count)
{
    uint64_t value = 0;
    for (size_t i = 0; i < count; i++) {
        value |= (uint64_t)at[i] << (8 * i);
    }
    return value;
}

/* FNV-1a. */
static uint64_t checksum(const uint8_t *bytes, size_t count)
{
    uint64_t sum = UINT64_C(0xcbf29ce484222325);
    for (size_t i = 0; i < count; i++) {
        sum = (sum ^ bytes[i]) * UINT64_C(0x100000001b3);
    }
    return sum;
}

static void put_input(uint8_t *at, const hyoid_input *input)
{
    union {
        double d;
        uint64_t u;
    } hz = {input->hz};
    put(at, (uint64_t)input->ps, 8);
    put(at + 8, (uint64_t)input->end_ps, 8);
    put(at + 16, hz.u, 8);
    put(at + 24, input->kind, 4);
    put(at + 28, input->value, 4);
}

static hyoid_input get_input(const uint8_t *at)
{
    union {
        uint64_t u;
        double d;
    } hz = {get(at + 16, 8)};
    return (hyoid_input){.ps = (int64_t)get(at, 8),
                         .end_ps = (int64_t)get(at + 8, 8),
                         .hz = hz.d,
                         .kind = (uint32_t)get(at + 24, 4),
                         .value = (uint32_t)get(at + 28, 4)};
}

static bool input_possible(const hyoid_input *input)
{
    static const uint32_t values[] = {[HYOID_INPUT_WRITE] = HYOID_PHONEMES,
                                      [HYOID_INPUT_CODE] = HYOID_PHONEMES,
                                      [HYOID_INPUT_STROBE] = 2,
                                      [HYOID_INPUT_INFLECTION] = HYOID_LEVELS,
                                      [HYOID_INPUT_CLOCK] = 1,
                                      [HYOID_INPUT_GLIDE] = 1};
    return input->kind <= HYOID_INPUT_GLIDE && input->value < values[input->kind] && input->hz >= 0.0 &&
           input->hz <= HYOID_CLOCK_MAX && input->end_ps >= 0 && input->end_ps <= HYOID_TIME_MAX &&
           (input->ps == HYOID_ON_REQUEST || (input->ps >= 0 && input->ps <= HYOID_TIME_MAX + 1));
}

static size_t waiting(const hyoid_pull *pull)
{
    return FRAME * pull->ring_count + INPUT * pull->queue_count;
}

size_t hyoid_pull_snapshot_size(const hyoid_pull *pull)
{
    uint8_t stream[HYOID_SNAPSHOT_MAX];
    return pull == NULL ? 0
                        : HEAD + waiting(pull) + hyoid_snapshot_write(&pull->stream, stream, sizeof stream) + TAIL;
}

size_t hyoid_pull_snapshot_write(const hyoid_pull *pull, uint8_t *bytes, size_t room)
{
    if (pull == NULL || bytes == NULL || room < HEAD + waiting(pull) + TAIL) {
        return 0;
    }
    memcpy(bytes, magic, sizeof magic);
    put(bytes + 16, pull->ring_count, 8);
    put(bytes + 24, pull->queue_count, 8);
    put(bytes + 32, (uint64_t)pull->last_ps, 8);
    size_t at = HEAD;
    for (size_t i = 0; i < pull->ring_count; i++, at += FRAME) {
        union {
            float f;
            uint32_t u;
        } frame = {pull->ring[(pull->ring_first + i) % pull->ring_room]};
        put(bytes + at, frame.u, FRAME);
    }
    for (size_t i = 0; i < pull->queue_count; i++, at += INPUT) {
        put_input(bytes + at, &pull->queue[(pull->queue_first + i) % pull->queue_room]);
    }
    const size_t inner = hyoid_snapshot_write(&pull->stream, bytes + at, room - at - TAIL);
    if (inner == 0) {
        return 0;
    }
    at += inner;
    put(bytes + 8, at + TAIL, 8);
    put(bytes + at, checksum(bytes, at), TAIL);
    return at + TAIL;
}

static bool whole(const uint8_t *bytes, size_t length)
{
    return length >= HEAD + TAIL && memcmp(bytes, magic, sizeof magic) == 0 && get(bytes + 8, 8) == length &&
           get(bytes + length - TAIL, TAIL) == checksum(bytes, length - TAIL);
}

/* Are the inputs such as a queue can hold: possible each, and in the order of their times? */
static bool queue_possible(const uint8_t *at, size_t count, int64_t last)
{
    int64_t before = 0;
    for (size_t i = 0; i < count; i++) {
        const hyoid_input input = get_input(at + i * INPUT);
        if (!input_possible(&input) || (input.ps != HYOID_ON_REQUEST && input.ps < before)) {
            return false;
        }
        /* the first may stand a picosecond later than it was queued: it has seen its request */
        before = input.ps != HYOID_ON_REQUEST && i > 0 ? input.ps : before;
    }
    return last >= before && last <= HYOID_TIME_MAX;
}

static bool frames_possible(const uint8_t *at, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        union {
            uint32_t u;
            float f;
        } frame = {(uint32_t)get(at + i * FRAME, FRAME)};
        if (!(frame.f >= -1e30f && frame.f <= 1e30f)) {
            return false;
        }
    }
    return true;
}

hyoid_status hyoid_pull_snapshot_read(hyoid_pull *pull, const uint8_t *bytes, size_t length)
{
    if (pull == NULL || bytes == NULL) {
        return HYOID_E_NULL;
    }
    if (!whole(bytes, length)) {
        return HYOID_E_SNAPSHOT;
    }
    const uint64_t frames = get(bytes + 16, 8), inputs = get(bytes + 24, 8);
    if (frames > length / FRAME || inputs > length / INPUT ||
        frames * FRAME + inputs * INPUT > length - HEAD - TAIL) {
        return HYOID_E_SNAPSHOT;
    }
    const uint8_t *const samples = bytes + HEAD;
    const uint8_t *const queue = samples + frames * FRAME;
    const uint8_t *const inner = queue + inputs * INPUT;
    const int64_t last = (int64_t)get(bytes + 32, 8);
    if (!queue_possible(queue, (size_t)inputs, last) || !frames_possible(samples, (size_t)frames)) {
        return HYOID_E_SNAPSHOT;
    }
    if (frames > pull->ring_room || inputs > pull->queue_room) {
        return HYOID_E_FULL;
    }
    hyoid_stream stream = pull->stream;
    hyoid_status status = hyoid_snapshot_read(&stream, inner, (size_t)(bytes + length - TAIL - inner));
    if (status != HYOID_OK) {
        return status;
    }
    if (frames > 0 && (stream.output.first < 0 || frames > (uint64_t)stream.output.first)) {
        return HYOID_E_SNAPSHOT;
    }
    pull->stream = stream;
    pull->last_ps = last;
    pull->ring_first = pull->queue_first = 0;
    pull->ring_count = (size_t)frames;
    pull->queue_count = (size_t)inputs;
    for (size_t i = 0; i < pull->ring_count; i++) {
        union {
            uint32_t u;
            float f;
        } frame = {(uint32_t)get(samples + i * FRAME, FRAME)};
        pull->ring[i] = frame.f;
    }
    for (size_t i = 0; i < pull->queue_count; i++) {
        pull->queue[i] = get_input(queue + i * INPUT);
    }
    return HYOID_OK;
}
