#include "board.h"

#include <string.h>

#include "ticks.h"

static int check(hy_board *b, hyoid_status status)
{
    return status == HYOID_OK ? 0 : hy_fail(b->diag, "the chip model: %s", hyoid_status_text(status));
}

static int write_down(hy_board *b, uint64_t tick, hy_signal signal, int number)
{
    hy_event event = {.ps = hy_ticks_ps(tick, b->mcu_hz, NULL), .signal = (int32_t)signal, .number = number};
    if (b->by_edges && tick > 0) {
        return hy_clocklog_event(&b->clocklog, tick, &event);
    }
    return hy_log_append(b->log, &event, 0, b->diag);
}

static unsigned code(const hy_board *b)
{
    unsigned value = 0;
    for (unsigned pin = HY_P0; pin <= HY_P5; pin++) {
        value |= (unsigned)b->level[pin] << pin;
    }
    return value;
}

static unsigned inflection(const hy_board *b)
{
    return b->level[HY_I0] | (unsigned)b->level[HY_I1] << 1;
}

/* ---- a chip that is clocked by edges ---- */

/* Brings the chip to the present clock. */
static void catch_up(hy_board *b)
{
    hyoid_chip_step(&b->chip, b->edges - b->chip.cycle);
}

/* The clock in which the latch acts or request changes. */
static void look_ahead(hy_board *b)
{
    const hyoid_chip *chip = &b->chip;
    uint64_t rise = hyoid_chip_request_cycle(chip);
    b->due = chip->fall_at < rise ? chip->fall_at : rise;
    b->due = chip->caught && chip->cycle + 1 < b->due ? chip->cycle + 1 : b->due;
}

int hy_board_edge(hy_board *b, uint64_t tick)
{
    tick = b->edges > 0 && tick <= b->last_edge ? b->last_edge + 1 : tick; /* never two at once */
    uint64_t period = tick - b->last_edge;
    b->edges++;
    b->last_edge = tick;
    if (period != b->period) {
        b->period = period;
        b->stirred = tick;
    }
    if (b->edges >= b->due) {
        catch_up(b);
        look_ahead(b);
        int level = hyoid_chip_request(&b->chip);
        b->stirred = level != b->request ? tick : b->stirred;
        b->request = level;
    }
    return hy_clocklog_edge(&b->clocklog, tick);
}

/* ---- a chip with a clock of its own ---- */

typedef struct change {
    int seen, level;
    int64_t ps;
} change;

static void first_change(void *user, uint64_t cycle, int64_t ps, int level)
{
    change *c = user;
    (void)cycle;
    if (!c->seen) {
        *c = (change){1, level, ps};
    }
}

/* Lets a copy of the chip go on to see when request will change. */
static int foresee(hy_board *b, change *c)
{
    hyoid_stream ahead = b->stream;
    ahead.observer = (hyoid_observer){.user = c, .request = first_change};
    double hz = hyoid_stream_clock_hz(&ahead);
    uint64_t cycle = ahead.chip.cycle;
    uint64_t rise = hyoid_chip_request_cycle(&ahead.chip);
    uint64_t fall = ahead.chip.caught ? cycle + 1 + ahead.chip.part->request_delay : ahead.chip.fall_at;
    uint64_t last = fall < rise && hyoid_chip_request(&ahead.chip) ? fall : rise;
    if (last == HYOID_NEVER || !(hz > 0.0)) {
        return 0;
    }
    double ps = (double)(last - cycle + 2) * 1e12 / hz;
    if (ps > (double)(HYOID_TIME_MAX - ahead.now) * 0.5) {
        return 0;
    }
    return check(b, hyoid_stream_run(&ahead, ahead.now + (int64_t)ps + 1));
}

int hy_board_next_request(hy_board *b, uint64_t tick, uint64_t *cycle)
{
    *cycle = UINT64_MAX;
    if (check(b, hyoid_stream_run(&b->stream, hy_ticks_ps(tick, b->mcu_hz, NULL))) != 0) {
        return -1;
    }
    if (hyoid_chip_request(&b->stream.chip) != b->request) {
        *cycle = tick / HY_TICKS + 1; /* it has changed while the strobe was on its way */
        return 0;
    }
    change c = {0};
    if (foresee(b, &c) != 0) {
        return -1;
    }
    if (c.seen) {
        uint64_t shown = hy_ticks_cycle(c.ps + 1, b->mcu_hz); /* the first whole picosecond after the clock's edge */
        *cycle = shown > tick / HY_TICKS ? shown : tick / HY_TICKS + 1;
    }
    return 0;
}

void hy_board_show_request(hy_board *b, uint64_t cycle)
{
    b->request = !b->request;
    b->stirred = cycle * HY_TICKS;
}

/* ---- inputs ---- */

