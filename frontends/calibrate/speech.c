#include "speech.h"

#include "acoustics.h"

uint32_t hy_said_ticks(const hyoid_part *part, const hy_said *said)
{
    return said->ticks + (said->waits ? part->phoneme[said->code].duration : 0);
}

uint32_t hy_said_period(const hyoid_part *part, const hy_said *said)
{
    return part->pitch_period[said->level] + (hy_register4(part->phoneme[said->code].f1) >> part->pitch_f1_shift);
}

/* Formants that have arrived, one cycle after item 0 was latched: the period of the voice, which grows with F1, is then the item's, and
 * the counter a cycle further within it than where it started. */
static void settle(hyoid_chip *chip, hy_start start, const hy_said *first)
{
    chip->r_f1 = chip->t_f1;
    chip->r_f2 = chip->t_f2;
    chip->r_f3 = chip->t_f3;
    chip->r_fc = chip->t_fc;
    chip->pitch_count = (start.pitch + 1) % hy_said_period(chip->part, first);
}

size_t hy_speech_render(const hyoid_part *part, hy_start start, const hy_said *said, size_t count, float *levels,
                        size_t room, uint32_t *onset)
{
    hyoid_chip chip;
    if (hyoid_chip_init(&chip, part) != HYOID_OK) {
        return 0;
    }
    chip.pitch_count = start.pitch;
    chip.noise_reg = start.noise != 0 ? start.noise : chip.noise_reg;
    chip.formant_in -= start.divider[0] % part->formant_cycles;
    chip.amplitude_in -= start.divider[1] % part->amplitude_cycles;
    chip.gate_in -= start.divider[2] % part->gate_cycles;
    size_t stored = 0;
    uint32_t spoken = 0; /* filter cycles; the pin takes a level half a cycle after it was computed */
    for (size_t i = 0; i < count; i++) {
        if (onset != NULL) {
            onset[i] = spoken;
        }
        hyoid_chip_set_inflection(&chip, said[i].level);
        hyoid_chip_write(&chip, said[i].code);
        uint32_t left = hy_said_ticks(part, &said[i]);
        while (left > 0 && stored < room) {
            hyoid_level some[256];
            /* the first cycle latches what was written: only then targets are the item's */
            uint32_t now = start.settled && spoken == 0 ? 1 : left < 256 ? left : 256;
            if (now > room - stored) {
                now = (uint32_t)(room - stored);
            }
            size_t got = hyoid_chip_run(&chip, (uint64_t)now * part->filter_clocks, some, 256);
            for (size_t k = 0; k < got && stored < room; k++) {
                levels[stored++] = (float)some[k].value;
            }
            left -= now;
            if (start.settled && spoken == 0) {
                settle(&chip, start, &said[i]);
            }
            spoken += now;
        }
    }
    if (onset != NULL) {
        onset[count] = spoken;
    }
    return stored;
}
