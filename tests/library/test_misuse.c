/* Misuse gets the documented code and changes nothing. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include <hyoid/hyoid.h>

#define PS HYOID_PS_PER_S
enum { RATE = 48000, RING = 1024, QUEUE = 3 };

static float ring[RING], out[RING];
static hyoid_input queue[QUEUE];
static hyoid_pull pull, before;
static hyoid_stream stream;

static hyoid_pull_setup good(void)
{
    return (hyoid_pull_setup){.part = hyoid_part_default(),
                              .rate = RATE,
                              .ring = ring,
                              .ring_room = RING,
                              .queue = queue,
                              .queue_room = QUEUE};
}

static void start(void)
{
    const hyoid_pull_setup setup = good();
    cr_assert_eq(hyoid_pull_init(&pull, &setup), HYOID_OK);
    cr_assert_eq(hyoid_stream_init(&stream, hyoid_part_default(), RATE, NULL), HYOID_OK);
}

/* The call fails like this and the pull stays as it was. */
#define REFUSED(status, call)                                                                                        \
    do {                                                                                                             \
        before = pull;                                                                                               \
        cr_assert_eq((call), (status), "%s", #call);                                                                 \
        cr_assert_eq(memcmp(&before, &pull, sizeof pull), 0, "%s changed something", #call);                         \
    } while (0)

Test(misuse, null, .init = start)
{
    const hyoid_pull_setup setup = good();
    uint8_t bytes[64];
    int level;
    REFUSED(HYOID_E_NULL, hyoid_chip_reset(NULL));
    REFUSED(HYOID_E_NULL, hyoid_stream_reset(NULL));
    REFUSED(HYOID_E_NULL, hyoid_stream_request_at(NULL, 0, &level));
    REFUSED(HYOID_E_NULL, hyoid_stream_request_at(&stream, 0, NULL));
    REFUSED(HYOID_E_NULL, hyoid_pull_init(NULL, &setup));
    REFUSED(HYOID_E_NULL, hyoid_pull_init(&pull, NULL));
    REFUSED(HYOID_E_NULL, hyoid_pull_reset(NULL));
    REFUSED(HYOID_E_NULL, hyoid_pull_write(NULL, 0, 0));
    REFUSED(HYOID_E_NULL, hyoid_pull_set_code(NULL, 0, 0));
    REFUSED(HYOID_E_NULL, hyoid_pull_set_strobe(NULL, 0, 0));
    REFUSED(HYOID_E_NULL, hyoid_pull_set_inflection(NULL, 0, 0));
    REFUSED(HYOID_E_NULL, hyoid_pull_set_clock(NULL, 0, 0.0));
    REFUSED(HYOID_E_NULL, hyoid_pull_glide_clock(NULL, 0, 1, 0.0));
    REFUSED(HYOID_E_NULL, hyoid_pull_frames(NULL, out, 1));
    REFUSED(HYOID_E_NULL, hyoid_pull_frames(&pull, NULL, 1));
    REFUSED(HYOID_E_NULL, hyoid_pull_run(NULL, 0));
    REFUSED(HYOID_E_NULL, hyoid_pull_run_to_request(NULL, 0, NULL));
    REFUSED(HYOID_E_NULL, hyoid_pull_request_at(NULL, 0, &level));
    REFUSED(HYOID_E_NULL, hyoid_pull_request_at(&pull, 0, NULL));
    REFUSED(HYOID_E_NULL, hyoid_pull_snapshot_read(NULL, bytes, sizeof bytes));
    REFUSED(HYOID_E_NULL, hyoid_pull_snapshot_read(&pull, NULL, 0));
    cr_assert_eq(hyoid_pull_snapshot_write(NULL, bytes, sizeof bytes), 0);
    cr_assert_eq(hyoid_pull_snapshot_write(&pull, NULL, sizeof bytes), 0);
    cr_assert_eq(hyoid_pull_snapshot_size(NULL), 0);
    cr_assert_eq(hyoid_pull_ready(NULL), 0);
    cr_assert_eq(hyoid_pull_position(NULL), 0);
    cr_assert_eq(hyoid_chip_most_levels(NULL, 1), 0);
    cr_assert_eq(hyoid_stream_chip_rate(NULL), 0.0);
}

Test(misuse, set_up, .init = start)
{
    hyoid_pull_setup s;
#define SETUP(status, change)                                                                                        \
    s = good();                                                                                                      \
    s.change;                                                                                                        \
    REFUSED(status, hyoid_pull_init(&pull, &s))
    hyoid_part broken = *hyoid_part_default();
    broken.filter_clocks = 0;
    SETUP(HYOID_E_NULL, part = NULL);
    SETUP(HYOID_E_NULL, ring = NULL);
    SETUP(HYOID_E_NULL, queue = NULL);
    SETUP(HYOID_E_RANGE, ring_room = 0);
    SETUP(HYOID_E_RANGE, queue_room = 0);
    SETUP(HYOID_E_RANGE, relaxed = 2);
    SETUP(HYOID_E_RANGE, rate = 0);
    SETUP(HYOID_E_RANGE, rate = HYOID_RATE_MIN - 1);
    SETUP(HYOID_E_RANGE, rate = HYOID_RATE_MAX + 1);
    SETUP(HYOID_E_RANGE, rate = UINT32_MAX);
    SETUP(HYOID_E_PART, part = &broken);
}

Test(misuse, values, .init = start)
{
    REFUSED(HYOID_E_RANGE, hyoid_pull_write(&pull, 0, 64));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_code(&pull, 0, UINT32_MAX));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_strobe(&pull, 0, 2));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_inflection(&pull, 0, 4));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_clock(&pull, 0, -1.0));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_clock(&pull, 0, 100e6 + 1.0));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_clock(&pull, 0, (double)NAN));
    REFUSED(HYOID_E_RANGE, hyoid_pull_set_clock(&pull, 0, (double)INFINITY));
    REFUSED(HYOID_E_RANGE, hyoid_pull_glide_clock(&pull, 5, 5, 1000.0));
    REFUSED(HYOID_E_RANGE, hyoid_pull_glide_clock(&pull, 5, HYOID_TIME_MAX + 1, 1000.0));
    REFUSED(HYOID_E_RANGE, hyoid_pull_write(&pull, HYOID_TIME_MAX + 1, 0));
    REFUSED(HYOID_E_RANGE, hyoid_pull_run(&pull, INT64_MAX));
    REFUSED(HYOID_E_RANGE, hyoid_pull_frames(&pull, out, SIZE_MAX));
    REFUSED(HYOID_OK, hyoid_pull_frames(&pull, NULL, 0)); /* 0 frames are no error */
}

