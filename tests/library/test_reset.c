/* Reset is power off and on: after it everything is as with a fresh one that has the same part, faults and
 * listeners. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#define PS HYOID_PS_PER_S
enum { RATE = 48000, FRAMES = 20000 };

static void tap(void *user, const hyoid_chip *chip, uint64_t cycle, double voice, double noise, double level)
{
    (void)chip;
    (void)cycle;
    (void)voice;
    (void)noise;
    (void)level;
    ++*(unsigned *)user;
}

Test(reset, a_chip_is_as_new_but_keeps_its_faults)
{
    for (unsigned fault = 0; fault <= HYOID_FAULTS; fault++) {
        unsigned taps = 0, fresh_taps = 0;
        hyoid_chip used, fresh;
        cr_assert_eq(hyoid_chip_init(&used, hyoid_part_default()), HYOID_OK);
        cr_assert_eq(hyoid_chip_init(&fresh, hyoid_part_default()), HYOID_OK);
        if (fault < HYOID_FAULTS) {
            hyoid_chip_set_fault(&used, (hyoid_fault)fault, 0.5);
            hyoid_chip_set_fault(&fresh, (hyoid_fault)fault, 0.5);
        }
        hyoid_chip_set_tap(&used, tap, &taps);
        hyoid_chip_set_inflection(&used, 3);
        hyoid_chip_write(&used, 0x1f);
        hyoid_chip_step(&used, 123457);
        hyoid_chip_set_strobe(&used, 1);
        cr_assert_eq(hyoid_chip_reset(&used), HYOID_OK);
        cr_assert(used.cycle == 0 && used.strobe == 0 && used.tap == tap);

        taps = 0;
        hyoid_chip_set_tap(&fresh, tap, &fresh_taps);
        hyoid_level a[400], b[400];
        hyoid_chip_write(&used, 0x08);
        hyoid_chip_write(&fresh, 0x08);
        for (int i = 0; i < 20; i++) {
            const size_t n = hyoid_chip_run(&used, 3600, a, 400);
            cr_assert_eq(hyoid_chip_run(&fresh, 3600, b, 400), n);
            cr_assert_leq(n, hyoid_chip_most_levels(&used, 3600));
            for (size_t k = 0; k < n; k++) {
                cr_assert(a[k].cycle == b[k].cycle && a[k].value == b[k].value, "fault %u", fault);
            }
            cr_assert_eq(hyoid_chip_request(&used), hyoid_chip_request(&fresh));
        }
        cr_assert(taps > 0 && taps == fresh_taps);
    }
}

typedef struct sink {
    float sound[FRAMES];
    size_t count;
} sink;

static void on_frames(void *user, const float *frames, size_t count)
{
    sink *s = user;
    for (size_t i = 0; i < count && s->count < FRAMES; i++) {
        s->sound[s->count++] = frames[i];
    }
}

static void speak(hyoid_stream *s, sink *to)
{
    to->count = 0;
    cr_assert_eq(hyoid_stream_write(s, 1000, 0x13), HYOID_OK);
    cr_assert_eq(hyoid_stream_glide_clock(s, PS / 10, PS / 5, 500000.0), HYOID_OK);
    cr_assert_eq(hyoid_stream_write(s, PS / 4, 0x1f), HYOID_OK);
    cr_assert_eq(hyoid_stream_run(s, PS / 2), HYOID_OK);
    cr_assert_eq(to->count, FRAMES);
}

Test(reset, a_stream_starts_over_at_time_0)
{
    for (int keep = 0; keep < 2; keep++) {
        sink *first = calloc(1, sizeof *first);
        float *before = malloc(sizeof first->sound);
        hyoid_stream *s = malloc(sizeof *s);
        const hyoid_observer observer = {.user = first, .frames = on_frames};
        cr_assert_eq(hyoid_stream_init(s, hyoid_part_default(), RATE, &observer), HYOID_OK);
        hyoid_stream_keep_images(s, keep);
        hyoid_chip_set_fault(&s->chip, HYOID_FAULT_F2_DETUNED, 0.7);
        speak(s, first);
        memcpy(before, first->sound, sizeof first->sound);
        cr_assert_float_eq(hyoid_stream_clock_hz(s), 500000.0, 0.0);
        cr_assert_eq(hyoid_stream_reset(s), HYOID_OK);
        cr_assert(s->now == 0 && hyoid_stream_clock_hz(s) == 720000.0 && hyoid_stream_chip_rate(s) == 20000.0);
        speak(s, first);
        cr_assert_eq(memcmp(before, first->sound, sizeof first->sound), 0);
        free(s);
        free(before);
        free(first);
    }
}

Test(reset, a_pull_forgets_what_waits)
{
    static float ring[4096], a[1000], b[1000];
    static hyoid_input queue[4];
    static hyoid_pull p;
    const hyoid_pull_setup setup = {
        .part = hyoid_part_default(), .rate = RATE, .ring = ring, .ring_room = 4096, .queue = queue, .queue_room = 4};
    cr_assert_eq(hyoid_pull_init(&p, &setup), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(&p, 0, 0x08), HYOID_OK);
    cr_assert_eq(hyoid_pull_frames(&p, a, 1000), HYOID_OK);
    cr_assert_eq(hyoid_pull_write(&p, PS, 0x1f), HYOID_OK);
    cr_assert_eq(hyoid_pull_run(&p, PS / 20), HYOID_OK);
    cr_assert_eq(hyoid_pull_reset(&p), HYOID_OK);
    cr_assert(hyoid_pull_ready(&p) == 0 && hyoid_pull_position(&p) == 0);
    cr_assert_eq(hyoid_pull_write(&p, 0, 0x08), HYOID_OK);
    cr_assert_eq(hyoid_pull_frames(&p, b, 1000), HYOID_OK);
    cr_assert_eq(memcmp(a, b, sizeof a), 0);
}
