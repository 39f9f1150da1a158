/* Events in host time: for people who emulate a game's main loop at 60 frames a second. Per video frame the game
 * polls request every 2 ms and writes when it is high, bends the clock, and fetches the frame's sound. A snapshot
 * is taken each frame; in the end the game rewinds by half a second and plays it again: the same samples.
 *
 *     events FILE.wav
 */
#include <hyoid/hyoid.h>

#include "wav.h"

enum { RATE = 48000, FPS = 60, VIDEO_FRAMES = 120, PER_FRAME = RATE / FPS + HYOID_TAPS, REWIND = 30 };
#define POLL (HYOID_PS_PER_S / 500)

typedef struct game {
    hyoid_pull chip;
    float ring[2 * PER_FRAME];
    hyoid_input queue[16];
    int frame;
    size_t spoken;
    unsigned latches, edges; /* counted by the callbacks */
} game;

typedef struct saved {
    uint8_t bytes[HYOID_SNAPSHOT_MAX + 64 + 4 * 2 * PER_FRAME + 32 * 16];
    size_t length, spoken;
} saved;

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    game *g = user;
    g->latches++;
    if (g->latches <= 3) {
        printf("clock %llu, %.6f s: latched 0x%02x\n", (unsigned long long)cycle, (double)ps * 1e-12, code);
    }
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    (void)cycle;
    (void)ps;
    ((game *)user)->edges += level != 0;
}

/* What the game does in one video frame. Returns the samples fetched, or 0 on an error. */
static size_t play_frame(game *g, float *out)
{
    static const unsigned char song[] = {0x1f, 0x2a, 0x13, 0x2b, 0x0c}; /* s t o r m */
    const int64_t start = g->frame * HYOID_PS_PER_S / FPS, end = (g->frame + 1) * HYOID_PS_PER_S / FPS;
    if (g->frame == 40) {
        hyoid_pull_glide_clock(&g->chip, start, start + HYOID_PS_PER_S / 2, 1050000.0);
    }
    for (int64_t now = start; now < end; now += POLL) {
        int request = 0;
        if (hyoid_pull_request_at(&g->chip, now, &request) == HYOID_OK && request) {
            hyoid_pull_write(&g->chip, now, song[g->spoken++ % sizeof song]);
        }
    }
    if (hyoid_pull_run(&g->chip, end) != HYOID_OK) {
        return 0;
    }
    const size_t count = hyoid_pull_ready(&g->chip);
    g->frame++;
    return count <= PER_FRAME && hyoid_pull_frames(&g->chip, out, count) == HYOID_OK ? count : 0;
}

int main(int argc, char **argv)
{
    static game g;
    static saved saves[VIDEO_FRAMES];
    static float sound[RATE * VIDEO_FRAMES / FPS], again[PER_FRAME];
    static size_t starts[VIDEO_FRAMES + 1];
    const hyoid_pull_setup setup = {.part = hyoid_part_default(),
                                    .rate = RATE,
                                    .ring = g.ring,
                                    .ring_room = sizeof g.ring / sizeof g.ring[0],
                                    .queue = g.queue,
                                    .queue_room = sizeof g.queue / sizeof g.queue[0],
                                    .observer = {.user = &g, .latch = on_latch, .request = on_request}};
    if (hyoid_pull_init(&g.chip, &setup) != HYOID_OK) {
        return 1;
    }
    for (int frame = 0; frame < VIDEO_FRAMES; frame++) {
        saved *s = &saves[frame];
        s->length = hyoid_pull_snapshot_write(&g.chip, s->bytes, sizeof s->bytes);
        s->spoken = g.spoken;
        const size_t count = play_frame(&g, sound + starts[frame]);
        if (s->length == 0 || count == 0) {
            return 1;
        }
        starts[frame + 1] = starts[frame] + count;
    }
    printf("%u latches, %u request edges, %zu samples, %.0f levels a second at the end\n", g.latches, g.edges,
           starts[VIDEO_FRAMES], hyoid_stream_chip_rate(&g.chip.stream));

    const saved *back = &saves[VIDEO_FRAMES - REWIND];
    if (hyoid_pull_snapshot_read(&g.chip, back->bytes, back->length) != HYOID_OK) {
        return 1;
    }
    g.frame = VIDEO_FRAMES - REWIND;
    g.spoken = back->spoken;
    for (int frame = g.frame; frame < VIDEO_FRAMES; frame++) {
        const size_t count = play_frame(&g, again);
        if (count != starts[frame + 1] - starts[frame] ||
            memcmp(again, sound + starts[frame], count * sizeof *again) != 0) {
            fprintf(stderr, "events: frame %d sounds otherwise after the rewind\n", frame);
            return 1;
        }
    }
    printf("rewound by %d frames: the same samples\n", REWIND);

    FILE *file = fopen(argc > 1 ? argv[1] : "events.wav", "wb");
    if (file == NULL) {
        perror("events");
        return 1;
    }
    wav_head(file, RATE, (uint32_t)starts[VIDEO_FRAMES]);
    wav_samples(file, sound, starts[VIDEO_FRAMES]);
    return fclose(file) == 0 ? 0 : 1;
}
