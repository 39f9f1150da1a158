/* The least program: queue phonemes, fetch sound. The library shakes hands with the chip (HYOID_ON_REQUEST).
 *
 *     cc hello.c $(pkg-config --cflags --libs hyoid) -o hello && ./hello hello.wav
 */
#include <hyoid/hyoid.h>

#include "wav.h"

enum { RATE = 48000, FRAMES = RATE };

int main(int argc, char **argv)
{
    static const unsigned char hello[] = {0x1b, 0x02, 0x18, 0x35, 0x3e}; /* h e l o, silence */
    static float ring[1], sound[FRAMES];
    static hyoid_input queue[8];
    static hyoid_pull chip;
    const hyoid_pull_setup setup = {
        .part = hyoid_part_default(), .rate = RATE, .ring = ring, .ring_room = 1, .queue = queue, .queue_room = 8};
    if (HYOID_CHECK_BUILD() != HYOID_OK || hyoid_pull_init(&chip, &setup) != HYOID_OK) {
        return 1;
    }
    for (size_t i = 0; i < sizeof hello; i++) {
        hyoid_pull_write(&chip, HYOID_ON_REQUEST, hello[i]);
    }
    hyoid_pull_frames(&chip, sound, FRAMES);

    FILE *file = fopen(argc > 1 ? argv[1] : "hello.wav", "wb");
    if (file == NULL) {
        perror("hello");
        return 1;
    }
    wav_head(file, RATE, FRAMES);
    wav_samples(file, sound, FRAMES);
    return fclose(file) == 0 ? 0 : 1;
}
