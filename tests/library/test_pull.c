/* The pull against a stream that is pushed by hand: the same inputs give the same samples, however the audio is
 * cut. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#define PS HYOID_PS_PER_S
enum { RATE = 44100, FRAMES = 60000, QUEUE = 64, RING = 4096 };

typedef struct rig {
    hyoid_pull pull;
    float ring[RING];
    hyoid_input queue[QUEUE];
    float sound[FRAMES];
    unsigned latches, rises;
} rig;

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    rig *r = user;
    cr_assert(cycle > 0 && ps >= 0 && code < HYOID_PHONEMES);
    r->latches++;
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    rig *r = user;
    cr_assert(cycle > 0 && ps >= 0);
    r->rises += level != 0;
}

static rig *rig_new(int relaxed)
{
    rig *r = calloc(1, sizeof *r);
    cr_assert_not_null(r);
    const hyoid_pull_setup setup = {.part = hyoid_part_default(),
                                    .rate = RATE,
                                    .relaxed = (uint32_t)relaxed,
                                    .ring = r->ring,
                                    .ring_room = RING,
                                    .queue = r->queue,
                                    .queue_room = QUEUE,
                                    .observer = {.user = r, .latch = on_latch, .request = on_request}};
    cr_assert_eq(hyoid_pull_init(&r->pull, &setup), HYOID_OK);
    return r;
}

static void say(rig *r)
{
    hyoid_pull *p = &r->pull;
    cr_assert_eq(hyoid_pull_set_inflection(p, 0, 2), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(p, 1234567, 0x1f), HYOID_OK);
    cr_assert_eq(hyoid_pull_set_clock(p, PS / 10 + 1, 650000.5), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(p, PS / 8 + 17, 0x08), HYOID_OK);
    cr_assert_eq(hyoid_pull_glide_clock(p, PS / 4, PS / 2, 900000.0), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(p, PS / 3, 0x2c), HYOID_OK);
    cr_assert_eq(hyoid_pull_set_code(p, PS * 5 / 8, 0x13), HYOID_OK);
    cr_assert_eq(hyoid_pull_set_strobe(p, PS * 5 / 8, 1), HYOID_OK);
    cr_assert_eq(hyoid_pull_set_strobe(p, PS * 5 / 8 + 10, 0), HYOID_OK);
    cr_assert_eq(hyoid_pull_set_clock(p, PS * 9 / 10, 0.0), HYOID_OK);
    cr_assert_eq(hyoid_pull_set_clock(p, PS, 720000.0), HYOID_OK);
}

typedef struct sink {
    float *sound;
    size_t count;
} sink;

static void on_frames(void *user, const float *frames, size_t count)
{
    sink *s = user;
    for (size_t i = 0; i < count && s->count < FRAMES; i++) {
        s->sound[s->count++] = frames[i];
    }
}

/* The same with a stream, pushed. */
static float *pushed(void)
{
    float *sound = calloc(FRAMES, sizeof *sound);
    hyoid_stream *s = calloc(1, sizeof *s);
    sink to = {sound, 0};
    const hyoid_observer observer = {.user = &to, .frames = on_frames};
    cr_assert_eq(hyoid_stream_init(s, hyoid_part_default(), RATE, &observer), HYOID_OK);
    hyoid_stream_set_inflection(s, 0, 2);
    hyoid_stream_write(s, 1234567, 0x1f);
    hyoid_stream_set_clock(s, PS / 10 + 1, 650000.5);
    hyoid_stream_write(s, PS / 8 + 17, 0x08);
    hyoid_stream_glide_clock(s, PS / 4, PS / 2, 900000.0);
    hyoid_stream_write(s, PS / 3, 0x2c);
    hyoid_stream_set_code(s, PS * 5 / 8, 0x13);
    hyoid_stream_set_strobe(s, PS * 5 / 8, 1);
    hyoid_stream_set_strobe(s, PS * 5 / 8 + 10, 0);
    hyoid_stream_set_clock(s, PS * 9 / 10, 0.0);
    hyoid_stream_set_clock(s, PS, 720000.0);
    hyoid_stream_run(s, 2 * PS);
    cr_assert_eq(to.count, FRAMES);
    free(s);
    return sound;
}

/* xorshift: the seed is printed by the caller */
static uint32_t roll(uint32_t *state, uint32_t sides)
{
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return *state % sides;
}

static void fetch(rig *r, size_t from, size_t to, uint32_t seed)
{
    while (from < to) {
        size_t count = roll(&seed, 1500);
        count = count < to - from ? count : to - from;
        if (roll(&seed, 2)) { /* sometimes the host's time moves first */
            const int64_t ps = r->pull.stream.now + (int64_t)roll(&seed, 1000000000) * 10;
            cr_assert_eq(hyoid_pull_run(&r->pull, ps), HYOID_OK);
            count = hyoid_pull_ready(&r->pull) < to - from ? hyoid_pull_ready(&r->pull) : to - from;
        }
        cr_assert_eq(hyoid_pull_position(&r->pull), from);
        cr_assert_eq(hyoid_pull_frames(&r->pull, r->sound + from, count), HYOID_OK);
        from += count;
    }
}

