/* From a capture to a write log. With a clock in it the capture is read twice: the clock's story first, as what a glide's
 * beginning was shows later, then the pins, with the clock's events among them. */
#include "capture.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture_private.h"
#include "text.h"

#define CHANGES_MAX 50000000u /* as the rows of a write log */

static_assert(HY_VCD_TIME_MAX <= HYOID_TIME_MAX, "every time in a dump must fit a stream");

enum { CODE_BITS = 0x3f, LEVEL_SHIFT = HY_I0, STROBE_BIT = 1 << HY_STROBE };

/* ---- opening ---- */

/* Reads what stands ahead of the changes, each time anew: the file may have changed. */
static int open_dump(hy_capture *c, const char *map)
{
    hy_waves_close(c->reader);
    rewind(c->in);
    c->reader = hy_waves_open(c->in, c->name, c->rate, c->diag);
    return c->reader != NULL ? hy_capture_map_find(&c->map, map, 0, c->reader, c->name, c->diag) : -1;
}

/* ---- second reading: pins ---- */

typedef struct second_reading {
    hy_capture *c;
    hy_log *log;
    hy_placer placer;
    hy_event clock; /* the next of the clock's story */
    int clock_more, clock_arrives;
    int64_t clock_told; /* time of the last event */
    uint64_t events;
    /* what happened in the time stamp `ps` so far; it is told when the next one comes */
    int64_t ps;
    unsigned next, unknown; /* levels to be, by hy_pin; unknown: x or z, 0 in `next` */
    int mark, marks;        /* first and number of its marks */
    /* what the log says */
    unsigned levels;
    int started;
    uint64_t strobes, doubtful; /* doubtful: with an x or z on a pin of the code */
} second_reading;

/* What was moved within its time stamp may have come behind what follows. */
static int append(second_reading *s, int64_t ps, hy_signal signal, int number)
{
    int64_t last = hy_log_end(s->log);
    const hy_event event = {.ps = ps > last ? ps : last, .signal = (int32_t)signal, .number = number};
    if (++s->events > CHANGES_MAX) {
        return hy_fail(s->c->diag, "%s: more than %u changes of pins; a shorter capture would be right", s->c->name,
                       CHANGES_MAX);
    }
    return hy_log_append(s->log, &event, 0, s->c->diag);
}

static int clock_due(const second_reading *s, int64_t ps)
{
    return s->clock_more == 1 && s->clock.signal == HY_CLOCK && s->clock.ps <= ps;
}

static int clock_jumps(const second_reading *s)
{
    return !s->clock_arrives && s->clock.hz != s->placer.hz;
}

static int append_clock(second_reading *s, int64_t ps)
{
    hy_event event = s->clock;
    int64_t last = hy_log_end(s->log);
    event.ps = ps > last ? ps : last;
    int arrives = s->clock_arrives && event.ps > s->clock_told; /* in no time it can only jump */
    if (hy_placer_clock(&s->placer, &event, arrives, s->c->diag) != 0) {
        return -1;
    }
    s->clock_told = event.ps;
    s->clock_arrives = event.to_ps > s->clock.ps;
    if (hy_log_append(s->log, &event, arrives, s->c->diag) != 0) {
        return -1;
    }
    s->clock_more = hy_log_next(s->c->clock, &s->clock, s->c->diag);
    return s->clock_more < 0 ? -1 : 0;
}

/* Tells the clock up to the time stamp ps, whose pins act at `placed`: a jump in that very stamp happens with them, the end of a
 * glide before. */
static int clock_up_to(second_reading *s, int64_t ps, int64_t placed)
{
    while (clock_due(s, ps)) {
        int now = s->clock.ps == ps;
        int64_t at = placed;
        if (!(now && clock_jumps(s))) {
            if (hy_placer_instant(&s->placer, s->clock.ps, s->clock_arrives, &at, s->c->diag) != 0) {
                return -1;
            }
            at = now && at > placed ? placed : at;
        }
        if (append_clock(s, at) != 0) {
            return -1;
        }
    }
    return 0;
}

