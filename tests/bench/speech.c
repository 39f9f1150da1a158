/* hyoid, spoken through in its various uses. Every path speaks the same list of phonemes, in full, and each phoneme is written
 * when the chip asks for it. */
#include <math.h>
#include <string.h>
#include <time.h>

#include <hyoid/hyoid.h>

#include "bench.h"

/* "Storm warning. The wind is rising. All boats come in. Fourteen points, and a bonus ball. Who plays next?" */
static const unsigned char text[] = {
    0x1f, 0x2a, 0x30, 0x2b, 0x0c, 0x03, 0x2d, 0x30, 0x2b, 0x0d, 0x0b, 0x14, 0x03, 0x38, 0x32, 0x2d, 0x0b, 0x0d, 0x1e,
    0x0b, 0x12, 0x2b, 0x15, 0x2c, 0x12, 0x0b, 0x14, 0x03, 0x30, 0x18, 0x0e, 0x26, 0x2a, 0x1f, 0x19, 0x32, 0x0c, 0x0b,
    0x0d, 0x03, 0x1d, 0x30, 0x2b, 0x2a, 0x2c, 0x0d, 0x25, 0x13, 0x0d, 0x2a, 0x1f, 0x2f, 0x0d, 0x1e, 0x31, 0x0e, 0x26,
    0x0d, 0x31, 0x1f, 0x0e, 0x30, 0x18, 0x03, 0x1b, 0x28, 0x25, 0x18, 0x20, 0x12, 0x0d, 0x00, 0x19, 0x1f, 0x2a, 0x3e,
};
enum { WORDS = sizeof text, LEVELS = 1024, FRAME_RATE = 48000, BLOCK = 64 };

#define CLOCK 720000.0

static volatile double heard; /* keeps the work from being left out */
static double peak;

double bench_peak(void)
{
    return peak;
}

static unsigned inflection_for(size_t word)
{
    return (unsigned)(word / 7 % HYOID_LEVELS);
}

static void listen(double sum, double loudest)
{
    heard = heard + sum;
    peak = loudest > peak ? loudest : peak;
}

static void next_word(hyoid_chip *chip, size_t *word)
{
    hyoid_chip_set_inflection(chip, inflection_for(*word));
    hyoid_chip_write(chip, text[*word % WORDS]);
    ++*word;
}

/* The chip's own rate: its levels into an array. */
double bench_chip_only(double seconds, int variant)
{
    (void)variant;
    static hyoid_level levels[LEVELS];
    hyoid_chip chip;
    hyoid_chip_init(&chip, hyoid_part_default());
    const uint64_t end = (uint64_t)(seconds * CLOCK);
    size_t word = 0;
    while (chip.cycle < end) {
        if (hyoid_chip_request(&chip)) {
            next_word(&chip, &word);
        }
        uint64_t next = hyoid_chip_request_cycle(&chip);
        next = next < end ? next : end;
        size_t count = hyoid_chip_run(&chip, next - chip.cycle, levels, LEVELS);
        listen(count > 0 ? levels[count - 1].value : 0.0, 0.0);
    }
    return (double)chip.cycle / CLOCK;
}

static void on_frames(void *user, const float *frames, size_t count)
{
    (void)user;
    float loudest = 0.0f;
    for (size_t i = 0; i < count; i++) {
        loudest = frames[i] > loudest ? frames[i] : loudest;
    }
    listen((double)frames[count - 1], (double)loudest);
}

static void tap(void *user, const hyoid_chip *chip, uint64_t cycle, double voice, double noise, double level)
{
    (void)user;
    (void)cycle;
    (void)voice;
    (void)noise;
    heard = level + chip->y1;
}

static void speak_until(hyoid_stream *stream, int64_t end, size_t *word)
{
    for (;;) {
        int64_t reached = -1;
        hyoid_stream_run_to_request(stream, end, &reached);
        if (reached < 0 || reached >= end) {
            return;
        }
        hyoid_stream_set_inflection(stream, reached, inflection_for(*word));
        hyoid_stream_write(stream, reached, text[*word % WORDS]);
        ++*word;
    }
}

static void start(hyoid_stream *stream, uint32_t rate)
{
    const hyoid_observer observer = {.frames = on_frames};
    hyoid_stream_init(stream, hyoid_part_default(), rate, &observer);
}

/* Host time in, host-rate float out. */
double bench_stream(double seconds, int variant)
{
    static hyoid_stream stream;
    start(&stream, variant == PATH_44100 ? 44100 : variant == PATH_96000 ? 96000 : FRAME_RATE);
    const int64_t second = HYOID_PS_PER_S;
    size_t word = 0;
    switch (variant) {
    case PATH_713:
        hyoid_stream_set_clock(&stream, 0, 713337.1);
        break;
    case PATH_TAP:
        hyoid_chip_set_tap(&stream.chip, tap, NULL);
        break;
    case PATH_FAULT:
        hyoid_chip_set_fault(&stream.chip, HYOID_FAULT_LEAKY, 0.1);
        break;
    case PATH_NO_IMAGES:
        hyoid_stream_keep_images(&stream, 0);
        break;
    default:
        break;
    }
    const int64_t whole = (int64_t)ceil(seconds);
    for (int64_t t = 0; t < whole; t++) {
        if (variant == PATH_GLIDE) { /* never constant */
            hyoid_stream_glide_clock(&stream, t * second, (t + 1) * second, t % 2 == 0 ? 800000.0 : 650000.0);
        }
        speak_until(&stream, (t + 1) * second, &word);
    }
    return (double)whole;
}

