/* Holds the core against the slow model, clock for clock: the same random pins on both, the core advanced in calls of
 * every size, the slow model one clock at a time, and everything that both can tell compared after each call.
 *
 *     lockstep [--cycles N] [--seed S] [--break K]     compare N clocks; exit 1 at the first difference
 *     lockstep --controls [--cycles N] [--seed S]      break the slow model in every way it knows, one after the other;
 *                                                      exit 1 if N clocks do not show it each time
 */
#include "../slow/slow.h"
#include "hyoid/hyoid.h"
#include "random_part.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define DEFAULT_CYCLES UINT64_C(120000000)
#define CONTROL_CYCLES UINT64_C(30000000)
#define COVERAGE_CYCLES UINT64_C(50000000) /* a run of this length must have seen every case of enum event */
#define HISTORY 20
#define LEVELS 4096

enum deed { POWER_UP, SET_CODE, SET_INFLECTION, SET_STROBE, WRITE, STEP, RUN };

static const char *const deed_text[] = {"power-up", "code", "inflection", "strobe", "write", "step", "run"};

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

static const char *const event_text[EVENTS] = {
    "latch in the clock in which the timer ends",
    "latch one clock after request rose",
    "latch in a tick's clock",
    "latch while request's fall is under way",
    "several edges before one clock",
    "code changed while strobe is high",
    "cut before the voice delay was over",
    "cut before the noise delay was over",
    "stop cut before its burst",
    "stop cut while its gate is shut",
    "stop after an unfinished stop",
    "burst",
    "stop that outlived its time by 100 ticks",
    "pause cut before its first tick",
    "pause that is a stop",
    "gate at 0",
    "inflection changed for a tick's clock",
    "every charge at 0 after sound",
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

static unsigned draw(struct lockstep *l, unsigned low, unsigned high)
{
    return (unsigned)random_between(&l->random, low, high);
}

static bool chance(struct lockstep *l, unsigned percent)
{
    return draw(l, 1, 100) <= percent;
}

static uint64_t least(uint64_t a, uint64_t b)
{
    return a < b ? a : b;
}

/* The first tick after a clock. */
static uint64_t next_tick(const struct slow_chip *slow, uint64_t clock)
{
    return (clock / slow->part->filter_clocks + 1) * slow->part->filter_clocks;
}

/* ------------------------------------------------------------------------------------------------
 * Comparison
 * --------------------------------------------------------------------------------------------- */

static void same_number(struct lockstep *l, const char *what, uint64_t fast, uint64_t slow)
{
    if (fast != slow && !l->differs) {
        l->differs = true;
        l->what = what;
        snprintf(l->fast_text, sizeof l->fast_text, "%" PRIu64, fast);
        snprintf(l->slow_text, sizeof l->slow_text, "%" PRIu64, slow);
    }
}

static void same_bits(struct lockstep *l, const char *what, double fast, double slow)
{
    if (memcmp(&fast, &slow, sizeof fast) != 0 && !l->differs) {
        l->differs = true;
        l->what = what;
        snprintf(l->fast_text, sizeof l->fast_text, "%.17g (%a)", fast, fast);
        snprintf(l->slow_text, sizeof l->slow_text, "%.17g (%a)", slow, slow);
    }
}

static void compare(struct lockstep *l)
{
    const hyoid_chip *fast = &l->fast;
    const struct slow_chip *slow = &l->slow;

    same_number(l, "cycle", fast->cycle, slow->clock);

    same_number(l, "request", (uint64_t)hyoid_chip_request(fast), slow->request);
    same_bits(l, "audio pin", hyoid_chip_output(fast), slow->audio);
    same_bits(l, "level for the audio pin", fast->level_next, slow->level);
    same_number(l, "clock of the next tick", fast->tick_at, next_tick(slow, slow->clock));

    same_number(l, "edge caught", fast->caught, slow->edge);
    same_number(l, "strobe", fast->strobe, slow->strobe);
    same_number(l, "phoneme", fast->phoneme, slow->latched);
    same_number(l, "timer runs", fast->timing, slow->timer);
    same_number(l, "clock of the latch", fast->latch_cycle, slow->latch_clock);
    same_number(l, "n", fast->n, slow->n);
    same_number(l, "slot", hyoid_chip_slot(fast), slow_slot(slow));
    same_number(l, "clock of request's fall", fast->fall_at, slow->falling ? slow->fall_clock : HYOID_NEVER);
    same_number(l, "clock of request's rise", fast->rise_cycle, slow->rise_clock);

    same_number(l, "F1 target", fast->t_f1, slow->target_f1);
    same_number(l, "F2 target", fast->t_f2, slow->target_f2);
    same_number(l, "F3 target", fast->t_f3, slow->target_f3);
    same_number(l, "FC target", fast->t_fc, slow->target_fc);
    same_number(l, "VA target", fast->t_va, slow->target_va);
    same_number(l, "FA target", fast->t_fa, slow->target_fa);
    same_number(l, "F1 register", fast->r_f1, slow->f1);
    same_number(l, "F2 register", fast->r_f2, slow->f2);
    same_number(l, "F3 register", fast->r_f3, slow->f3);
    same_number(l, "FC register", fast->r_fc, slow->fc);
    same_number(l, "VA register", fast->r_va, slow->va);
    same_number(l, "FA register", fast->r_fa, slow->fa);
    same_number(l, "bandwidth code", fast->bw2, slow->bandwidth2);
    same_number(l, "gate", fast->gate, slow->gate);
    same_number(l, "gate closing", fast->gate_closing, slow->gate_closing);

    same_number(l, "pitch count", fast->pitch_count, slow->pitch_count);
    same_number(l, "noise register", fast->noise_reg, slow->noise_register);
    same_bits(l, "n'", fast->noise, slow->last_noise);
    same_bits(l, "slope'", fast->noise_slope, slow->last_slope);

    same_bits(l, "u1", fast->u1, slow->u1);
    same_bits(l, "y1", fast->y1, slow->y1);
    same_bits(l, "u2", fast->u2, slow->u2);
    same_bits(l, "y2", fast->y2, slow->y2);
    same_bits(l, "u3", fast->u3, slow->u3);
    same_bits(l, "y3", fast->y3, slow->y3);
    same_bits(l, "u4", fast->u4, slow->u4);
    same_bits(l, "y4", fast->y4, slow->y4);
    same_bits(l, "low-pass", fast->lowpass, slow->lowpass);
}

/* What hyoid_chip_request_cycle says must stay what it said until the next edge of strobe, and must come true. */
static void compare_promise(struct lockstep *l)
{
    uint64_t promise = hyoid_chip_request_cycle(&l->fast);

    if (l->promised) {
        same_number(l, "hyoid_chip_request_cycle (core: now, slow: earlier)", promise, l->promise);
    }
    l->promised = true;
    l->promise = promise;
    if (promise <= l->slow.clock) {
        same_number(l, "hyoid_chip_request_cycle (slow: clocks so far)", promise, l->slow.clock);
    }
}

/* ------------------------------------------------------------------------------------------------
 * The slow model's clocks
 * --------------------------------------------------------------------------------------------- */

/* The clock in which n becomes `n`, if no further edge comes; 0 if that is over or never will be. */
static uint64_t clock_of_n(const struct slow_chip *slow, uint32_t n)
{
    uint32_t so_far = slow->edge ? 0 : slow->n;
    uint64_t tick = next_tick(slow, slow->edge ? slow->clock + 1 : slow->clock);

    if ((!slow->edge && !slow->timer) || n <= so_far) {
        return 0;
    }
    return tick + (uint64_t)(n - so_far - 1) * slow->part->filter_clocks;
}

static const hyoid_phoneme *coming_word(const struct slow_chip *slow)
{
    return &slow->part->phoneme[slow->edge ? slow->edge_code : slow->latched];
}

static void count_latch(struct lockstep *l)
{
    const struct slow_chip *slow = &l->slow;
    const hyoid_phoneme *w = &slow->part->phoneme[slow->latched];
    const hyoid_phoneme *coming = coming_word(slow);
    uint64_t clock = slow->clock + 1;
    bool in_tick = clock % slow->part->filter_clocks == 0;
    unsigned slot = slow_slot(slow);

    l->latches += 1;
    l->events[LATCH_IN_TICK] += in_tick;
    l->events[LATCH_AT_END] += in_tick && slow->timer && slow->n + 1u == w->duration;
    l->events[LATCH_AFTER_RISE] += slow->rise_clock > 0 && slow->rise_clock == slow->clock;
    l->events[LATCH_WHILE_FALLING] += slow->falling && slow->fall_clock >= clock;
    l->events[CUT_BEFORE_VOICE] += slow->timer && slot < w->vd;
    l->events[CUT_BEFORE_NOISE] += slow->timer && !w->closure && slot < w->cld;
    l->events[CUT_BEFORE_BURST] += slow->timer && w->closure && slot < slow->part->burst_slot;
    l->events[CUT_WHILE_SHUT] += slow->gate_closing && slow->gate == 0;
    l->events[STOP_AFTER_STOP] += slow->timer && w->closure && coming->closure;
    l->events[PAUSE_CUT_AT_ONCE] += slow->timer && w->pause && slow->n == 0;
    l->events[PAUSE_STOP] += coming->pause && coming->closure;
}

static void count_tick(struct lockstep *l)
{
    const struct slow_chip *slow = &l->slow;
    const hyoid_phoneme *w = &slow->part->phoneme[slow->latched];

    l->events[STOP_BURST] +=
        slow->timer && w->closure && !w->pause && w->fa > 0 && slow_slot(slow) == slow->part->burst_slot;
    l->events[STOP_OUTLIVED] += w->closure && slow->rise_clock > 0 &&
                                slow->clock == slow->rise_clock + UINT64_C(100) * slow->part->filter_clocks;
    l->events[GATE_SHUT] += slow->gate == 0;
    if (slow->y1 != 0.0 && slow->y4 != 0.0) {
        l->sounded = true;
    } else if (l->sounded && slow->u1 == 0.0 && slow->y1 == 0.0 && slow->u2 == 0.0 && slow->y2 == 0.0 &&
               slow->u3 == 0.0 && slow->y3 == 0.0 && slow->u4 == 0.0 && slow->y4 == 0.0) {
        l->sounded = false;
        l->events[SILENCE] += 1;
    }
}

/* One clock of the slow model, with the word about request held against what comes. */
static void clock_slow(struct lockstep *l)
{
    struct slow_chip *slow = &l->slow;

    if (slow->edge) {
        count_latch(l);
    }
    slow_clock(slow);
    l->cycles += 1;
    if (slow->clock % slow->part->filter_clocks == 0) {
        count_tick(l);
    }
    if (slow->request && slow->rise_clock == slow->clock && l->promised) {
        same_number(l, "hyoid_chip_request_cycle (slow: request rises)", l->promise, slow->clock);
        l->promise = HYOID_NEVER;
    }
}

/* ------------------------------------------------------------------------------------------------
 * Actions on both
 * --------------------------------------------------------------------------------------------- */

static void note(struct lockstep *l, enum deed deed, uint64_t value, size_t capacity)
{
    l->history[l->actions % HISTORY] = (struct action){l->slow.clock, deed, value, capacity};
    l->actions += 1;
}

static void set_code(struct lockstep *l, unsigned code)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 6 : 0;

    note(l, SET_CODE, code, 0);
    l->events[CODE_WHILE_HIGH] += l->slow.strobe && code != l->slow.code;
    hyoid_chip_set_code(&l->fast, code | beyond);
    slow_set_code(&l->slow, code);
}