/* Both pins are one event; a pin alone leaves the other to --level. */
static int tell_inflection(second_reading *s, int64_t ps, unsigned changed)
{
    const hy_wire *wire = s->c->map.wire;
    if (wire[HY_I0].mapped && wire[HY_I1].mapped) {
        return (changed >> LEVEL_SHIFT & 3) != 0 ? append(s, ps, HY_INFLECTION, (int)(s->next >> LEVEL_SHIFT & 3))
                                                 : 0;
    }
    for (int i = HY_I0; i <= HY_I1; i++) {
        if (wire[i].mapped && (changed >> i & 1) != 0 &&
            append(s, ps, HY_PIN, i * 2 + (int)(s->next >> i & 1)) != 0) {
            return -1;
        }
    }
    return 0;
}

static int tell_group(second_reading *s)
{
    int64_t ps = s->ps;
    int64_t placed = ps;
    unsigned changed = s->next ^ s->levels;
    unsigned rises = changed & s->next & STROBE_BIT;
    if (!s->started) { /* a strobe that is high already rose before the capture */
        changed = (changed & ~(unsigned)STROBE_BIT) | 3u << LEVEL_SHIFT;
        rises = 0;
        s->started = 1;
    }
    if (clock_up_to(s, ps - 1, ps - 1) != 0) {
        return -1;
    }
    int jumps = clock_due(s, ps) && clock_jumps(s);
    if ((rises != 0 && hy_placer_strobe(&s->placer, ps, jumps ? s->clock.hz : 0.0, &placed, s->c->diag) != 0) ||
        (rises == 0 && jumps && hy_placer_instant(&s->placer, ps, 0, &placed, s->c->diag) != 0) ||
        clock_up_to(s, ps, placed) != 0) {
        return -1;
    }
    for (; s->marks > 0; s->marks--) {
        if (append(s, placed, HY_MARK, s->mark++) != 0) {
            return -1;
        }
    }
    if (tell_inflection(s, placed, changed) != 0) {
        return -1;
    }
    for (int i = 0; i <= HY_STROBE; i++) { /* strobe comes last: the code of its own time stamp counts */
        if ((i < HY_I0 || i == HY_STROBE) && (changed >> i & 1) != 0 &&
            append(s, placed, HY_PIN, i * 2 + (int)(s->next >> i & 1)) != 0) {
            return -1;
        }
    }
    s->strobes += rises != 0;
    s->doubtful += rises != 0 && (s->unknown & CODE_BITS) != 0;
    s->levels = s->next;
    return 0;
}

/* Something happens in the time stamp ps (before the shift). */
static int come_to(second_reading *s, int64_t ps)
{
    int64_t now = hy_capture_shifted(s->c, ps);
    if (now == s->ps) {
        return 0;
    }
    int result = tell_group(s);
    s->ps = now;
    return result;
}

static int see(void *user, const hy_vcd_change *change)
{
    second_reading *s = user;
    const hy_wire *wire = s->c->map.wire;
    if (come_to(s, change->ps) != 0) {
        return -1;
    }
    for (int i = 0; i < HY_PINS; i++) {
        if (!wire[i].mapped || wire[i].signal != change->signal) {
            continue;
        }
        char digit = hy_wire_level(&wire[i], change);
        unsigned bit = 1u << i;
        s->unknown = digit > '1' ? s->unknown | bit : s->unknown & ~bit;
        if (digit <= '1' || i < HY_I0) { /* an unknown bit of the code reads as 0; other pins keep their level */
            s->next = digit == '1' ? s->next | bit : s->next & ~bit;
        }
    }
    return 0;
}

/* A name as a write log may have it. */
static int is_mark(const char *name)
{
    size_t left = strlen(name);
    if (hy_text_columns(name, left) > 64) {
        return 0;
    }
    for (size_t length = 0; left > 0; name += length, left -= length) {
        if (hy_text_bad(name, left, &length) != NULL) {
            return 0;
        }
    }
    return 1;
}

/* "mark NAME", as hyoid writes it. */
static int see_comment(void *user, int64_t ps, const char *text)
{
    static const char word[] = "mark ";
    second_reading *s = user;
    const char *name = text + sizeof word - 1;
    if (strncmp(text, word, sizeof word - 1) != 0 || !is_mark(name)) {
        return 0;
    }
    if (come_to(s, ps) != 0) {
        return -1;
    }
    int index = hy_log_add_mark(s->log, name, s->c->diag);
    s->mark = s->marks == 0 ? index : s->mark;
    s->marks++;
    return index < 0 ? -1 : 0;
}

