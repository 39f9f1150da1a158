/* The audio path makes no system call and touches no allocator and no lock. */
#include "realtime_trap.h"

#include <hyoid/hyoid.h>

enum { RATE = 48000, BLOCK = 64, BLOCKS = 3000 };

typedef struct counts {
    unsigned latches, edges, levels;
} counts;

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    (void)cycle;
    (void)ps;
    (void)fraction;
    (void)value;
    ((counts *)user)->levels++;
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    (void)cycle;
    (void)ps;
    (void)code;
    ((counts *)user)->latches++;
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    (void)cycle;
    (void)ps;
    (void)level;
    ((counts *)user)->edges++;
}

/* Four seconds with everything that a host may do between two blocks. */
static int audio_path(void)
{
    static hyoid_pull pull;
    static float ring[4096], out[BLOCK];
    static hyoid_input queue[32];
    static uint8_t snapshot[HYOID_SNAPSHOT_MAX + 64 + 4 * 4096 + 32 * 32];
    static counts seen;
    const hyoid_pull_setup setup = {.part = hyoid_part_default(),
                                    .rate = RATE,
                                    .relaxed = 1,
                                    .ring = ring,
                                    .ring_room = 4096,
                                    .queue = queue,
                                    .queue_room = 32,
                                    .observer = {&seen, NULL, on_level, on_latch, on_request}};
    if (hyoid_pull_init(&pull, &setup) != HYOID_OK) {
        return 1;
    }
    for (unsigned block = 0; block < BLOCKS; block++) {
        int level;
        int bad = hyoid_pull_request_at(&pull, pull.stream.now + 1000000, &level) != HYOID_OK;
        if (block % 40 == 0 && pull.queue_count < 24) {
            bad |= hyoid_pull_write(&pull, block % 80 ? HYOID_ON_REQUEST : HYOID_ASAP, block / 40 % 64) != HYOID_OK;
        }
        if (block % 100 == 0 && pull.queue_count < 24) {
            const int64_t now = pull.stream.now;
            bad |= hyoid_pull_glide_clock(&pull, now, now + HYOID_PS_PER_S / 10, 3e5 + 100.0 * block) != HYOID_OK;
        }
        if (block % 500 == 499) {
            hyoid_chip_set_fault(&pull.stream.chip, (hyoid_fault)(block / 500 + HYOID_FAULT_F1_DETUNED), 0.5);
            hyoid_stream_keep_images(&pull.stream, block % 1000 == 499);
        }
        if (block % 50 == 49) {
            size_t length = hyoid_pull_snapshot_write(&pull, snapshot, sizeof snapshot);
            bad |= hyoid_pull_snapshot_read(&pull, snapshot, length) != HYOID_OK;
            bad |= hyoid_pull_run(&pull, pull.stream.now + HYOID_PS_PER_S / 1000) != HYOID_OK;
        }
        bad |= hyoid_pull_frames(&pull, out, BLOCK) != HYOID_OK;
        if (bad) {
            return 1;
        }
    }
    return seen.latches < 20 || seen.edges < 20 || seen.levels < 10000;
}

int main(void)
{
    const int status = trap_try(audio_path);
    if (status == 0) {
        printf("%d blocks of %d samples: no allocation, no lock, no system call\n", BLOCKS, BLOCK);
    }
    return status;
}