static void set_inflection(struct lockstep *l, unsigned inflection)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 2 : 0;

    note(l, SET_INFLECTION, inflection, 0);
    l->events[INFLECTION_IN_TICK] +=
        inflection != l->slow.inflection && (l->slow.clock + 1) % l->part.filter_clocks == 0;
    hyoid_chip_set_inflection(&l->fast, inflection | beyond);
    slow_set_inflection(&l->slow, inflection);
}

static void slow_strobe(struct lockstep *l, bool strobe)
{
    if (strobe && !l->slow.strobe) {
        l->promised = false;
        l->strobes += 1;
        l->events[EDGES_MERGED] += l->slow.edge;
    }
    slow_set_strobe(&l->slow, strobe);
}

static void set_strobe(struct lockstep *l, bool strobe)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 1 : 0;

    note(l, SET_STROBE, strobe, 0);
    hyoid_chip_set_strobe(&l->fast, (strobe ? 1u : 0u) | beyond);
    slow_strobe(l, strobe);
}

static void write_code(struct lockstep *l, unsigned code)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 6 : 0;

    note(l, WRITE, code, 0);
    hyoid_chip_write(&l->fast, code | beyond);
    slow_set_code(&l->slow, code);
    slow_strobe(l, false); /* a strobe that is held high is let go first, or there would be no edge */
    slow_strobe(l, true);
    slow_strobe(l, false);
}

