/* Snapshots made of arbitrary bytes. With an even first byte the rest is read as it stands. With an odd one it patches a
 * genuine snapshot, and length and checksum are made right again, so that the checks of every single field are met; or
 * leaves it whole, and then it must be accepted. What is accepted must play on, within bounds, and be written back
 * byte for byte. */
#include <math.h>
#include <stdbool.h>

#include "input.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define TICKS 480 /* filter cycles that an accepted snapshot plays on */

typedef struct watch {
    uint64_t frames, levels, cycle;
} watch;

static void on_frames(void *user, const float *frames, size_t count)
{
    watch *w = user;
    w->frames += count;
    for (size_t i = 0; i < count; i++) {
        REQUIRE(isfinite(frames[i]));
    }
}

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    watch *w = user;
    REQUIRE(cycle > w->cycle && ps >= 0 && fraction >= 0.0 && fraction < 1.0 && isfinite(value));
    w->cycle = cycle;
    w->levels++;
}

static hyoid_stream *start(const hyoid_part *part, uint32_t rate, watch *w)
{
    const hyoid_observer observer = {.user = w, .frames = on_frames, .level = on_level};
    hyoid_stream *stream = allocate(sizeof *stream);
    REQUIRE(hyoid_stream_init(stream, part, rate, &observer) == HYOID_OK);
    *w = (watch){0};
    return stream;
}

/* The same as in core/snapshot.c, on purpose written down a second time. */
static uint64_t checksum(const uint8_t *data, size_t length)
{
    uint64_t sum = length;
    for (size_t i = 0; i < length; i += 8) {
        uint64_t word = 0;
        for (size_t k = 0; k < 8 && i + k < length; k++) {
            word |= (uint64_t)data[i + k] << (8 * k);
        }
        sum = (sum ^ word) * UINT64_C(0x9e3779b97f4a7c15);
        sum ^= sum >> 29;
    }
    return sum;
}

static void store(uint8_t *at, uint64_t value, unsigned bytes)
{
    for (unsigned i = 0; i < bytes; i++) {
        at[i] = (uint8_t)(value >> (8 * i));
    }
}

static uint64_t load(const uint8_t *at, unsigned bytes)
{
    uint64_t value = 0;
    for (unsigned i = 0; i < bytes; i++) {
        value |= (uint64_t)at[i] << (8 * i);
    }
    return value;
}

/* A little life, so that the genuine snapshot holds something of everything. */
static void live(hyoid_stream *stream, input *in)
{
    const double hz[] = {720000.0, 0.0, 713337.1, 1.5, 5e6};
    const int64_t unit =
        (int64_t)(100e12 / 65536 / 720000 * stream->chip.part->filter_clocks); /* 65536: 100 filter cycles */
    hyoid_stream_keep_images(stream, take(in, 1) % 2 == 0);
    for (unsigned count = (unsigned)take(in, 1) % 8; count > 0; count--) {
        const unsigned what = (unsigned)take(in, 1);
        const int64_t at = stream->now + (int64_t)take(in, 2) * unit;
        switch (what % 8) {
        case 0:
            hyoid_stream_set_clock(stream, at, hz[what / 8 % 5]);
            break;
        case 1:
            hyoid_stream_glide_clock(stream, at, at + 1 + (int64_t)take(in, 3) * 100000, hz[what / 8 % 5]);
            break;
        case 2:
            hyoid_chip_set_fault(&stream->chip, (hyoid_fault)(what / 8 % HYOID_FAULTS), 0.5);
            break;
        case 3:
            hyoid_stream_run_to_request(stream, at, NULL);
            break;
        case 4:
            hyoid_stream_run(stream, stream->now + 200000 * unit);
            break;
        default:
            hyoid_stream_write(stream, at, what / 4);
        }
    }
}

/* Sets, xors, adds to or copies from elsewhere 1, 2, 4 or 8 bytes at a time. */
static void patch(uint8_t *bytes, size_t length, input *in)
{
    while (in->left > 2 && length >= 16) {
        const size_t at = (size_t)take(in, 2) % length;
        const unsigned what = (unsigned)take(in, 1);
        unsigned width = 1u << (what & 3u);
        width = width > length - at ? (unsigned)(length - at) : width;
        const uint64_t there = load(bytes + at, width);
        switch (what >> 2 & 3u) {
        case 0:
            store(bytes + at, take(in, width), width);
            break;
        case 1:
            store(bytes + at, there ^ take(in, width), width);
            break;
        case 2:
            store(bytes + at, there + (uint64_t)(int8_t)take(in, 1), width);
            break;
        default:
            store(bytes + at, load(bytes + (size_t)take(in, 2) % (length - 8), width), width);
        }
    }
}

