#include "stimulus.h"

#include "random_part.h"

#include <string.h>

static uint64_t least(uint64_t a, uint64_t b)
{
    return a < b ? a : b;
}

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
static void try_part(struct lockstep *l, uint64_t cycles, enum slow_mistake mistake)
{
    bool is_default = l->default_cycles * 5 <= l->cycles * 2;
    uint64_t before = l->cycles;

    l->stretch_left = least(cycles, random_scale(&l->random, 20000, is_default ? 4000000 : 1000000));
    if (is_default) {
        power_up(l, hyoid_part_default(), mistake);
    } else {
        hyoid_part part;

        random_part(&l->random, &part);
        power_up(l, &part, mistake);
    }
    while (l->stretch_left > 0 && !l->differs) {
        if (l->mood_left == 0) {
            pick_mood(l);
        }
        l->mood_left -= 1;
        act(l);
        if (chance(l, 3)) {
            meddle(l);
        }
        compare_promise(l);
        advance(l, least(pick_gap(l), l->stretch_left));
    }
    l->parts += 1;
    if (is_default) {
        l->default_cycles += l->cycles - before;
    }
}

void try_parts(struct lockstep *l, uint64_t seed, uint64_t cycles, enum slow_mistake mistake)
{
    memset(l, 0, sizeof *l);
    l->random = seed;
    while (l->cycles < cycles && !l->differs) {
        try_part(l, cycles - l->cycles, mistake);
    }
}