static void power_up(struct lockstep *l, const hyoid_part *part, enum slow_fault fault)
{
    const char *problem = NULL;

    l->part = *part;
    if (hyoid_part_check(&l->part, &problem) != HYOID_OK || hyoid_chip_init(&l->fast, &l->part) != HYOID_OK) {
        l->differs = true;
        l->what = "the core refuses a part";
        snprintf(l->fast_text, sizeof l->fast_text, "%s", problem == NULL ? "?" : problem);
        snprintf(l->slow_text, sizeof l->slow_text, "takes it");
        return;
    }
    slow_power_up(&l->slow, &l->part);
    l->slow.fault = fault;
    l->promised = false;
    l->sounded = false;
    l->mood_left = 0;
    note(l, POWER_UP, l->parts, 0);
    compare(l);
}

/* ------------------------------------------------------------------------------------------------
 * Time
 * --------------------------------------------------------------------------------------------- */

static void step(struct lockstep *l, uint64_t clocks)
{
    note(l, STEP, clocks, 0);
    hyoid_chip_step(&l->fast, clocks);
    while (clocks-- > 0 && !l->differs) {
        clock_slow(l);
        l->taken += l->slow.audio_taken;
    }
}

/* Returns the clocks run, which may be fewer than asked for when the levels are many. */
static uint64_t run(struct lockstep *l, uint64_t clocks, size_t capacity)
{
    uint64_t from = l->slow.clock;
    uint64_t ran;
    size_t stored;
    size_t i = 0;

    note(l, RUN, clocks, capacity);
    l->levels[capacity].cycle = HYOID_NEVER;
    stored = hyoid_chip_run(&l->fast, clocks, l->levels, capacity);
    same_number(l, "levels beyond the caller's array (slow: untouched)", l->levels[capacity].cycle, HYOID_NEVER);
    ran = l->fast.cycle - from;
    if (ran > clocks || (ran < clocks && stored != capacity) || (ran == 0 && clocks > 0 && capacity > 0)) {
        same_number(l, "clocks run (slow: asked for)", ran, clocks);
        return 0;
    }
    while (l->slow.clock < l->fast.cycle && !l->differs) {
        clock_slow(l);
        if (l->slow.audio_taken) {
            if (i < stored) {
                same_number(l, "clock of a new level", l->levels[i].cycle, l->slow.clock);
                same_bits(l, "new level", l->levels[i].value, l->slow.audio);
            }
            i += 1;
        }
    }
    l->taken += i;
    if (!l->differs) {
        same_number(l, "number of new levels", stored, i);
    }
    return ran;
}

