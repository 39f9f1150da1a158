#include "pair.h"

#include "random_part.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

unsigned draw(struct lockstep *l, unsigned low, unsigned high)
{
    return (unsigned)random_between(&l->random, low, high);
}

bool chance(struct lockstep *l, unsigned percent)
{
    return draw(l, 1, 100) <= percent;
}

static uint64_t least(uint64_t a, uint64_t b)
{
    return a < b ? a : b;
}

uint64_t next_tick(const struct slow_chip *slow, uint64_t clock)
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

    same_number(l, "calls of a tap (slow: ticks)", l->tap_calls, l->tap_expected);
    if (l->tap_calls > 0 && l->tapped) {
        same_number(l, "clock of a tap's tick", l->tap_cycle, next_tick(slow, slow->clock) - l->part.filter_clocks);
        same_bits(l, "level at a tap", l->tap_level, slow->level);
    }
}

void compare_promise(struct lockstep *l)
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

uint64_t clock_of_n(const struct slow_chip *slow, uint32_t n)
{
    uint32_t so_far = slow->edge ? 0 : slow->n;
    uint64_t tick = next_tick(slow, slow->edge ? slow->clock + 1 : slow->clock);

    if ((!slow->edge && !slow->timer) || n <= so_far) {
        return 0;
    }
    return tick + (uint64_t)(n - so_far - 1) * slow->part->filter_clocks;
}

const hyoid_phoneme *coming_word(const struct slow_chip *slow)
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
        l->tap_expected += l->tapped;
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

void set_code(struct lockstep *l, unsigned code)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 6 : 0;

    note(l, SET_CODE, code, 0);
    l->events[CODE_WHILE_HIGH] += l->slow.strobe && code != l->slow.code;
    hyoid_chip_set_code(&l->fast, code | beyond);
    slow_set_code(&l->slow, code);
}

void set_inflection(struct lockstep *l, unsigned inflection)
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

void set_strobe(struct lockstep *l, bool strobe)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 1 : 0;

    note(l, SET_STROBE, strobe, 0);
    hyoid_chip_set_strobe(&l->fast, (strobe ? 1u : 0u) | beyond);
    slow_strobe(l, strobe);
}

void write_code(struct lockstep *l, unsigned code)
{
    unsigned beyond = chance(l, 10) ? draw(l, 0, 1000) << 6 : 0;

    note(l, WRITE, code, 0);
    hyoid_chip_write(&l->fast, code | beyond);
    slow_set_code(&l->slow, code);
    slow_strobe(l, false); /* a strobe that is held high is let go first, or there would be no edge */
    slow_strobe(l, true);
    slow_strobe(l, false);
}

static void take_tap(void *user, const hyoid_chip *chip, uint64_t cycle, double voice, double noise, double level)
{
    struct lockstep *l = user;

    (void)voice;
    same_bits(l, "noise at a tap (slow: the chip's n')", noise, chip->noise);
    l->tap_calls += 1;
    l->tap_cycle = cycle;
    l->tap_level = level;
}

/* A tap changes nothing; nor does a fault that is gone before the next clock. */
void meddle(struct lockstep *l)
{
    if (chance(l, 50)) {
        l->tapped = !l->tapped;
        l->tap_calls = l->tap_expected = 0;
        note(l, TAP, l->tapped, 0);
        hyoid_chip_set_tap(&l->fast, l->tapped ? take_tap : NULL, l);
    } else {
        hyoid_fault fault = (hyoid_fault)draw(l, 0, HYOID_FAULTS - 1);

        note(l, FAULT_ON_OFF, fault, 0);
        hyoid_chip_set_fault(&l->fast, fault, 1.0);
        hyoid_chip_set_fault(&l->fast, fault, 0.0);
    }
}

void power_up(struct lockstep *l, const hyoid_part *part, enum slow_mistake mistake)
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
    l->slow.mistake = mistake;
    l->promised = false;
    l->tapped = false;
    l->tap_calls = l->tap_expected = 0;
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

void advance(struct lockstep *l, uint64_t clocks)
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
