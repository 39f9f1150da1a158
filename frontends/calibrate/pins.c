#include "pins.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../timing/measure.h"
#include "input.h"
#include "kind.h"

#define PPM                                                                                                          \
    100.0 /* to how much a clock is known that the capture doesn't show: counters and recorders (common practice) */

/* Request rises on filter cycles, whatever the host does, so that a wrong clock gives itself away. */
static int must_fit(const hy_pins *pins, const hy_timing *t, double hz, hy_diag *diag)
{
    enum { FEW = 8, SHARE = 4 };
    if (t->spans < FEW || t->spans_off <= t->spans / SHARE) {
        return 0;
    }
    return hy_fail(
        diag,
        "%s: at a clock of %.9g Hz %lu of %lu times from one rise of request to the next are no whole filter "
        "cycles; the chip's own clock, measured, would be right",
        pins->path, hz, t->spans_off, t->spans);
}

static void take(hy_pins *pins, const hy_timing *t)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hy_whole *w = &t->cycles[code];
        if (w->n > 0 && w->least >= 1 && w->least <= w->most && w->most <= UINT16_MAX) {
            pins->least[code] = (unsigned)w->least;
            pins->most[code] = (unsigned)w->most;
            pins->exact += w->least == w->most;
            pins->narrowed += w->least != w->most;
        } else {
            pins->contradicted += w->n > 0 && w->least > w->most;
        }
    }
    if (t->delay.n > 0 && t->delay.least <= t->delay.most) {
        pins->delay_least = (int)t->delay.least;
        pins->delay_most = (int)t->delay.most;
    }
}

static int measure(hy_pins *pins, hy_timing *t, FILE *in, const hy_partfile *prior, double clock_hz, hy_diag *diag)
{
    const hy_timing_options options = {.map = pins->map, .clock_hz = clock_hz, .clock_ppm = PPM, .skew_ps = -1};
    if (hy_timing_measure(t, in, pins->path, prior, &options, diag) != 0) {
        return -1;
    }
    if (t->strobes == 0) {
        return hy_fail(diag, "%s: strobe never rises; a capture of the pins while the chip speaks would be right",
                       pins->path);
    }
    const int shown = t->clock_by == HY_CLOCK_STATED || t->clock_by == HY_CLOCK_COUNTED;
    pins->strobes = (unsigned long)t->strobes;
    if (shown || clock_hz > 0.0) {
        pins->measured = 1;
        pins->with_hz = shown ? 0.0 : clock_hz;
        pins->clock_hz = shown && !t->clock_moved ? t->clock_hz : 0.0;
        pins->clock_from = hy_clock_by_text(t->clock_by);
        take(pins, t);
        return must_fit(pins, t, t->clock_hz, diag);
    }
    return 0;
}

int hy_pins_measure(hy_pins *pins, const hy_partfile *prior, double clock_hz, hy_diag *diag)
{
    *pins = (hy_pins){.path = pins->path, .map = pins->map, .delay_least = -1, .delay_most = -1};
    FILE *in = hy_input_open(pins->path, pins->path, diag);
    if (in == NULL) {
        return -1;
    }
    const hy_kind kind = hy_kind_look(in, pins->path);
    hy_timing *t = malloc(sizeof *t);
    int status = -1;
    if (t == NULL) {
        hy_fail(diag, "not enough memory to read %s", pins->path);
    } else if (kind == HY_KIND_CAPTURE ||
               hy_kind_refuse(pins->path, kind, "a capture (.vcd, .sr or .csv)", diag) == 0) {
        status = measure(pins, t, in, prior, clock_hz, diag);
    }
    free(t);
    fclose(in);
    return status;
}

unsigned hy_pins_duration(const hy_pins *pins, unsigned code, double near)
{
    const unsigned low = pins->least[code], high = pins->most[code];
    if (!pins->measured || low == 0) {
        return 0;
    }
    return near <= low ? low : near >= high ? high : (unsigned)lround(near);
}

int hy_pins_delay(const hy_pins *pins)
{
    return pins->measured && pins->delay_least == pins->delay_most ? pins->delay_least : -1;
}

hy_pins_text hy_pins_say(const hy_pins *pins)
{
    hy_pins_text said = {""};
    char delay_text[80] = "request's delay not told: sample faster";
    char clock_text[80] = "";
    if (!pins->measured) {
        snprintf(said.text, sizeof said.text,
                 "%.300s: shows no clock, and no recording told one: nothing was taken from it", pins->path);
        return said;
    }
    if (hy_pins_delay(pins) >= 0) {
        snprintf(delay_text, sizeof delay_text, "request's delay %d clock%s", hy_pins_delay(pins),
                 hy_pins_delay(pins) == 1 ? "" : "s");
    }
    if (pins->clock_hz > 0.0) {
        snprintf(clock_text, sizeof clock_text, "clock %.1f Hz, ", pins->clock_hz);
    }
    int used =
        snprintf(said.text, sizeof said.text,
                 "%.300s: %s%s; %lu strobes; durations of %u codes exact, of %u to a cycle or more; %s", pins->path,
                 clock_text, pins->clock_from, pins->strobes, pins->exact, pins->narrowed, delay_text);
    if (pins->contradicted > 0 && used > 0 && (size_t)used < sizeof said.text) {
        used += snprintf(said.text + used, sizeof said.text - (size_t)used,
                         "; of %u the measurements contradict each other: not taken", pins->contradicted);
    }
    if (pins->differing > 0 && used > 0 && (size_t)used < sizeof said.text) {
        snprintf(said.text + used, sizeof said.text - (size_t)used,
                 "; %u of these last otherwise in the recordings: the capture holds", pins->differing);
    }
    return said;
}
