#include "stimulus.h"

#include <string.h>

#include "random.h"

enum { PERIOD_LEAST = 8, PERIOD_MOST = 60000 };

static uint64_t draw(hy_stimulus *s, uint64_t low, uint64_t high)
{
    return hy_draw(&s->random, low, high);
}

static unsigned held(double ns)
{
    return ns < PERIOD_LEAST ? PERIOD_LEAST : ns > PERIOD_MOST ? PERIOD_MOST : (unsigned)ns;
}

void hy_stimulus_init(hy_stimulus *s, uint64_t seed, uint64_t clocks, const hyoid_part *part)
{
    memset(s, 0, sizeof *s);
    s->random = seed;
    s->clocks = clocks;
    s->next = 2 + draw(s, 0, 2ull * part->filter_clocks);
    s->nominal = s->period = held(1e9 / part->nominal_hz);
}

/* ---- what is done to the pins ---- */

static uint32_t pins(const hy_stimulus *s)
{
    return s->period << 16 | s->strobe << 8 | s->inflection << 6 | s->code;
}

static void push(hy_stimulus *s)
{
    if (s->steps < HY_STEPS) {
        s->step[s->steps++] = pins(s);
    }
}

static void set_code(hy_stimulus *s, unsigned code)
{
    s->code = code;
    push(s);
}

static void set_strobe(hy_stimulus *s, unsigned level)
{
    if (level && !s->strobe) {
        s->last = (int)s->code;
    }
    s->strobe = level;
    push(s);
}

/* Short phonemes come more often: they end within a run. */
static unsigned pick_code(hy_stimulus *s, const hyoid_part *part)
{
    unsigned code = (unsigned)draw(s, 0, HYOID_PHONEMES - 1);
    for (uint64_t tries = draw(s, 0, 4); tries > 0; tries--) {
        const unsigned other = (unsigned)draw(s, 0, HYOID_PHONEMES - 1);
        if (part->phoneme[other].duration < part->phoneme[code].duration) {
            code = other;
        }
    }
    return code;
}

/* A rising edge, whatever strobe was before. */
static void edge(hy_stimulus *s, const hyoid_part *part)
{
    if (s->strobe) {
        set_strobe(s, 0);
    }
    set_code(s, pick_code(s, part));
    set_strobe(s, 1);
}

static void jump_period(hy_stimulus *s)
{
    /* mostly within an octave of the nominal one, now and then nearly at a standstill */
    s->period =
        held(draw(s, 0, 7) == 0 ? (double)s->nominal * 20.0 : (double)s->nominal * (double)draw(s, 50, 200) / 100.0);
    push(s);
}

static void act(hy_stimulus *s, const hyoid_part *part)
{
    switch (draw(s, 0, 13)) {
    case 0:
    case 1:
    case 2: /* a pulse shorter than the clock */
        edge(s, part);
        set_strobe(s, 0);
        break;
    case 3:
    case 4: /* strobe stays high until something lets go of it */
        edge(s, part);
        break;
    case 5: /* the code changes right behind the edge */
        edge(s, part);
        set_code(s, pick_code(s, part));
        break;
    case 6: /* two edges within one clock: the later code counts */
        edge(s, part);
        edge(s, part);
        set_strobe(s, (unsigned)draw(s, 0, 1));
        break;
    case 7: /* strobe and inflection together */
        s->inflection = (unsigned)draw(s, 0, HYOID_LEVELS - 1);
        push(s);
        edge(s, part);
        break;
    case 8:
        set_strobe(s, 0);
        break;
    case 9: /* a code alone means nothing */
        set_code(s, pick_code(s, part));
        break;
    case 10: /* high, if it was not */
        set_strobe(s, 1);
        break;
    case 11:
    case 12:
        s->inflection = (s->inflection + (unsigned)draw(s, 1, HYOID_LEVELS - 1)) % HYOID_LEVELS;
        push(s);
        break;
    default:
        jump_period(s);
        break;
    }
}

/* ---- and when ---- */

/* The clock after which nothing was planned yet is `now`; `chip` is the model with what was just done. */
static uint64_t pick_next(hy_stimulus *s, const hyoid_chip *chip, uint64_t now)
{
    const uint64_t filter = chip->part->filter_clocks;
    const uint64_t end = hyoid_chip_request_cycle(chip), fall = now + chip->part->request_delay;
    const uint64_t tick = chip->tick_at > now ? chip->tick_at : chip->tick_at + filter;
    uint64_t aim;
    switch (draw(s, 0, 15)) {
    case 0:
    case 1: /* in a row */
        return now + 1;
    case 2:
    case 3:
        return now + draw(s, 1, 4);
    case 4:
    case 5:
        aim = tick + filter * draw(s, 0, 2);
        break;
    case 6:
    case 7:
        aim = fall;
        break;
    case 8:
    case 9:
        return now + draw(s, 1, 4 * filter);
    case 10:
    case 11:
        return now + draw(s, 1, 100 * filter);
    case 12: /* cut short */
        return now + draw(s, 1, end != HYOID_NEVER && end > now ? end - now : filter * 100);
    case 13: /* well after request */
        return end != HYOID_NEVER ? end + draw(s, 1, 20 * filter) : now + draw(s, 1, 20 * filter);
    default:
        aim = end != HYOID_NEVER ? end : tick;
        break;
    }
    /* one clock early, right there, or one late; twice as often right there */
    aim = aim - 1 + (draw(s, 0, 1) ? 1 : draw(s, 0, 2));
    return aim > now ? aim : now + 1;
}

void hy_stimulus_follow(hy_stimulus *s, hy_pair *pair)
{
    if (pair->clock + 1 >= s->next) {
        s->steps = s->at = 0;
        s->last = -1;
        act(s, &pair->part);
        hy_pair_settle(pair);
        hyoid_chip chip = pair->chip;
        if (s->last >= 0) {
            hyoid_chip_write(&chip, (unsigned)s->last);
        }
        s->next = pick_next(s, &chip, pair->clock + 1);
    }
    const uint64_t until = s->next - 1 < s->clocks ? s->next - 1 : s->clocks;
    const uint64_t most = until > pair->clock ? until - 1 - pair->clock : 0;
    pair->ahead = pair->ahead < most ? pair->ahead : most;
}

unsigned hy_stimulus_pending(const hy_stimulus *s)
{
    return s->steps - s->at;
}

uint32_t hy_stimulus_take(hy_stimulus *s)
{
    return s->at < s->steps ? s->step[s->at++] : pins(s);
}