static uint64_t cut(struct lockstep *l, bool fine)
{
    switch (draw(l, 0, fine ? 6 : 9)) {
    case 0:
        return 0;
    case 1:
        return 1;
    case 2:
        return 2;
    case 3:
        return l->part.filter_clocks - 1 + draw(l, 0, 2);
    case 4:
        return l->part.output_clocks - 1 + draw(l, 0, 2);
    case 5:
        return 35 + draw(l, 0, 2);
    case 6:
        return 18;
    case 7:
        return draw(l, 1000, 5000);
    default:
        return random_scale(&l->random, 0, UINT64_C(1) << 40);
    }
}

/* Lets this many clocks pass on both, in calls of any size, comparing after each. */
static void advance(struct lockstep *l, uint64_t clocks)
{
    bool fine = clocks < 100 * (uint64_t)l->part.filter_clocks && chance(l, 30);

    l->stretch_left -= clocks;
    do {
        uint64_t piece = least(cut(l, fine), clocks);

        if (chance(l, 50)) {
            step(l, piece);
        } else {
            piece = run(l, piece, (size_t)random_scale(&l->random, 0, LEVELS));
        }
        clocks -= piece;
        if (!l->differs) {
            compare(l);
            compare_promise(l);
        }
        if (chance(l, 2)) { /* an assignment is a complete copy */
            hyoid_chip copy = l->fast;

            memset(&l->fast, 0xa5, sizeof l->fast);
            l->fast = copy;
        }
    } while (clocks > 0 && !l->differs);
}

