/* A board that plays the survey's C arrays, pin by pin. On a PC its chip is the model, and it prints its writes:
 * milliseconds, code or -1, inflection, clock. On a microcontroller it only has to compile. */
#include <stdint.h>

#ifdef ON_A_MICROCONTROLLER
#include <avr/pgmspace.h>
#define HYOID_SURVEY_MEMORY PROGMEM
#endif
#include "survey.h"

#ifdef ON_A_MICROCONTROLLER
uint8_t code_at(uint16_t step);
uint32_t clock_at(uint16_t change);

uint8_t code_at(uint16_t step)
{
    return pgm_read_byte(&hyoid_survey[step].code);
}

uint32_t clock_at(uint16_t change)
{
    return pgm_read_dword(&hyoid_survey_clock[change].hz);
}
#else
#include <stdio.h>

#include <hyoid/hyoid.h>

/* Polls request every 10 us, as a small processor would. */
enum { POLL_US = 10 };

typedef struct board {
    hyoid_chip chip;
    double hz, owed; /* clocks that the last poll left over */
    uint64_t us;
} board;

static void wait_poll(board *b)
{
    b->owed += b->hz * POLL_US * 1e-6;
    uint64_t clocks = (uint64_t)b->owed;
    b->owed -= (double)clocks;
    hyoid_chip_step(&b->chip, clocks);
    b->us += POLL_US;
}

int main(void)
{
    static board b;
    unsigned change = 0;
    hyoid_chip_init(&b.chip, hyoid_part_default());
    for (unsigned i = 0; i < HYOID_SURVEY_STEPS; i++) {
        const struct hyoid_survey_step *step = &hyoid_survey[i];
        if (change < HYOID_SURVEY_CLOCKS && hyoid_survey_clock[change].step == i) {
            b.hz = (double)hyoid_survey_clock[change++].hz;
        }
        hyoid_chip_set_inflection(&b.chip, step->inflection);
        int strobe = step->code != HYOID_SURVEY_NO_STROBE;
        printf("%.3f %d %d %.0f\n", (double)b.us / 1000, strobe ? step->code : -1, step->inflection, b.hz);
        if (strobe) {
            hyoid_chip_write(&b.chip, step->code);
            uint64_t end = b.us + step->most_ms * UINT64_C(1000);
            do {
                wait_poll(&b);
            } while (!hyoid_chip_request(&b.chip) && (step->most_ms == 0 || b.us < end));
        }
        for (uint64_t end = b.us + step->rest_ms * UINT64_C(1000); b.us < end;) {
            wait_poll(&b);
        }
    }
    return 0;
}
#endif
