/* What a block of 64 samples costs at 48 kHz, as a share of its period: reported, never asserted. Measured twice,
 * by the wall's clock, in which other processes show, and in the thread's own time.
 *
 *     library_block [SECONDS]        of sound; 20 */
#define _POSIX_C_SOURCE 200809L
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include <hyoid/hyoid.h>

enum { RATE = 48000, BLOCK = 64 };

static double now(clockid_t id)
{
    struct timespec t;
    clock_gettime(id, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static int compare(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static int measure(clockid_t id, const char *name, double hz, size_t blocks)
{
    static hyoid_pull pull;
    static float ring[1], out[BLOCK];
    static hyoid_input queue[8];
    const hyoid_pull_setup setup = {
        .part = hyoid_part_default(), .rate = RATE, .ring = ring, .ring_room = 1, .queue = queue, .queue_room = 8};
    double *times = malloc(blocks * sizeof *times);
    if (times == NULL || hyoid_pull_init(&pull, &setup) != HYOID_OK ||
        hyoid_pull_set_clock(&pull, 0, hz) != HYOID_OK) {
        free(times);
        return 1;
    }
    for (size_t i = 0; i < blocks; i++) {
        if (pull.queue_count < 4) {
            hyoid_pull_write(&pull, HYOID_ON_REQUEST, (unsigned)(i * 7 % HYOID_PHONEMES));
        }
        const double start = now(id);
        hyoid_pull_frames(&pull, out, BLOCK);
        times[i] = (now(id) - start) * RATE / BLOCK * 100.0;
    }
    qsort(times, blocks, sizeof *times, compare);
    printf("%s, clock %7.0f Hz: median %6.3f %%, 99.9 of 100 below %6.3f %%, worst %6.3f %% of a block's period\n",
           name, hz, times[blocks / 2], times[blocks - 1 - blocks / 1000], times[blocks - 1]);
    free(times);
    return 0;
}

int main(int argc, char **argv)
{
    const size_t blocks = (size_t)(argc > 1 ? atoi(argv[1]) : 20) * RATE / BLOCK;
    static const double clocks[] = {720000.0, 713337.1, 2e6};
    int failed = blocks < 1;
    for (size_t i = 0; i < 3 && !failed; i++) {
        failed |= measure(CLOCK_MONOTONIC, "wall", clocks[i], blocks);
        failed |= measure(CLOCK_THREAD_CPUTIME_ID, "own ", clocks[i], blocks);
    }
    return failed;
}