static void must_be_same(const float *a, const float *b, size_t count, uint32_t seed)
{
    for (size_t i = 0; i < count; i++) {
        cr_assert(a[i] == b[i], "sample %zu differs, seed %u", i, seed);
    }
}

Test(pull, any_cutting_gives_what_a_stream_gives)
{
    float *wanted = pushed();
    for (uint32_t seed = 1; seed <= 20; seed++) {
        rig *r = rig_new(0);
        say(r);
        fetch(r, 0, FRAMES, seed);
        must_be_same(r->sound, wanted, FRAMES, seed);
        cr_assert_eq(r->latches, 4);
        free(r);
    }
    free(wanted);
}

Test(pull, a_fetch_moves_time_no_further_than_it_must)
{
    rig *r = rig_new(0);
    cr_assert_eq(hyoid_pull_frames(&r->pull, r->sound, 1), HYOID_OK);
    cr_assert_eq(r->pull.stream.now, (HYOID_TAPS / 2 * PS + RATE - 1) / RATE);
    cr_assert_leq(hyoid_pull_ready(&r->pull), 1);
    free(r);
}

Test(pull, shakes_hands_on_its_own)
{
    rig *whole = rig_new(0), *cut = rig_new(0);
    for (unsigned i = 0; i < 6; i++) {
        cr_assert_eq(hyoid_pull_write(&whole->pull, HYOID_ON_REQUEST, 8 + i), HYOID_OK);
        cr_assert_eq(hyoid_pull_write(&cut->pull, HYOID_ON_REQUEST, 8 + i), HYOID_OK);
    }
    cr_assert_eq(hyoid_pull_frames(&whole->pull, whole->sound, FRAMES), HYOID_OK);
    fetch(cut, 0, FRAMES, 7);
    must_be_same(whole->sound, cut->sound, FRAMES, 7);
    cr_assert_eq(whole->latches, 6);
    cr_assert_eq(whole->rises, 6);
    /* and as a host that waits itself */
    rig *by_hand = rig_new(0);
    for (unsigned i = 0; i < 6; i++) {
        int64_t reached = -1;
        while (reached < 0) {
            cr_assert_eq(hyoid_pull_run_to_request(&by_hand->pull, by_hand->pull.stream.now + PS / 100, &reached),
                         HYOID_OK);
            size_t ready = hyoid_pull_ready(&by_hand->pull);
            cr_assert_eq(
                hyoid_pull_frames(&by_hand->pull, by_hand->sound + hyoid_pull_position(&by_hand->pull), ready), 0);
        }
        cr_assert_eq(hyoid_pull_write(&by_hand->pull, reached + (i > 0), 8 + i), HYOID_OK);
    }
    size_t at = (size_t)hyoid_pull_position(&by_hand->pull);
    cr_assert_eq(hyoid_pull_frames(&by_hand->pull, by_hand->sound + at, FRAMES - at), HYOID_OK);
    must_be_same(whole->sound, by_hand->sound, FRAMES, 0);
    free(whole);
    free(cut);
    free(by_hand);
}

Test(pull, asking_disturbs_nothing_and_knows_the_queue)
{
    rig *asked = rig_new(0), *left = rig_new(0);
    say(asked);
    say(left);
    for (size_t at = 0; at < FRAMES; at += 600) {
        for (int64_t ahead = 0; ahead < PS / 20; ahead += PS / 200) {
            int level = -1;
            cr_assert_eq(hyoid_pull_request_at(&asked->pull, asked->pull.stream.now + ahead, &level), HYOID_OK);
            cr_assert(level == 0 || level == 1);
        }
        const int64_t then = left->pull.stream.now + PS / 2000;
        int promised = -1;
        cr_assert_eq(hyoid_pull_request_at(&left->pull, then, &promised), HYOID_OK);
        cr_assert_eq(hyoid_pull_frames(&asked->pull, asked->sound + at, 600), HYOID_OK);
        cr_assert_eq(hyoid_pull_run(&left->pull, then), HYOID_OK);
        cr_assert_eq(hyoid_chip_request(&left->pull.stream.chip), promised);
        cr_assert_eq(hyoid_pull_frames(&left->pull, left->sound + at, 600), HYOID_OK);
    }
    must_be_same(asked->sound, left->sound, FRAMES, 0);
    cr_assert_eq(asked->latches, 4);
    free(asked);
    free(left);
}

