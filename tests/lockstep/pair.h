/* Both chips side by side: the same pins on both, time for both, and everything that both can tell compared after each
 * call into the core. */
#ifndef HYOID_TESTS_PAIR_H
#define HYOID_TESTS_PAIR_H

#include "../slow/slow.h"
#include "hyoid/hyoid.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define HISTORY 20
#define LEVELS 4096

enum deed { POWER_UP, SET_CODE, SET_INFLECTION, SET_STROBE, WRITE, FAULT_ON_OFF, TAP, STEP, RUN };

struct action {
    uint64_t clock;
    enum deed deed;
    uint64_t value;
    size_t capacity; /* of a run */
};

/* Cases that the stimulus is meant to reach; counted, so that a run can show that it did. */
enum event {
    LATCH_AT_END,
    LATCH_AFTER_RISE,
    LATCH_IN_TICK,
    LATCH_WHILE_FALLING,
    EDGES_MERGED,
    CODE_WHILE_HIGH,
    CUT_BEFORE_VOICE,
    CUT_BEFORE_NOISE,
    CUT_BEFORE_BURST,
    CUT_WHILE_SHUT,
    STOP_AFTER_STOP,
    STOP_BURST,
    STOP_OUTLIVED,
    PAUSE_CUT_AT_ONCE,
    PAUSE_STOP,
    GATE_SHUT,
    INFLECTION_IN_TICK,
    SILENCE,
    EVENTS
};

/* What the stimulus is up to for its next few actions. */
enum mood { ANYTHING, STOPS, PAUSES, ANSWER_REQUEST, FLURRY, QUIET };

struct lockstep {
    uint64_t random;
    hyoid_part part;
    hyoid_chip fast;
    struct slow_chip slow;
    hyoid_level levels[LEVELS + 1];

    /* stimulus */
    enum mood mood;
    unsigned mood_left;
    uint64_t stretch_left; /* clocks until another part is tried */

    /* what a tap has seen: each tick once, if it is installed */
    bool tapped;
    uint64_t tap_calls, tap_expected, tap_cycle;
    double tap_level;

    /* hyoid_chip_request_cycle's word, which stands until the next edge */
    bool promised;
    uint64_t promise;

    /* the first difference */
    bool differs;
    const char *what;
    char fast_text[64], slow_text[64];

    struct action history[HISTORY];
    uint64_t actions;

    uint64_t cycles, default_cycles, parts, strobes, latches, taken;
    uint64_t events[EVENTS];
    bool sounded;
};

/* Whole numbers low..high, each equally likely; and true in so many cases of a hundred. */
unsigned draw(struct lockstep *l, unsigned low, unsigned high);
bool chance(struct lockstep *l, unsigned percent);

/* A fresh pair with a part; a part that the core refuses is a difference. */
void power_up(struct lockstep *l, const hyoid_part *part, enum slow_mistake mistake);

/* Pins, on both. */
void set_code(struct lockstep *l, unsigned code);
void set_inflection(struct lockstep *l, unsigned inflection);
void set_strobe(struct lockstep *l, bool strobe);
void write_code(struct lockstep *l, unsigned code);

/* Does something to the core that must change nothing. */
void meddle(struct lockstep *l);

/* hyoid_chip_request_cycle's word must stay what it was until the next edge of strobe, and must come true. */
void compare_promise(struct lockstep *l);

/* Lets clocks pass on both, the core's in calls of any size, comparing after each. */
void advance(struct lockstep *l, uint64_t clocks);

/* The first tick after a clock. */
uint64_t next_tick(const struct slow_chip *slow, uint64_t clock);

/* The clock in which n becomes `n`, if no further edge comes; 0 if that is over or never will be. */
uint64_t clock_of_n(const struct slow_chip *slow, uint32_t n);

/* The phoneme that sounds or, when an edge waits, the one that is about to. */
const hyoid_phoneme *coming_word(const struct slow_chip *slow);

#endif