/* ------------------------------------------------------------------------------------------------
 * Stimulus
 * --------------------------------------------------------------------------------------------- */

static unsigned pick_code(struct lockstep *l)
{
    unsigned code = draw(l, 0, HYOID_PHONEMES - 1);
    unsigned tries;

    for (tries = 0; tries < 200; ++tries) {
        const hyoid_phoneme *w = &l->part.phoneme[code];
        bool fits = true;

        if (l->mood == STOPS) {
            fits = w->closure;
        } else if (l->mood == PAUSES) {
            fits = w->pause || tries % 2 == 1;
        } else if (l->mood == QUIET) {
            fits = w->pause;
        }
        if (fits) {
            break;
        }
        code = draw(l, 0, HYOID_PHONEMES - 1);
    }
    return code;
}

/* How many clocks to let pass so that the next pins act in `clock`, or in one of its neighbours. */
static uint64_t until(struct lockstep *l, uint64_t clock)
{
    uint64_t before = clock + draw(l, 0, 3); /* 1: in clock - 1, 2: in it, 3: one after, ... */

    if (chance(l, 50)) {
        before = clock + 1; /* pins act in the clock after they are set */
    }
    return before < l->slow.clock + 2 ? 0 : before - 2 - l->slow.clock;
}

static uint64_t pick_gap(struct lockstep *l)
{
    const struct slow_chip *slow = &l->slow;
    const hyoid_phoneme *w = coming_word(slow);
    uint64_t cycle = l->part.filter_clocks;
    uint64_t tick = next_tick(slow, slow->clock);
    uint64_t end = clock_of_n(slow, w->duration);
    uint64_t event;

    if (l->mood == ANSWER_REQUEST) {
        return end > 0 ? end - slow->clock : draw(l, 0, 2);
    }
    if (l->mood == QUIET) {
        return random_between(&l->random, 0, 20000) * cycle;
    }
    switch (draw(l, 0, l->mood == FLURRY ? 4 : 11)) {
    case 0:
        return 0;
    case 1:
        return draw(l, 1, 3);
    case 2:
        return until(l, tick + draw(l, 0, 3) * cycle);
    case 3:
        return until(l, tick - cycle + l->part.output_clocks + draw(l, 0, 1) * cycle);
    case 4:
        return slow->falling ? until(l, slow->fall_clock) : draw(l, 0, (unsigned)(2 * cycle));
    case 5:
    case 6:
        return end > 0 ? until(l, end) : draw(l, 0, 3);
    case 7:
    case 8:
    case 9: /* a slot's first tick: its n is the least with 16 n >= slot * duration */
        event = clock_of_n(slow, (draw(l, 1, 16) * w->duration + 15u) / 16u);
        return event > 0 ? until(l, event) : 0;
    case 10:
        return random_between(&l->random, 0, (uint64_t)w->duration * cycle);
    default:
        event = random_scale(&l->random, 0, 20000) * cycle;
        return event + draw(l, 0, (unsigned)cycle);
    }
}

