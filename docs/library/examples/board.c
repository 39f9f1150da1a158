/* A real host: a small sound board around the chip, driven by interrupts, its sound fetched per video frame.
 *
 *     request edge -> interrupt -> handler fetches bytes from its program -> clock latch, inflection -> strobe
 *
 * The clock comes from an oscillator whose control voltage a 4-bit latch sets. In the program, 0x00..0x3f is a
 * phoneme (it ends the interrupt), 0x40 + n sets inflection n, 0x80 + n sets the clock latch to n, 0xff ends the
 * speech.
 *
 *     board FILE.wav      plays it
 *     board --score       prints the score that says the same: `hyoid render` gives the same samples
 */
#include <hyoid/hyoid.h>

#include "wav.h"

enum { RATE = 48000, FPS = 60, PER_FRAME = RATE / FPS + HYOID_TAPS, MOST = 10 * RATE };
#define LATENCY (INT64_C(40) * 1000000) /* interrupt to strobe: 40 us */
#define TAIL (INT64_C(50) * 1000000000) /* what sounds after the last phoneme */

/* Hz by latch code: measured on no board; a divider chain would have a table like this */
static const unsigned dac_hz[16] = {480000, 504000, 529200, 555660, 583443, 612615, 643246, 675408,
                                    709179, 720000, 756000, 793800, 833490, 875165, 918923, 964869};

static const uint8_t program[] = {
    0x89, 0x42, 0x1f, 0x2a, 0x13, 0x2b, 0x0c, 0x3e,                               /* storm, at 720 kHz */
    0x8b, 0x2d, 0x13, 0x2b, 0x0d, 0x41, 0x09, 0x14, 0x3e,                         /* warning, higher */
    0x8c, 0x43, 0x19, 0x8d, 0x32, 0x8e, 0x0c, 0x8f, 0x27, 0x40, 0x80, 0x0d, 0x3e, /* come in, all over the place */
    0xff,
};

typedef struct board {
    hyoid_pull chip;
    float ring[2 * PER_FRAME];
    hyoid_input queue[8];
    const uint8_t *next; /* the handler's program counter */
    int64_t end;         /* when all is over, ps; -1: not known yet */
} board;

/* The interrupt handler; what it does to the pins happens at `at`. */
static void interrupt(board *b, int64_t at)
{
    for (;;) {
        const uint8_t byte = *b->next++;
        if (byte < 0x40) {
            hyoid_pull_write(&b->chip, at, byte);
            return;
        }
        if (byte < 0x80) {
            hyoid_pull_set_inflection(&b->chip, at, byte & 3u);
        } else {
            hyoid_pull_set_clock(&b->chip, at, dac_hz[byte & 15u]);
        }
    }
}

/* Everything up to the end of a video frame. */
static int run_frame(board *b, int64_t frame_end)
{
    for (;;) {
        int64_t reached;
        if (hyoid_pull_run_to_request(&b->chip, frame_end, &reached) != HYOID_OK) {
            return -1;
        }
        if (reached < 0) {
            return 0;
        }
        if (*b->next == 0xff) {
            b->end = reached + TAIL;
            return hyoid_pull_run(&b->chip, frame_end) == HYOID_OK ? 0 : -1;
        }
        interrupt(b, reached + 1 + LATENCY); /* one picosecond clear of the edge, as render's host keeps */
    }
}

/* Plays the program and returns the number of samples, 0 on an error. */
static size_t play(board *b, float *sound)
{
    size_t count = 0;
    b->end = -1;
    b->next = program;
    hyoid_pull_set_inflection(&b->chip, 0, 1);
    interrupt(b, 0); /* the power-up routine starts the speech */
    for (int64_t frame = 1; b->end < 0; frame++) {
        if (run_frame(b, frame * HYOID_PS_PER_S / FPS) != 0) {
            return 0;
        }
        const size_t ready = hyoid_pull_ready(&b->chip);
        if (count + ready > MOST / 2 || hyoid_pull_frames(&b->chip, sound + count, ready) != HYOID_OK) {
            return 0;
        }
        count += ready;
    }
    const size_t whole = (size_t)((b->end / 1000000 * RATE + 999999) / 1000000);
    if (whole > MOST || hyoid_pull_frames(&b->chip, sound + count, whole - count) != HYOID_OK) {
        return 0;
    }
    return whole;
}

static void print_score(void)
{
    printf("# what board.c's program says\nlevel 1\nanswer 40us\n");
    for (const uint8_t *byte = program; *byte != 0xff; byte++) {
        if (*byte < 0x40) {
            printf("0x%02x\n", *byte);
        } else if (*byte < 0x80) {
            printf("level %u\n", *byte & 3u);
        } else {
            printf("clock %u\n", dac_hz[*byte & 15u]);
        }
    }
}

int main(int argc, char **argv)
{
    static board b;
    static float sound[MOST];
    if (argc == 2 && strcmp(argv[1], "--score") == 0) {
        print_score();
        return 0;
    }
    const hyoid_pull_setup setup = {.part = hyoid_part_default(),
                                    .rate = RATE,
                                    .ring = b.ring,
                                    .ring_room = sizeof b.ring / sizeof b.ring[0],
                                    .queue = b.queue,
                                    .queue_room = sizeof b.queue / sizeof b.queue[0]};
    if (hyoid_pull_init(&b.chip, &setup) != HYOID_OK) {
        return 1;
    }
    const size_t count = play(&b, sound);
    FILE *file = count > 0 ? fopen(argc > 1 ? argv[1] : "board.wav", "wb") : NULL;
    if (file == NULL) {
        fprintf(stderr, "board: cannot play or write\n");
        return 1;
    }
    wav_head(file, RATE, (uint32_t)count);
    wav_samples(file, sound, count);
    return fclose(file) == 0 ? 0 : 1;
}