/* Patched and sealed anew. */
static uint8_t *forge(const uint8_t *genuine, size_t *length, input *in)
{
    uint8_t bytes[HYOID_SNAPSHOT_MAX + 64] = {0};
    memcpy(bytes, genuine, *length);
    if (take(in, 1) % 4 == 1) {
        *length = (size_t)take(in, 2) % sizeof bytes;
    }
    patch(bytes, *length, in);
    if (*length >= 20) {
        store(bytes + 8, *length, 4);
    }
    if (*length >= 8) {
        store(bytes + *length - 8, checksum(bytes, *length - 8), 8);
    }
    uint8_t *exact = allocate(*length > 0 ? *length : 1); /* so that the sanitizer sees a read beyond the end */
    memcpy(exact, bytes, *length);
    return exact;
}

static void input_change(hyoid_stream *stream, int64_t at, unsigned step)
{
    switch (step % 6) {
    case 0:
        hyoid_stream_write(stream, at, step * 7 % HYOID_PHONEMES);
        break;
    case 1:
        hyoid_stream_set_inflection(stream, at, step % HYOID_LEVELS);
        break;
    case 2:
        hyoid_stream_run_to_request(stream, at, NULL);
        break;
    case 3:
        hyoid_stream_set_strobe(stream, at, step / 6 % 2);
        break;
    case 4:
        hyoid_stream_glide_clock(stream, at, at + HYOID_PS_PER_S / 2, 720000.0);
        break;
    default:
        hyoid_stream_run(stream, at);
    }
}

static double fastest(const hyoid_clock *clock)
{
    double hz = clock->start_hz > clock->end_hz ? clock->start_hz : clock->end_hz;
    hz = clock->to_hz > hz ? clock->to_hz : hz;
    return hz > 720000.0 ? hz : 720000.0; /* the glide of input_change */
}

static void play_on(hyoid_stream *stream, watch *w)
{
    const hyoid_chip *chip = &stream->chip;
    w->cycle = chip->cycle;
    for (unsigned step = 0; step < 24; step++) {
        const double hz = fastest(&stream->clock);
        double span = TICKS / 24.0 * 1e12 * chip->part->filter_clocks / hz;
        span = span < 2e9 ? span : 2e9;
        const int64_t before = stream->now;
        const uint64_t cycle = chip->cycle;
        const watch seen = *w;
        if (before + (int64_t)span > HYOID_TIME_MAX) {
            return;
        }
        input_change(stream, before + (int64_t)span, step);
        const double passed = (double)(stream->now - before) * 1e-12;
        REQUIRE(stream->now >= before && chip->cycle >= cycle && (unsigned)hyoid_chip_request(chip) <= 1);
        REQUIRE((double)(chip->cycle - cycle) <= passed * hz + 3.0 && isfinite(hyoid_chip_output(chip)));
        REQUIRE(w->levels - seen.levels <= (chip->cycle - cycle) / chip->part->filter_clocks + 2);
        REQUIRE((double)(w->frames - seen.frames) <= passed * stream->output.rate + HYOID_TAPS);
    }
}

/* Reads the bytes into a stream that has just been started, and holds the reader to its word. */
static void restore(const hyoid_part *part, uint32_t rate, const uint8_t *bytes, size_t length, bool must)
{
    watch w, w2;
    hyoid_stream *stream = start(part, rate, &w);
    hyoid_stream *before = allocate(sizeof *before);
    memcpy(before, stream, sizeof *before);
    const hyoid_status status = hyoid_snapshot_read(stream, bytes, length);
    REQUIRE(status == HYOID_OK || status == HYOID_E_SNAPSHOT);
    REQUIRE(!must || status == HYOID_OK);
    if (status != HYOID_OK) {
        REQUIRE(memcmp(before, stream, sizeof *before) == 0);
    } else {
        uint8_t again[HYOID_SNAPSHOT_MAX];
        REQUIRE(hyoid_snapshot_write(stream, again, sizeof again) == length);
        REQUIRE(memcmp(again, bytes, length) == 0);
        play_on(stream, &w);
        const size_t later = hyoid_snapshot_write(stream, again, sizeof again);
        hyoid_stream *third = start(part, rate, &w2);
        REQUIRE(later > 0 && hyoid_snapshot_read(third, again, later) == HYOID_OK);
        free(third);
    }
    free(before);
    free(stream);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    input in = {data, size};
    const unsigned how = (unsigned)take(&in, 1);
    if (how % 2 == 0) {
        restore(hyoid_part_default(), 48000, in.data, in.left, false);
        return 0;
    }
    hyoid_part part;
    take_part(&part, &in);
    const uint32_t rate = take_rate(&in);
    watch w;
    hyoid_stream *genuine = start(&part, rate, &w);
    live(genuine, &in);
    uint8_t whole[HYOID_SNAPSHOT_MAX];
    size_t length = hyoid_snapshot_write(genuine, whole, sizeof whole);
    if (how % 8 == 7) {
        restore(&part, rate, whole, length, true);
    } else {
        uint8_t *bytes = forge(whole, &length, &in);
        restore(&part, rate, bytes, length, false);
        free(bytes);
    }
    free(genuine);
    return 0;
}