static void account(hy_board *b, uint64_t tick, hy_pin pin)
{
    hy_strobing *s = &b->strobing;
    if (pin <= HY_P5) {
        uint64_t hold = (tick - b->strobe_rose) / HY_TICKS;
        b->code_changed = tick;
        s->least_hold = s->strobes > 0 && hold < s->least_hold ? hold : s->least_hold;
    } else if (pin == HY_STROBE && b->level[HY_STROBE]) {
        uint64_t setup = (tick - b->code_changed) / HY_TICKS;
        b->strobe_rose = tick;
        s->strobes++;
        s->least_setup = setup < s->least_setup ? setup : s->least_setup;
    } else if (pin == HY_STROBE && s->strobes > 0) {
        uint64_t width = (tick - b->strobe_rose) / HY_TICKS;
        s->least_width = width < s->least_width ? width : s->least_width;
    }
}

static int drive(hy_board *b, uint64_t tick, hy_pin pin)
{
    int64_t ps = hy_ticks_ps(tick, b->mcu_hz, NULL);
    if (b->by_edges) {
        catch_up(b);
        if (pin <= HY_P5) {
            hyoid_chip_set_code(&b->chip, code(b));
        } else if (pin == HY_STROBE) {
            hyoid_chip_set_strobe(&b->chip, b->level[pin]);
            look_ahead(b);
        } else {
            hyoid_chip_set_inflection(&b->chip, inflection(b));
        }
        return 0;
    }
    return check(b, pin <= HY_P5       ? hyoid_stream_set_code(&b->stream, ps, code(b))
                    : pin == HY_STROBE ? hyoid_stream_set_strobe(&b->stream, ps, b->level[pin])
                                       : hyoid_stream_set_inflection(&b->stream, ps, inflection(b)));
}

int hy_board_pin(hy_board *b, uint64_t tick, hy_pin pin, int level)
{
    if (pin == HY_STROBE && !b->strobe_known) {
        b->strobe_known = !level;
        return 0;
    }
    if (b->level[pin] == level) {
        return 0;
    }
    b->level[pin] = (uint8_t)level;
    b->stirred = tick;
    account(b, tick, pin);
    return write_down(b, tick, HY_PIN, (int)pin * 2 + level) != 0 ? -1 : drive(b, tick, pin);
}

/* ---- beginning and end ---- */

int hy_board_init(hy_board *b, const hyoid_part *part, uint32_t mcu_hz, double clock_hz, const uint8_t level[HY_PINS],
                  hy_log *log, hy_diag *diag)
{
    memset(b, 0, sizeof *b);
    b->mcu_hz = mcu_hz;
    b->log = log;
    b->diag = diag;
    b->by_edges = clock_hz < 0.0;
    b->request = 1;
    b->due = HYOID_NEVER;
    b->strobe_known = !level[HY_STROBE];
    b->strobing = (hy_strobing){0, UINT64_MAX, UINT64_MAX, UINT64_MAX};
    b->level[HY_I0] = level[HY_I0];
    b->level[HY_I1] = level[HY_I1];
    if (b->by_edges) {
        if (hy_clocklog_init(&b->clocklog, log, mcu_hz, diag) != 0 ||
            check(b, hyoid_chip_init(&b->chip, part)) != 0) {
            return -1;
        }
        hyoid_chip_set_inflection(&b->chip, inflection(b));
    } else {
        const hy_event clock = {.signal = HY_CLOCK, .hz = clock_hz};
        if (hy_log_append(log, &clock, 0, diag) != 0 || check(b, hyoid_stream_init(&b->stream, part, 0, NULL)) != 0 ||
            check(b, hyoid_stream_set_clock(&b->stream, 0, clock_hz)) != 0 ||
            check(b, hyoid_stream_set_inflection(&b->stream, 0, inflection(b))) != 0) {
            return -1;
        }
    }
    if (write_down(b, 0, HY_INFLECTION, (int)inflection(b)) != 0) {
        return -1;
    }
    for (int pin = HY_P0; pin <= HY_P5; pin++) {
        if (hy_board_pin(b, 0, (hy_pin)pin, level[pin]) != 0) {
            return -1;
        }
    }
    return 0;
}

void hy_board_free(hy_board *b)
{
    hy_clocklog_free(&b->clocklog);
}

int hy_board_idle(const hy_board *b, uint64_t tick, uint64_t ticks)
{
    if (tick - b->stirred < ticks) {
        return 0;
    }
    if (b->by_edges) {
        return b->due == HYOID_NEVER || tick - b->last_edge >= ticks;
    }
    const hyoid_chip *chip = &b->stream.chip;
    return !(hyoid_stream_clock_hz(&b->stream) > 0.0) ||
           (!chip->caught && hyoid_chip_request_cycle(chip) == HYOID_NEVER);
}

int hy_board_finish(hy_board *b, uint64_t tick, uint64_t end)
{
    if (b->by_edges && hy_clocklog_finish(&b->clocklog, tick) != 0) {
        return -1;
    }
    int64_t ps = hy_ticks_ps(end, b->mcu_hz, NULL), last = hy_log_end(b->log);
    const hy_event event = {.ps = ps > last ? ps : last, .signal = HY_END};
    return hy_log_append(b->log, &event, 0, b->diag);
}
