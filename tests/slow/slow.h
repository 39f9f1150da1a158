/* The chip a second time, slowly: written from docs/chip.md and the public header alone, one clock at a time, nothing
 * worked out in advance, no code shared with core/. It exists to disagree with the core when the core is wrong; see
 * tests/lockstep. */
#ifndef HYOID_TESTS_SLOW_H
#define HYOID_TESTS_SLOW_H

#include "hyoid/hyoid.h"

#include <stdbool.h>
#include <stdint.h>

/* Ways to be wrong on purpose, one at a time: each must make the lockstep test fail, or the test proves nothing. */
enum slow_mistake {
    SLOW_RIGHT,
    SLOW_TIMER_LONG,
    SLOW_TIMER_SHORT,
    SLOW_LATCH_TICK_COUNTS,
    SLOW_END_BEATS_LATCH,
    SLOW_DIVIDER_RESET,
    SLOW_SLOT_ROUNDED,
    SLOW_VOICE_DELAY,
    SLOW_NOISE_DELAY,
    SLOW_VOICE_DELAY_SKIPPED,
    SLOW_PAUSE_WAITS,
    SLOW_PAUSE_BURSTS,
    SLOW_BURST_LATE,
    SLOW_BURST_GRADUAL,
    SLOW_GATE_OPENS_AT_LATCH,
    SLOW_GATE_STUCK,
    SLOW_GATE_SHIFT,
    SLOW_GATE_ROUNDED_DOWN,
    SLOW_FALL_LATE,
    SLOW_FALL_RESTARTS,
    SLOW_FIRST_EDGE_WINS,
    SLOW_CODE_AT_CLOCK,
    SLOW_FALLING_EDGE,
    SLOW_STROBE_LEVEL,
    SLOW_PIN_LATE,
    SLOW_F2_CODE,
    SLOW_MOVE_ROUNDED_DOWN,
    SLOW_MOVE_STALLS,
    SLOW_MOVE_PHASE,
    SLOW_MOVE_FIRST,
    SLOW_STOP_SPECTRUM,
    SLOW_CHARGES_LINGER,
    SLOW_BANDWIDTH_LATE,
    SLOW_NOISE_ENTRY_K,
    SLOW_BETWEEN_ALWAYS,
    SLOW_BETWEEN_BY_TARGET,
    SLOW_PITCH_LONG,
    SLOW_PITCH_WRAP,
    SLOW_PITCH_F1,
    SLOW_INFLECTION_LATCHED,
    SLOW_PULSE_LENGTH,
    SLOW_NOISE_TAP,
    SLOW_NOISE_BIT,
    SLOW_NOISE_EARLY,
    SLOW_INTEGRATOR_ORDER,
    SLOW_SUM_ORDER,
    SLOW_FUSED,
    SLOW_FEED,
    SLOW_BEND,
    SLOW_LOWPASS,
    SLOW_MISTAKES
};

struct slow_chip {
    const struct hyoid_part *part;
    enum slow_mistake mistake;

    uint64_t clock; /* number of the latest clock; 0 = just powered up */
    uint64_t tick;  /* number of the latest tick */

    /* input pins, and the edge of strobe that waits for the next clock */
    unsigned code;
    unsigned inflection;
    bool strobe;
    bool edge;
    unsigned edge_code;

    /* output pins */
    bool request;
    double audio;
    bool audio_taken; /* the audio pin took a level in the latest clock */

    /* sequencer */
    unsigned latched;     /* code of the phoneme that sounds */
    uint64_t latch_clock; /* clock of its latch; 0 before the first */
    bool timer;
    uint32_t n;
    bool falling;        /* request's fall is under way, */
    uint64_t fall_clock; /* and due in this clock */
    uint64_t rise_clock; /* clock in which request last rose */
    bool gate_closing;

    /* targets and registers of the moving parameters */
    unsigned target_f1, target_f2, target_f3, target_fc, target_va, target_fa;
    unsigned f1, f2, f3, fc, va, fa;
    unsigned bandwidth2;
    unsigned gate;

    /* sources */
    unsigned pitch_count;
    uint32_t noise_register;
    double last_noise; /* n' */
    double last_slope; /* slope' */

    /* charges */
    double u1, y1, u2, y2, u3, y3, u4, y4;
    double lowpass;

    double level; /* the latest tick's */

    unsigned mistake_memory; /* what some mistakes need to remember */
};

void slow_power_up(struct slow_chip *chip, const struct hyoid_part *part);

/* Pins, at an instant between two clocks. code 0..63, inflection 0..3. */
void slow_set_code(struct slow_chip *chip, unsigned code);
void slow_set_inflection(struct slow_chip *chip, unsigned inflection);
void slow_set_strobe(struct slow_chip *chip, bool strobe);

/* One clock. */
void slow_clock(struct slow_chip *chip);

/* The sixteenth of the phoneme in which the chip is. */
unsigned slow_slot(const struct slow_chip *chip);

/* What is wrong about a chip with this mistake, in a few words. */
const char *slow_mistake_text(enum slow_mistake mistake);

#endif
