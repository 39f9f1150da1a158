/* Snapshots: restore then run = run; every truncation and every flipped byte is refused; taps and faults. */
#include <criterion/criterion.h>
#include <string.h>

#include "core_bench.h"

#define PS HYOID_PS_PER_S

typedef struct sink {
    float frames[400000];
    size_t count;
} sink;

static void on_frames(void *user, const float *frames, size_t count)
{
    sink *s = user;
    cr_assert_leq(s->count + count, sizeof s->frames / sizeof s->frames[0]);
    memcpy(s->frames + s->count, frames, count * sizeof *frames);
    s->count += count;
}

static hyoid_stream *start(sink *s)
{
    hyoid_stream *stream = malloc(sizeof *stream);
    cr_assert_not_null(stream);
    const hyoid_observer observer = {.user = s, .frames = on_frames};
    cr_assert_eq(hyoid_stream_init(stream, hyoid_part_default(), 44100, &observer), HYOID_OK);
    return stream;
}

/* Something of everything: writes, a glide under way, a strobe that waits, a stop's gate, a fault. */
static void play(hyoid_stream *stream, uint64_t *seed, int64_t until)
{
    while (stream->now < until) {
        int64_t at = stream->now + (int64_t)(bench_random(seed) % 90000) * 1000000;
        at = at < until ? at : until;
        switch (bench_random(seed) % 8) {
        case 0:
            hyoid_stream_set_inflection(stream, at, bench_random(seed) % 4);
            break;
        case 1:
            hyoid_stream_glide_clock(stream, at, at + (int64_t)(bench_random(seed) % 2000) * 1000000000 + 1,
                                     bench_random(seed) % 1500000);
            break;
        case 2:
            hyoid_stream_set_clock(stream, at, bench_random(seed) % 3 == 0 ? 0.0 : 713337.1);
            break;
        default:
            hyoid_stream_write(stream, at, bench_random(seed) % 64);
        }
    }
    hyoid_stream_run(stream, until);
}

Test(snapshot, restored_and_run_is_the_same_as_run)
{
    for (uint64_t seed = 1; seed <= 30; seed++) {
        cr_log_info("seed %llu", (unsigned long long)seed);
        sink *a = calloc(1, sizeof *a), *b = calloc(1, sizeof *b);
        hyoid_stream *one = start(a), *two = start(b);
        uint64_t random = seed;
        hyoid_stream_keep_images(one, seed % 4 != 1);
        if (seed % 3 == 0) {
            hyoid_chip_set_fault(&one->chip, (hyoid_fault)(seed % HYOID_FAULTS), 0.5);
        }
        play(one, &random, (int64_t)(bench_random(&random) % 1500) * 1000000000 + 12345);
        if (seed % 2 == 0) {
            hyoid_stream_write(one, one->now, 0x2a); /* caught, not yet latched */
        }
        uint8_t bytes[HYOID_SNAPSHOT_MAX];
        size_t length = hyoid_snapshot_write(one, bytes, sizeof bytes);
        cr_assert_gt(length, 100);
        cr_assert_eq(hyoid_snapshot_read(two, bytes, length), HYOID_OK);
        a->count = b->count = 0;
        uint64_t random_two = random;
        int64_t until = one->now + 2 * PS;
        play(one, &random, until);
        play(two, &random_two, until);
        cr_assert_eq(a->count, b->count, "seed %llu", (unsigned long long)seed);
        cr_assert_eq(memcmp(a->frames, b->frames, a->count * sizeof(float)), 0, "seed %llu",
                     (unsigned long long)seed);
        cr_assert_eq(memcmp(&one->chip, &two->chip, sizeof one->chip), 0, "seed %llu", (unsigned long long)seed);
        cr_assert_eq(memcmp(&one->clock, &two->clock, sizeof one->clock), 0);
        free(a), free(b), free(one), free(two);
    }
}

Test(snapshot, every_truncation_and_every_changed_byte_is_refused)
{
    sink *a = calloc(1, sizeof *a), *b = calloc(1, sizeof *b);
    hyoid_stream *one = start(a), *two = start(b);
    uint64_t random = 7;
    play(one, &random, PS);
    uint8_t bytes[HYOID_SNAPSHOT_MAX];
    const size_t length = hyoid_snapshot_write(one, bytes, sizeof bytes);
    const hyoid_stream before = *two;
    for (size_t cut = 0; cut < length; cut++) {
        cr_assert_eq(hyoid_snapshot_read(two, bytes, cut), HYOID_E_SNAPSHOT, "cut to %zu", cut);
        cr_assert_eq(hyoid_snapshot_write(one, bytes, cut), 0, "room for %zu", cut);
        hyoid_snapshot_write(one, bytes, sizeof bytes);
    }
    for (size_t i = 0; i < length; i++) {
        for (unsigned change = 1; change < 256; change++) {
            bytes[i] = (uint8_t)(bytes[i] ^ change);
            cr_assert_eq(hyoid_snapshot_read(two, bytes, length), HYOID_E_SNAPSHOT, "byte %zu", i);
            bytes[i] = (uint8_t)(bytes[i] ^ change);
        }
    }
    cr_assert_eq(memcmp(&before, two, sizeof before), 0, "a refused snapshot changes nothing");
    cr_assert_eq(hyoid_snapshot_read(two, bytes, length), HYOID_OK);
    free(a), free(b), free(one), free(two);
}

Test(snapshot, another_part_or_rate_is_refused)
{
    sink *a = calloc(1, sizeof *a);
    hyoid_stream *one = start(a);
    uint8_t bytes[HYOID_SNAPSHOT_MAX];
    size_t length = hyoid_snapshot_write(one, bytes, sizeof bytes);
    hyoid_part part = *hyoid_part_default();
    part.phoneme[5].va ^= 1;
    hyoid_stream *other = malloc(sizeof *other);
    cr_assert_eq(hyoid_stream_init(other, &part, 44100, NULL), HYOID_OK);
    cr_assert_eq(hyoid_snapshot_read(other, bytes, length), HYOID_E_SNAPSHOT);
    cr_assert_eq(hyoid_stream_init(other, hyoid_part_default(), 48000, NULL), HYOID_OK);
    cr_assert_eq(hyoid_snapshot_read(other, bytes, length), HYOID_E_SNAPSHOT);
    cr_assert_eq(hyoid_snapshot_read(NULL, bytes, length), HYOID_E_NULL);
    cr_assert_eq(hyoid_snapshot_read(other, NULL, 0), HYOID_E_NULL);
    cr_assert_eq(hyoid_snapshot_write(NULL, bytes, sizeof bytes), 0);
    free(a), free(one), free(other);
}