Test(misuse, past_and_full, .init = start)
{
    int level;
    cr_assert_eq(hyoid_pull_frames(&pull, out, 480), HYOID_OK);
    const int64_t now = pull.stream.now;
    REFUSED(HYOID_E_PAST, hyoid_pull_write(&pull, now - 1, 0));
    REFUSED(HYOID_E_PAST, hyoid_pull_write(&pull, HYOID_ASAP, 0));
    REFUSED(HYOID_E_PAST, hyoid_pull_run(&pull, now - 1));
    REFUSED(HYOID_E_PAST, hyoid_pull_run_to_request(&pull, now - 1, NULL));
    REFUSED(HYOID_E_PAST, hyoid_pull_request_at(&pull, now - 1, &level));
    REFUSED(HYOID_E_FULL, hyoid_pull_run(&pull, now + PS));
    REFUSED(HYOID_E_FULL, hyoid_pull_run_to_request(&pull, now + PS, NULL));
    cr_assert_eq(hyoid_pull_write(&pull, now + 10, 0), HYOID_OK);
    REFUSED(HYOID_E_PAST, hyoid_pull_set_inflection(&pull, now + 9, 0)); /* before the one queued last */
    cr_assert_eq(hyoid_pull_write(&pull, now + 10, 0), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(&pull, HYOID_ON_REQUEST, 0), HYOID_OK);
    REFUSED(HYOID_E_FULL, hyoid_pull_write(&pull, now + 11, 0));
}