static void act(struct lockstep *l)
{
    unsigned edges;

    if (l->mood == ANSWER_REQUEST || l->mood == QUIET) {
        if (chance(l, 30)) {
            set_inflection(l, draw(l, 0, 3));
        }
        write_code(l, pick_code(l));
        return;
    }
    switch (draw(l, 0, 15)) {
    case 0:
    case 1:
        set_code(l, pick_code(l));
        set_strobe(l, true);
        break;
    case 2:
    case 3:
        set_strobe(l, false);
        break;
    case 4:
        set_strobe(l, true);
        break;
    case 5:
    case 6:
        set_code(l, pick_code(l));
        break;
    case 7:
    case 8:
        set_inflection(l, draw(l, 0, 3));
        break;
    case 9:
        for (edges = draw(l, 2, 4); edges > 0; --edges) {
            set_code(l, pick_code(l));
            set_strobe(l, edges % 2 == 0);
            set_strobe(l, chance(l, 50));
        }
        break;
    default:
        write_code(l, pick_code(l));
        break;
    }
}

static void pick_mood(struct lockstep *l)
{
    unsigned lot = draw(l, 1, 100);

    l->mood_left = draw(l, 1, 60);
    if (lot <= 20) {
        l->mood = ANYTHING;
    } else if (lot <= 40) {
        l->mood = STOPS;
    } else if (lot <= 55) {
        l->mood = PAUSES;
    } else if (lot <= 65) {
        l->mood = ANSWER_REQUEST;
    } else if (lot <= 97) {
        l->mood = FLURRY;
    } else {
        l->mood = QUIET;
        l->mood_left = 1;
    }
}

/* One part for a stretch of time. */
static void try_part(struct lockstep *l, uint64_t cycles, enum slow_fault fault)
{
    bool is_default = l->default_cycles * 5 <= l->cycles * 2;
    uint64_t before = l->cycles;

    l->stretch_left = least(cycles, random_scale(&l->random, 20000, is_default ? 4000000 : 1000000));
    if (is_default) {
        power_up(l, hyoid_part_default(), fault);
    } else {
        hyoid_part part;

        random_part(&l->random, &part);
        power_up(l, &part, fault);
    }
    while (l->stretch_left > 0 && !l->differs) {
        if (l->mood_left == 0) {
            pick_mood(l);
        }
        l->mood_left -= 1;
        act(l);
        compare_promise(l);
        advance(l, least(pick_gap(l), l->stretch_left));
    }
    l->parts += 1;
    if (is_default) {
        l->default_cycles += l->cycles - before;
    }
}

static void try_parts(struct lockstep *l, uint64_t seed, uint64_t cycles, enum slow_fault fault)
{
    memset(l, 0, sizeof *l);
    l->random = seed;
    while (l->cycles < cycles && !l->differs) {
        try_part(l, cycles - l->cycles, fault);
    }
}

/* ------------------------------------------------------------------------------------------------
 * Report
 * --------------------------------------------------------------------------------------------- */

static void print_difference(const struct lockstep *l, uint64_t seed)
{
    uint64_t i = l->actions > HISTORY ? l->actions - HISTORY : 0;

    printf("lockstep: DIFFERENCE with seed %" PRIu64 ", part %" PRIu64 ", clock %" PRIu64 ": %s\n", seed, l->parts,
           l->slow.clock, l->what);
    printf("  core %s\n  slow %s\n", l->fast_text, l->slow_text);
    printf("  the last actions, each after this many clocks:\n");
    for (; i < l->actions; ++i) {
        const struct action *a = &l->history[i % HISTORY];

        printf("  %12" PRIu64 "  %s %" PRIu64, a->clock, deed_text[a->deed], a->value);
        if (a->deed == RUN) {
            printf(", capacity %zu", a->capacity);
        }
        printf("\n");
    }
}