/* One clock per call, as a host does it that is itself stepped clock by clock. */
double bench_single_clocks(double seconds, int variant)
{
    static hyoid_stream stream; /* CLOCKS_SOUND: the stream, from one clock to the next */
    hyoid_chip chip;
    hyoid_chip_init(&chip, hyoid_part_default());
    const uint64_t end = (uint64_t)(seconds * CLOCK);
    size_t word = 0;
    if (variant == CLOCKS_SOUND) {
        start(&stream, FRAME_RATE);
        hyoid_stream_set_clock(&stream, 0,
                               1e6); /* one clock in a microsecond; counted as if it were the nominal one */
        for (uint64_t k = 1; k <= end; k++) {
            hyoid_stream_run(&stream, (int64_t)k * 1000000);
            if (hyoid_chip_request(&stream.chip)) {
                next_word(&stream.chip, &word);
            }
        }
        return seconds;
    }
    next_word(&chip, &word);
    if (variant == CLOCKS_BARE) {
        for (uint64_t k = 0; k < end; k++) {
            hyoid_chip_step(&chip, 1);
        }
        listen(chip.level, 0.0);
        return seconds;
    }
    static hyoid_level levels[LEVELS];
    size_t stored = 0;
    double level = 0.0;
    for (uint64_t k = 0; k < end; k++) {
        hyoid_chip_step(&chip, 1);
        const double now = hyoid_chip_output(&chip);
        if (now != level) {
            levels[stored % LEVELS].cycle = chip.cycle;
            levels[stored % LEVELS].value = level = now;
            stored++;
        }
        if (hyoid_chip_request(&chip)) {
            next_word(&chip, &word);
        }
    }
    listen(levels[0].value, 0.0);
    return seconds;
}

/* Eight chips that speak the list from different places; looked at every 5 ms. The seconds of all are counted. */
double bench_batch(double seconds, int variant)
{
    enum { SPAN = 3600, ROOM = SPAN / 36 + 1 };
    static hyoid_chip chips[HYOID_BATCH];
    static double levels[HYOID_BATCH * ROOM];
    hyoid_chip *all[HYOID_BATCH];
    size_t word[HYOID_BATCH];
    for (size_t i = 0; i < HYOID_BATCH; i++) {
        hyoid_chip_init(&chips[i], hyoid_part_default());
        all[i] = &chips[i];
        word[i] = i * 9;
    }
    const uint64_t end = (uint64_t)(seconds * CLOCK / HYOID_BATCH) / SPAN * SPAN + SPAN;
    while (chips[0].cycle < end) {
        for (size_t i = 0; i < HYOID_BATCH; i++) {
            if (hyoid_chip_request(all[i])) {
                next_word(all[i], &word[i]);
            }
        }
        size_t stored = 0;
        if (variant == BATCH_TOGETHER) {
            hyoid_batch_run(all, HYOID_BATCH, SPAN, levels, ROOM, &stored);
            listen(levels[0], 0.0);
        } else {
            hyoid_level some[ROOM];
            for (size_t i = 0; i < HYOID_BATCH; i++) {
                hyoid_chip_run(all[i], SPAN, some, ROOM);
                listen(some[0].value, 0.0);
            }
        }
    }
    return (double)end / CLOCK * HYOID_BATCH;
}

static double now_us(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec * 1e6 + (double)t.tv_nsec * 1e-3;
}

double bench_snapshot(void)
{
    enum { TIMES = 20000 };
    static hyoid_stream stream;
    uint8_t bytes[HYOID_SNAPSHOT_MAX];
    size_t word = 0;
    start(&stream, FRAME_RATE);
    speak_until(&stream, HYOID_PS_PER_S, &word);
    const double before = now_us(CLOCK_PROCESS_CPUTIME_ID);
    for (int i = 0; i < TIMES; i++) {
        const size_t length = hyoid_snapshot_write(&stream, bytes, sizeof bytes);
        if (hyoid_snapshot_read(&stream, bytes, length) != HYOID_OK) {
            return 0.0;
        }
    }
    return (now_us(CLOCK_PROCESS_CPUTIME_ID) - before) / TIMES;
}

double bench_copy(void)
{
    enum { TIMES = 200000 };
    static hyoid_stream stream, copies[2];
    start(&stream, FRAME_RATE);
    copies[0] = stream;
    const double before = now_us(CLOCK_PROCESS_CPUTIME_ID);
    for (int i = 0; i < TIMES; i++) {
        copies[(i + 1) % 2] = copies[i % 2];
        heard = copies[(i + 1) % 2].chip.level;
    }
    return (now_us(CLOCK_PROCESS_CPUTIME_ID) - before) / TIMES;
}

size_t bench_blocks(double *us, size_t room)
{
    static hyoid_stream stream;
    start(&stream, FRAME_RATE);
    size_t word = 0;
    for (size_t i = 0; i < room; i++) {
        const double before = now_us(CLOCK_MONOTONIC);
        speak_until(&stream, (int64_t)((i + 1) * BLOCK * (uint64_t)HYOID_PS_PER_S / FRAME_RATE), &word);
        us[i] = now_us(CLOCK_MONOTONIC) - before;
    }
    return room;
}