Test(misuse, snapshots_that_do_not_fit, .init = start)
{
    static uint8_t bytes[HYOID_SNAPSHOT_MAX + 4 * RING + 32 * QUEUE + 64];
    static float other_ring[8];
    static hyoid_input other_queue[1];
    static hyoid_pull other, same;
    cr_assert_eq(hyoid_pull_write(&pull, PS, 1), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(&pull, PS, 2), HYOID_OK);
    cr_assert_eq(hyoid_pull_run(&pull, PS / 100), HYOID_OK);
    const size_t length = hyoid_pull_snapshot_write(&pull, bytes, sizeof bytes);
    cr_assert(length > 0);
    hyoid_pull_setup s = good();
    s.ring = other_ring;
    s.ring_room = 8;
    cr_assert_eq(hyoid_pull_init(&other, &s), HYOID_OK);
    cr_assert_eq(hyoid_pull_snapshot_read(&other, bytes, length), HYOID_E_FULL);
    s = good();
    s.queue = other_queue;
    s.queue_room = 1;
    cr_assert_eq(hyoid_pull_init(&other, &s), HYOID_OK);
    same = other;
    cr_assert_eq(hyoid_pull_snapshot_read(&other, bytes, length), HYOID_E_FULL);
    cr_assert_eq(memcmp(&same, &other, sizeof same), 0);
    s = good();
    s.rate = 44100;
    cr_assert_eq(hyoid_pull_init(&other, &s), HYOID_OK);
    cr_assert_eq(hyoid_pull_snapshot_read(&other, bytes, length), HYOID_E_SNAPSHOT);
}

Test(misuse, builds)
{
    const size_t part = sizeof(hyoid_part), chip = sizeof(hyoid_chip), str = sizeof(hyoid_stream),
                 p = sizeof(hyoid_pull);
    cr_assert_eq(HYOID_CHECK_BUILD(), HYOID_OK);
    cr_assert_eq(hyoid_check_build(HYOID_VERSION + 1, part, chip, str, p),
                 HYOID_E_VERSION); /* newer than the library */
    cr_assert_eq(hyoid_check_build(HYOID_VERSION + 10000, part, chip, str, p), HYOID_E_VERSION);
    cr_assert_eq(hyoid_check_build(HYOID_VERSION - 100, part, chip, str, p), HYOID_E_VERSION);
    cr_assert_eq(hyoid_check_build(0, part, chip, str, p), HYOID_E_VERSION);
    cr_assert_eq(hyoid_check_build(HYOID_VERSION, part + 8, chip, str, p), HYOID_E_SIZE);
    cr_assert_eq(hyoid_check_build(HYOID_VERSION, part, 0, str, p), HYOID_E_SIZE);
    cr_assert_eq(hyoid_check_build(HYOID_VERSION, part, chip, str - 8, p), HYOID_E_SIZE);
    cr_assert_eq(hyoid_check_build(HYOID_VERSION, part, chip, str, p + 1), HYOID_E_SIZE);
    cr_assert(hyoid_chip_size() == chip && hyoid_stream_size() == str && hyoid_pull_size() == p);
    cr_assert_eq(hyoid_version(), HYOID_VERSION);
}

Test(misuse, every_status_has_its_sentence)
{
    for (int a = 0; a <= (int)HYOID_E_SIZE; a++) {
        for (int b = 0; b < a; b++) {
            cr_assert_str_neq(hyoid_status_text((hyoid_status)a), hyoid_status_text((hyoid_status)b), "%d and %d", a,
                              b);
        }
        cr_assert_str_neq(hyoid_status_text((hyoid_status)a), hyoid_status_text((hyoid_status)1000));
    }
}

/* A function without a status does nothing with a null chip, or answers 0. */
Test(misuse, null_chip)
{
    hyoid_level level;
    hyoid_chip_set_code(NULL, 1);
    hyoid_chip_set_inflection(NULL, 1);
    hyoid_chip_set_strobe(NULL, 1);
    hyoid_chip_write(NULL, 1);
    hyoid_chip_step(NULL, 1);
    hyoid_chip_set_tap(NULL, NULL, NULL);
    cr_assert_eq(hyoid_chip_run(NULL, 1, &level, 1), 0);
    cr_assert_eq(hyoid_chip_request(NULL), 0);
    cr_assert_eq(hyoid_chip_output(NULL), 0.0);
    cr_assert_eq(hyoid_chip_slot(NULL), 0);
    cr_assert_eq(hyoid_chip_request_cycle(NULL), HYOID_NEVER);
}
