/* Random calls to the pull with arguments from sane to absurd. Every call gives a documented code, an error
 * changes nothing, and what is fetched is finite. A failure prints the seed.
 *
 *     library_random [SEED]       replays one seed; without, 400 of them
 *
 * Compiled with -DLIBRARY_FUZZER -fsanitize=fuzzer it is a fuzz target. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

enum { RING = 700, QUEUE = 5, OUT = 4000 };

typedef struct source {
    const uint8_t *data; /* null: random numbers */
    size_t left;
    uint64_t state;
} source;

typedef struct world {
    source in;
    hyoid_part part;
    hyoid_pull pull, before;
    float ring[RING], ring_before[RING], out[OUT];
    hyoid_input queue[QUEUE], queue_before[QUEUE];
    uint8_t snapshot[HYOID_SNAPSHOT_MAX + 64 + 4 * RING + 32 * QUEUE];
    size_t length;
    uint64_t cycle; /* of the last thing that was told */
} world;

#define REQUIRE(condition)                                                                                           \
    do {                                                                                                             \
        if (!(condition)) {                                                                                          \
            fprintf(stderr, "%s:%d: %s\n", __FILE__, __LINE__, #condition);                                          \
            abort();                                                                                                 \
        }                                                                                                            \
    } while (0)

static uint64_t take(source *in)
{
    if (in->data != NULL) {
        uint64_t value = 0;
        for (int i = 0; i < 4 && in->left > 0; i++, in->left--) {
            value = value << 8 | *in->data++;
        }
        return value * UINT64_C(0x9e3779b97f4a7c15);
    }
    in->state ^= in->state >> 12;
    in->state ^= in->state << 25;
    in->state ^= in->state >> 27;
    return in->state * UINT64_C(2685821657736338717);
}

static unsigned roll(world *w, unsigned sides)
{
    return (unsigned)(take(&w->in) >> 33) % sides;
}

static int64_t some_time(world *w)
{
    const int64_t now = w->pull.stream.now;
    switch (roll(w, 16)) {
    case 0:
        return HYOID_ASAP;
    case 1:
        return HYOID_ON_REQUEST;
    case 2:
        return (int64_t)take(&w->in);
    case 3:
        return roll(w, 2) ? INT64_MAX : HYOID_TIME_MAX + 1;
    case 4:
        return now - 1;
    case 5:
        return now;
    default:
        return now + (int64_t)(take(&w->in) >> 30); /* up to 17 ms */
    }
}

static double some_hz(world *w)
{
    static const double odd[] = {0.0, -1.0, 1e300, 100e6, 1e-300, 720000.0, 1.0, 3e6};
    const unsigned which = roll(w, 16);
    if (which == 15) {
        return (double)NAN;
    }
    /* the fastest clocks only now and then: they cost time */
    return which < 8 && (odd[which] < 5e6 || roll(w, 8) == 0) ? odd[which] : 1e5 + roll(w, 1200000);
}

static unsigned some_value(world *w, unsigned values)
{
    return roll(w, 8) == 0 ? (unsigned)take(&w->in) : roll(w, values);
}

static void told(world *w, uint64_t cycle)
{
    REQUIRE(cycle >= w->cycle);
    w->cycle = cycle;
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    REQUIRE(ps >= 0 && code < HYOID_PHONEMES);
    told(user, cycle);
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    REQUIRE(ps >= 0 && (level == 0 || level == 1));
    told(user, cycle);
}

static void start(world *w)
{
    w->part = *hyoid_part_default();
    const hyoid_pull_setup setup = {.part = &w->part,
                                    .rate = 8000 + roll(w, 60000),
                                    .relaxed = roll(w, 2),
                                    .ring = w->ring,
                                    .ring_room = 1 + roll(w, RING),
                                    .queue = w->queue,
                                    .queue_room = 1 + roll(w, QUEUE),
                                    .observer = {.user = w, .latch = on_latch, .request = on_request}};
    REQUIRE(hyoid_pull_init(&w->pull, &setup) == HYOID_OK);
}

static hyoid_status fetch(world *w)
{
    const size_t count = roll(w, 32) == 0 ? (size_t)take(&w->in) : roll(w, roll(w, 2) ? 80 : 900);
    const uint64_t at = hyoid_pull_position(&w->pull);
    if (count > OUT && count < HYOID_TIME_MAX / HYOID_PS_PER_S * (uint64_t)HYOID_RATE_MAX) {
        return HYOID_OK; /* would be done, and `out` can't hold it */
    }
    const hyoid_status status = hyoid_pull_frames(&w->pull, w->out, count);
    REQUIRE(status != HYOID_OK || hyoid_pull_position(&w->pull) == at + count);
    for (size_t i = 0; status == HYOID_OK && i < count; i++) {
        REQUIRE(isfinite(w->out[i]));
    }
    return status;
}

static hyoid_status snapshot(world *w)
{
    if (roll(w, 2)) {
        const size_t need = hyoid_pull_snapshot_size(&w->pull);
        REQUIRE(need <= sizeof w->snapshot && hyoid_pull_snapshot_write(&w->pull, w->snapshot, need - 1) == 0);
        w->length = hyoid_pull_snapshot_write(&w->pull, w->snapshot, sizeof w->snapshot);
        REQUIRE(w->length == need);
        return HYOID_OK;
    }
    if (w->length == 0) {
        return HYOID_OK;
    }
    if (roll(w, 2)) {
        uint8_t *byte = &w->snapshot[roll(w, (unsigned)w->length)];
        *byte = (uint8_t)(*byte ^ (1u << roll(w, 8)));
        const hyoid_status status = hyoid_pull_snapshot_read(&w->pull, w->snapshot, w->length);
        REQUIRE(status == HYOID_E_SNAPSHOT);
        w->length = 0;
        return status;
    }
    REQUIRE(hyoid_pull_snapshot_read(&w->pull, w->snapshot, w->length) == HYOID_OK);
    w->cycle = 0;
    return HYOID_OK;
}

static hyoid_status move_time(world *w)
{
    int64_t reached = -2;
    int level = -1;
    hyoid_status status;
    switch (roll(w, 3)) {
    case 0:
        return hyoid_pull_run(&w->pull, some_time(w));
    case 1:
        status = hyoid_pull_run_to_request(&w->pull, some_time(w), &reached);
        REQUIRE(status != HYOID_OK || reached == -1 || reached == w->pull.stream.now);
        return status;
    default: {
        const int64_t ps = w->pull.stream.now + (int64_t)(take(&w->in) >> 31);
        const hyoid_pull same = w->pull;
        status = hyoid_pull_request_at(&w->pull, ps, &level);
        REQUIRE(memcmp(&same, &w->pull, sizeof same) == 0 && (status != HYOID_OK || level == 0 || level == 1));
        return status;
    }
    }
}

static hyoid_status call(world *w)
{
    switch (roll(w, 16)) {
    case 0:
    case 1:
        return hyoid_pull_write(&w->pull, some_time(w), some_value(w, HYOID_PHONEMES));
    case 2:
        return hyoid_pull_set_code(&w->pull, some_time(w), some_value(w, HYOID_PHONEMES));
    case 3:
        return hyoid_pull_set_strobe(&w->pull, some_time(w), some_value(w, 2));
    case 4:
        return hyoid_pull_set_inflection(&w->pull, some_time(w), some_value(w, HYOID_LEVELS));
    case 5:
        return hyoid_pull_set_clock(&w->pull, some_time(w), some_hz(w));
    case 6:
        return hyoid_pull_glide_clock(&w->pull, some_time(w), some_time(w), some_hz(w));
    case 7:
        return snapshot(w);
    case 8:
        if (roll(w, 16) == 0) {
            w->cycle = 0;
            return hyoid_pull_reset(&w->pull);
        }
        return hyoid_chip_set_fault(&w->pull.stream.chip, (hyoid_fault)some_value(w, HYOID_FAULTS), roll(w, 4) * 0.4);
    case 9:
    case 10:
    case 11:
        return move_time(w);
    default:
        return fetch(w);
    }
}

static void live(world *w, unsigned calls)
{
    start(w);
    while (calls-- > 0 && (w->in.data == NULL || w->in.left > 0)) {
        w->before = w->pull;
        memcpy(w->ring_before, w->ring, sizeof w->ring);
        memcpy(w->queue_before, w->queue, sizeof w->queue);
        const hyoid_status status = call(w);
        if (status != HYOID_OK) {
            REQUIRE(status >= HYOID_E_NULL && status <= HYOID_E_SIZE);
            REQUIRE(memcmp(&w->before, &w->pull, sizeof w->pull) == 0);
            REQUIRE(memcmp(w->ring_before, w->ring, sizeof w->ring) == 0);
            REQUIRE(memcmp(w->queue_before, w->queue, sizeof w->queue) == 0);
        }
        REQUIRE(w->pull.ring_count <= w->pull.ring_room && w->pull.queue_count <= w->pull.queue_room);
        REQUIRE(w->pull.stream.now >= 0 && w->pull.stream.now <= HYOID_TIME_MAX);
    }
}

#ifdef LIBRARY_FUZZER

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static world w;
    memset(&w, 0, sizeof w);
    w.in = (source){data, size, 0};
    live(&w, 300);
    return 0;
}

#else

int main(int argc, char **argv)
{
    static world w;
    const unsigned long first = argc > 1 ? strtoul(argv[1], NULL, 0) : 1, last = argc > 1 ? first : 400;
    for (unsigned long seed = first; seed <= last; seed++) {
        printf("seed %lu\n", seed);
        fflush(stdout);
        memset(&w, 0, sizeof w);
        w.in.state = seed * UINT64_C(0x9e3779b97f4a7c15) + 1;
        live(&w, 300);
    }
    return 0;
}

#endif
