/* The first reading of a capture: the clock's story, and request, which says in which clock things happened. */
#include <math.h>

#include "capture_private.h"

typedef struct first_reading {
    hy_capture *c;
    hy_stated_clock stated;
    int level, request; /* of the clock's pin and of request; -1: not known yet */
} first_reading;

static int hear_hz(first_reading *f, const hy_vcd_change *change)
{
    if (isnan(change->real)) { /* Icarus says so within $dumpoff */
        return 0;
    }
    if (!(change->real >= 0.0 && change->real <= HYOID_CLOCK_MAX)) {
        return hy_waves_refuse(f->c->reader, "a frequency in Hz, 0 to 100000000");
    }
    return hy_stated_clock_add(&f->stated, hy_capture_shifted(f->c, change->ps), change->real);
}

static int hear_clock(first_reading *f, const hy_vcd_change *change, int level)
{
    int rises = f->level != 1 && level == 1 && !hy_capture_is_start(f->c, change->ps);
    f->level = level;
    return rises ? hy_counted_clock_edge(&f->c->counted, hy_capture_shifted(f->c, change->ps)) : 0;
}

static int hear_request(first_reading *f, const hy_vcd_change *change, int level)
{
    if (level == f->request) {
        return 0;
    }
    f->request = level;
    const hy_event event = {.ps = hy_capture_shifted(f->c, change->ps), .signal = HY_PIN, .number = level};
    return hy_log_append(f->c->request, &event, 0, f->c->diag);
}

static int hear(void *user, const hy_vcd_change *change)
{
    first_reading *f = user;
    const hy_wire *wire = f->c->map.wire;
    const hy_wire *hz = &wire[HY_WIRE_HZ];
    if (hz->mapped && hz->signal == change->signal) {
        return hear_hz(f, change);
    }
    for (int i = HY_WIRE_REQUEST; i <= HY_WIRE_CLOCK; i++) {
        char digit = wire[i].mapped && wire[i].signal == change->signal ? hy_wire_level(&wire[i], change) : 'x';
        if (digit > '1') {
            continue; /* unknown: the level that was known last */
        }
        int failed = 0;
        if (i == HY_WIRE_CLOCK) {
            failed = hear_clock(f, change, digit - '0');
        } else if (f->c->request != NULL) {
            failed = hear_request(f, change, digit - '0');
        }
        if (failed) {
            return -1;
        }
    }
    return 0;
}

static int end_clock(first_reading *f, int64_t end)
{
    hy_capture *c = f->c;
    const hy_event last = {.ps = end, .signal = HY_END};
    if (c->map.wire[HY_WIRE_HZ].mapped) {
        if (hy_stated_clock_end(&f->stated) != 0) {
            return -1;
        }
    } else if (hy_counted_clock_end(&c->counted, end) != 0) {
        return -1;
    } else if (c->counted.pieces == 0) {
        return hy_fail(c->diag,
                       "%s: %s, the clock, does not toggle at 100 Hz or more; a clock pin that does, or none and "
                       "--clock HZ would be right",
                       c->name, hy_waves_name(c->reader, c->map.wire[HY_WIRE_CLOCK].var).text);
    }
    return hy_log_end(c->clock) > end ? 0 : hy_log_append(c->clock, &last, 0, c->diag);
}

int hy_capture_first(hy_capture *c)
{
    const hy_wire *wire = c->map.wire;
    first_reading f = {.c = c, .level = -1, .request = -1};
    c->clock = hy_log_new(c->diag);
    c->request = wire[HY_WIRE_HZ].mapped && wire[HY_WIRE_REQUEST].mapped ? hy_log_new(c->diag) : NULL;
    if (c->diag->text[0] != '\0') {
        return -1;
    }
    f.stated = (hy_stated_clock){.log = c->clock, .diag = c->diag, .step = hy_waves_step(c->reader)};
    c->counted = (hy_counted_clock){.log = c->clock, .diag = c->diag};
    for (int i = HY_WIRE_REQUEST; i < HY_WIRES; i++) {
        if (wire[i].mapped) {
            hy_waves_select(c->reader, wire[i].var);
        }
    }
    const hy_vcd_listener listener = {.user = &f, .change = hear};
    if (hy_waves_run(c->reader, &listener, c->diag) != 0) {
        return -1;
    }
    return end_clock(&f, hy_capture_shifted(c, hy_waves_last(c->reader)));
}