Test(pull, relaxed_takes_what_comes_late)
{
    rig *r = rig_new(1);
    cr_assert_eq(hyoid_pull_frames(&r->pull, r->sound, 1000), HYOID_OK);
    const int64_t now = r->pull.stream.now;
    cr_assert_eq(hyoid_pull_write(&r->pull, 5, 0x08), HYOID_OK); /* past: acts now */
    cr_assert_eq(hyoid_pull_set_inflection(&r->pull, HYOID_ASAP, 3), HYOID_OK);
    cr_assert_eq(r->pull.queue[r->pull.queue_first].ps, now);
    cr_assert_eq(hyoid_pull_glide_clock(&r->pull, 0, 1, 700000.0), HYOID_OK); /* over before it starts */
    cr_assert_eq(hyoid_pull_run(&r->pull, 3), HYOID_OK);
    int level = -1;
    cr_assert_eq(hyoid_pull_request_at(&r->pull, 3, &level), HYOID_OK);
    cr_assert_eq(hyoid_pull_frames(&r->pull, r->sound, 1000), HYOID_OK);
    cr_assert_eq(r->latches, 1);
    cr_assert_eq(r->pull.stream.chip.inflection, 3);
    cr_assert_float_eq(hyoid_stream_clock_hz(&r->pull.stream), 700000.0, 0.0);
    free(r);
}

Test(pull, snapshots_hold_what_waits)
{
    for (uint32_t seed = 1; seed <= 10; seed++) {
        rig *r = rig_new(0), *other = rig_new(0);
        say(r);
        uint32_t dice = seed * 2654435761u;
        const size_t at = 100 + roll(&dice, FRAMES / 2);
        fetch(r, 0, at, seed);
        cr_assert_eq(hyoid_pull_run(&r->pull, r->pull.stream.now + PS / 50), HYOID_OK); /* so that something waits */
        cr_assert(hyoid_pull_ready(&r->pull) > 500);
        uint8_t bytes[HYOID_SNAPSHOT_MAX + 64 + 4 * RING + 32 * QUEUE];
        const size_t length = hyoid_pull_snapshot_write(&r->pull, bytes, sizeof bytes);
        cr_assert(length > 0 && length == hyoid_pull_snapshot_size(&r->pull));
        cr_assert_eq(hyoid_pull_snapshot_write(&r->pull, bytes, length - 1), 0);
        cr_assert_eq(hyoid_pull_snapshot_write(&r->pull, bytes, length), length);
        cr_assert_eq(hyoid_pull_snapshot_read(&other->pull, bytes, length), HYOID_OK);
        fetch(r, at, FRAMES, seed);
        fetch(other, at, FRAMES, seed + 1);
        must_be_same(r->sound + at, other->sound + at, FRAMES - at, seed);
        /* any damage is seen, and changes nothing */
        const hyoid_pull before = other->pull;
        for (size_t i = 0; i < length; i += 1 + roll(&dice, 37)) {
            bytes[i] = (uint8_t)(bytes[i] ^ (1u << roll(&dice, 8)));
            const size_t shorter = roll(&dice, 4) == 0 ? i : length;
            cr_assert_eq(hyoid_pull_snapshot_read(&other->pull, bytes, shorter), HYOID_E_SNAPSHOT, "byte %zu", i);
            cr_assert_eq(memcmp(&before, &other->pull, sizeof before), 0);
        }
        free(r);
        free(other);
    }
}

Test(pull, a_moved_pull_goes_on_in_its_new_place)
{
    rig *r = rig_new(0), *wanted = rig_new(0);
    say(r);
    say(wanted);
    fetch(wanted, 0, FRAMES, 3);
    fetch(r, 0, 20000, 3);
    hyoid_pull moved = r->pull;
    memset(&r->pull, 0xa5, sizeof r->pull);
    cr_assert_eq(hyoid_pull_frames(&moved, r->sound + 20000, FRAMES - 20000), HYOID_OK);
    must_be_same(r->sound, wanted->sound, FRAMES, 3);
    free(r);
    free(wanted);
}

Test(pull, never_hands_out_more_than_the_stated_most)
{
    uint32_t seed = 99;
    rig *r = rig_new(1);
    cr_assert_eq(hyoid_pull_set_clock(&r->pull, 0, 1237133.7), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(&r->pull, 0, 0x1f), HYOID_OK);
    for (int i = 0; i < 3000; i++) {
        const int64_t span = 1 + (int64_t)roll(&seed, 1u << 31) * 5;
        const size_t ready = hyoid_pull_ready(&r->pull);
        cr_assert_eq(hyoid_pull_run(&r->pull, r->pull.stream.now + span), HYOID_OK);
        cr_assert_leq(hyoid_pull_ready(&r->pull) - ready, hyoid_most_frames(RATE, span));
        cr_assert_eq(hyoid_pull_frames(&r->pull, r->sound, hyoid_pull_ready(&r->pull)), HYOID_OK);
    }
    free(r);
}
