/* Pins, clock by clock: for people who emulate the board. A processor polls request after every clock and strobes
 * the next phoneme; the levels of the audio pin go to a WAV at the chip's own rate (20 kHz at 720 kHz).
 *
 *     pins FILE.wav
 *
 * The same samples as `hyoid render --chip-rate` gives for the score "0x1b 0x02 0x18 0x35 0x3c". */
#include <hyoid/hyoid.h>

#include "wav.h"

enum { NOMINAL = 720000, TAIL = NOMINAL / 20, MOST = 40000 };

static const unsigned char phonemes[] = {0x1b, 0x02, 0x18, 0x35, 0x3c};

int main(int argc, char **argv)
{
    static hyoid_chip chip;
    static float levels[MOST];
    if (hyoid_chip_init(&chip, hyoid_part_default()) != HYOID_OK) {
        return 1;
    }
    hyoid_chip_set_inflection(&chip, 1);

    size_t next = 0, count = 0;
    uint64_t end = UINT64_MAX;
    while (chip.cycle < end && count < MOST) {
        /* A strobe takes a clock to act and request another to fall: a board's flip-flop would wait for that edge. */
        const int waits = hyoid_chip_request(&chip) && !chip.caught && chip.fall_at == HYOID_NEVER;
        if (waits && next < sizeof phonemes) {
            printf("clock %7llu: strobe 0x%02x\n", (unsigned long long)chip.cycle, phonemes[next]);
            hyoid_chip_write(&chip, phonemes[next++]);
        } else if (waits && end == UINT64_MAX) {
            printf("clock %7llu: nothing more to say\n", (unsigned long long)chip.cycle);
            end = chip.cycle + TAIL;
        }
        hyoid_level level;
        if (hyoid_chip_run(&chip, 1, &level, 1) == 1) { /* one clock; a new level once in 36 */
            levels[count++] = (float)level.value;
        }
    }

    FILE *file = fopen(argc > 1 ? argv[1] : "pins.wav", "wb");
    if (file == NULL) {
        perror("pins");
        return 1;
    }
    wav_head(file, NOMINAL / chip.filter_clocks, (uint32_t)count);
    wav_samples(file, levels, count);
    return fclose(file) == 0 ? 0 : 1;
}