static int start_clock(second_reading *s, const hyoid_part *part)
{
    hy_capture *c = s->c;
    s->placer = (hy_placer){.step = hy_waves_step(c->reader), .delay = part->request_delay};
    if (c->clock == NULL) {
        return 0;
    }
    hy_log_rewind(c->clock, c->diag);
    s->clock_more = hy_log_next(c->clock, &s->clock, c->diag);
    /* the phase is known if the frequency is from the start, and exact */
    s->placer.active = c->map.wire[HY_WIRE_HZ].mapped && clock_due(s, 0) && s->placer.step > 1;
    if (c->request != NULL) {
        hy_log_rewind(c->request, c->diag);
        s->placer.request = c->request;
        s->placer.more = hy_log_next(c->request, &s->placer.next, c->diag);
    }
    return s->clock_more < 0 || s->placer.more < 0 ? -1 : 0;
}

static int read_pins(second_reading *s, const hyoid_part *part)
{
    hy_capture *c = s->c;
    for (int i = 0; i < HY_PINS; i++) {
        if (c->map.wire[i].mapped) {
            hy_waves_select(c->reader, c->map.wire[i].var);
            s->unknown |= 1u << i;
        }
    }
    const hy_vcd_listener listener = {.user = s, .change = see, .comment = see_comment};
    if (start_clock(s, part) != 0 || hy_waves_run(c->reader, &listener, c->diag) != 0) {
        return -1;
    }
    int64_t end = hy_capture_shifted(c, hy_waves_last(c->reader));
    return tell_group(s) != 0 || clock_up_to(s, end, end) != 0 ? -1 : append(s, end, HY_END, 0);
}

/* ---- all of it ---- */

static void say_all(const second_reading *s, hy_capture_note *note)
{
    const hy_capture *c = s->c;
    hy_capture_map_tell(&c->map, c->reader, c->name, ", clock by --clock", note);
    if (c->map.wire[HY_WIRE_CLOCK].mapped) {
        hy_capture_say(note, "note: %s: the clock is approximate: the mean over 10 ms, %.6g..%.6g kHz\n", c->name,
                       c->counted.least * 1e-3, c->counted.most * 1e-3);
    }
    if (s->strobes == 0) {
        hy_capture_say(note, "note: %s: strobe never rises\n", c->name);
    }
    if (s->doubtful > 0) {
        hy_capture_say(
            note, "note: %s: at %" PRIu64 " of %" PRIu64 " strobes a bit of the code was x or z; it was read as 0\n",
            c->name, s->doubtful, s->strobes);
    }
}

static hy_log *read_all(hy_capture *c, const char *map, const hyoid_part *part, hy_capture_note *note)
{
    if (open_dump(c, map) != 0) {
        return NULL;
    }
    if ((c->map.wire[HY_WIRE_CLOCK].mapped || c->map.wire[HY_WIRE_HZ].mapped) &&
        (hy_capture_first(c) != 0 || open_dump(c, map) != 0)) {
        return NULL;
    }
    second_reading s = {.c = c, .log = hy_log_new(c->diag)};
    if (s.log != NULL && read_pins(&s, part) != 0) {
        hy_log_free(s.log);
        s.log = NULL;
    }
    if (s.log != NULL) {
        say_all(&s, note);
    }
    return s.log;
}

hy_log *hy_capture_read(FILE *in, const char *name, const char *map, const hyoid_part *part, hy_capture_note *note,
                        hy_diag *diag)
{
    hy_capture c = {.in = in, .name = name, .diag = diag};
    *note = (hy_capture_note){{0}};
    char *text = NULL;
    hy_log *log = NULL;
    if (hy_capture_map_text(map, &text, &c.rate, diag) == 0) {
        log = read_all(&c, text, part, note);
    }
    free(text);
    hy_waves_close(c.reader);
    hy_log_free(c.clock);
    hy_log_free(c.request);
    return log;
}