static int compare_both(struct lockstep *l, uint64_t seed, uint64_t cycles, enum slow_fault fault)
{
    clock_t start = clock();
    int status = EXIT_SUCCESS;
    unsigned i;

    printf("lockstep: seed %" PRIu64 ", %" PRIu64 " clocks\n", seed, cycles);
    if (fault != SLOW_RIGHT) {
        printf("lockstep: the slow model is broken: %s\n", slow_fault_text(fault));
    }
    fflush(stdout);
    try_parts(l, seed, cycles, fault);
    if (l->differs) {
        print_difference(l, seed);
        return EXIT_FAILURE;
    }
    for (i = 0; i < EVENTS; ++i) {
        printf("  %9" PRIu64 "  %s\n", l->events[i], event_text[i]);
        if (l->events[i] == 0 && cycles >= COVERAGE_CYCLES) {
            printf("lockstep: the stimulus never reached this\n");
            status = EXIT_FAILURE;
        }
    }
    printf("lockstep: %" PRIu64 " clocks agree (%" PRIu64
           " of them with the default part, the others with random ones, %" PRIu64 " power-ups): %" PRIu64
           " strobes, %" PRIu64 " latches, %" PRIu64 " levels, %.1f s\n",
           l->cycles, l->default_cycles, l->parts, l->strobes, l->latches, l->taken,
           (double)(clock() - start) / CLOCKS_PER_SEC);
    return status;
}

/* Negative controls: every fault must show. */
static int try_faults(struct lockstep *l, uint64_t seed, uint64_t cycles)
{
    int status = EXIT_SUCCESS;
    int fault;

    printf("lockstep: seed %" PRIu64 ", each fault within %" PRIu64 " clocks\n", seed, cycles);
    for (fault = SLOW_RIGHT + 1; fault < SLOW_FAULTS; ++fault) {
        const char *text = slow_fault_text((enum slow_fault)fault);

        try_parts(l, seed, cycles, (enum slow_fault)fault);
        if (l->differs) {
            printf("  %2d  shown after %9" PRIu64 " clocks by %s: %s\n", fault, l->cycles, l->what, text);
        } else {
            printf("  %2d  NOT SHOWN: %s\n", fault, text);
            status = EXIT_FAILURE;
        }
    }
    printf("lockstep: %s\n", status == EXIT_SUCCESS ? "every fault shows" : "a fault does not show");
    return status;
}

static int usage(void)
{
    fprintf(stderr, "usage: lockstep [--cycles N] [--seed S] [--break K (1..%d) | --controls]\n", SLOW_FAULTS - 1);
    return 2;
}

int main(int argc, char **argv)
{
    static struct lockstep l;
    uint64_t cycles = 0;
    uint64_t seed = 1;
    uint64_t fault = SLOW_RIGHT;
    bool controls = false;
    int i;

    for (i = 1; i < argc; ++i) {
        uint64_t *number = NULL;
        char *end = NULL;

        if (strcmp(argv[i], "--controls") == 0) {
            controls = true;
            continue;
        }
        if (strcmp(argv[i], "--cycles") == 0) {
            number = &cycles;
        } else if (strcmp(argv[i], "--seed") == 0) {
            number = &seed;
        } else if (strcmp(argv[i], "--break") == 0) {
            number = &fault;
        }
        i += 1;
        if (number == NULL || i >= argc) {
            return usage();
        }
        *number = strtoull(argv[i], &end, 10);
        if (end == argv[i] || *end != '\0') {
            return usage();
        }
    }
    if (fault >= SLOW_FAULTS) {
        return usage();
    }
    if (controls) {
        return try_faults(&l, seed, cycles > 0 ? cycles : CONTROL_CYCLES);
    }
    return compare_both(&l, seed, cycles > 0 ? cycles : DEFAULT_CYCLES, (enum slow_fault)fault);
}
