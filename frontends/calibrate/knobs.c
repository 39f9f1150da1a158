#include "knobs.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

/* How a knob turns. */
typedef enum knob_kind { FACTOR, TILT, OPENING, CLOSING } knob_kind;

typedef struct knob {
    knob_kind kind;
    size_t first, second; /* offsets in hyoid_part; equal: one field */
    double unit;          /* a field's relative change for a turn of 1 */
} knob;

#define AT(field) offsetof(hyoid_part, field)

static const knob knobs[HY_REAL_KNOBS] = {
    {FACTOR, AT(f1.k0), AT(f1.ks), 1},
    {TILT, AT(f1.k0), AT(f1.ks), 3},
    {FACTOR, AT(f2.k0), AT(f2.ks), 1},
    {TILT, AT(f2.k0), AT(f2.ks), 3},
    {FACTOR, AT(f3.k0), AT(f3.ks), 1},
    {TILT, AT(f3.k0), AT(f3.ks), 3},
    {FACTOR, AT(f4_k), AT(f4_k), 1},
    {FACTOR, AT(f1.k6), AT(f1.k6), 8},
    {FACTOR, AT(f2.k6), AT(f2.k6), 8},
    {FACTOR, AT(f2_k6_step), AT(f2_k6_step), 8},
    {FACTOR, AT(f3.k6), AT(f3.k6), 8},
    {FACTOR, AT(f4_k6), AT(f4_k6), 8},
    {FACTOR, AT(f4_feed), AT(f4_feed), 8},
    {OPENING, 0, 0, 3},
    {CLOSING, 0, 0, 3},
    {FACTOR, AT(pulse_unit), AT(pulse_unit), 8},
    {FACTOR, AT(noise_f2), AT(noise_f2), 8},
    {FACTOR, AT(noise_f3), AT(noise_f3), 8},
    {FACTOR, AT(noise_f4), AT(noise_f4), 8},
    {FACTOR, AT(noise_direct), AT(noise_direct), 8},
    {FACTOR, AT(noise_between_pulses), AT(noise_between_pulses), 8},
    {FACTOR, AT(output_gain), AT(output_gain), 8},
};

typedef struct counter {
    size_t at;
    uint32_t low, high;
} counter;

static const counter counters[HY_COUNT_KNOBS] = {
    {AT(formant_cycles), 8, 512}, {AT(amplitude_cycles), 8, 512}, {AT(gate_cycles), 8, 512},
    {AT(transition_shift), 1, 6}, {AT(gate_shift), 1, 6},
};

static double *real_at(hyoid_part *p, size_t offset)
{
    return (double *)(void *)((char *)p + offset);
}

/* The flow while the glottis opens and closes. */
static double flow_at(int n, double opening, double closing)
{
    double length = opening + closing / 2;
    return n < opening ? (1 - cos(PI * n / opening)) / 2 : n < length ? cos(PI * (n - opening) / closing) : 0;
}

/* How far a part's pulse lies from the shape of these times: sum of squares. */
static double unlike(const hyoid_part *p, double opening, double closing)
{
    if (opening < 2 || closing < 2) {
        return 1e30;
    }
    double before = 0, sum = 0;
    for (int n = 0; n < HYOID_PULSE_MAX; n++) {
        double g = flow_at(n, opening, closing), off = 1024 * (g - before);
        off -= n < (int)p->pulse_length ? p->pulse[n] : 0;
        sum += off * off;
        before = g;
    }
    return sum;
}

int hy_pulse_fits(double opening, double closing)
{
    return opening >= 8 && closing >= 6 && opening + closing / 2 <= HYOID_PULSE_MAX - 2;
}

void hy_pulse_shape(hyoid_part *p, double opening, double closing)
{
    double before = 0, length = opening + closing / 2;
    memset(p->pulse, 0, sizeof p->pulse);
    int n = 0;
    for (; n < HYOID_PULSE_MAX && n < length + 1; n++) {
        double g = flow_at(n, opening, closing);
        p->pulse[n] = (int16_t)lrint(1024 * (g - before));
        before = g;
    }
    p->pulse_length = (uint32_t)n;
}

void hy_pulse_times(const hyoid_part *p, double *opening, double *closing)
{
    /* the flow is the sum of the pulse: its top ends the opening; half of it is reached a quarter of the closing's cosine later */
    double flow = 0, top = 0, at = 1, end = p->pulse_length;
    for (uint32_t i = 0; i < p->pulse_length; i++) {
        flow += p->pulse[i];
        if (flow > top) {
            top = flow;
            at = i;
        }
    }
    flow = 0;
    for (uint32_t i = 0; i < p->pulse_length; i++) {
        double next = flow + p->pulse[i];
        if (i > at && flow > top / 2 && next <= top / 2) {
            end = i - 1 + (flow - top / 2) / (flow - next);
            break;
        }
        flow = next;
    }
    *opening = at;
    *closing = 3 * (end - at); /* cos(pi x / closing) = 1/2 at a third */
    /* then finely: what hy_pulse_shape makes of the times must be this pulse again, or each small turn would be a jump */
    double least = unlike(p, *opening, *closing);
    for (double step = 1; step > 0.004; step /= 2) {
        for (int again = 1; again;) {
            const double to[4][2] = {{step, 0}, {-step, 0}, {0, step}, {0, -step}};
            again = 0;
            for (int i = 0; i < 4; i++) {
                double off = unlike(p, *opening + to[i][0], *closing + to[i][1]);
                if (off < least) {
                    least = off;
                    *opening += to[i][0];
                    *closing += to[i][1];
                    again = 1;
                }
            }
        }
    }
}

int hy_knob_turn(hyoid_part *p, unsigned i, double by)
{
    const knob *k = &knobs[i];
    const char *problem;
    double opening, closing, factor = exp(by * k->unit);
    switch (k->kind) {
    case FACTOR:
        *real_at(p, k->first) *= factor;
        if (k->second != k->first) {
            *real_at(p, k->second) *= factor;
        }
        break;
    case TILT: { /* about the middle register */
        double *k0 = real_at(p, k->first), *ks = real_at(p, k->second), middle = *k0 + 128 * *ks;
        *ks *= factor;
        *k0 = middle - 128 * *ks;
        break;
    }
    case OPENING:
    case CLOSING:
        hy_pulse_times(p, &opening, &closing);
        opening *= k->kind == OPENING ? factor : 1;
        closing *= k->kind == CLOSING ? factor : 1;
        if (!hy_pulse_fits(opening, closing)) {
            return 0;
        }
        hy_pulse_shape(p, opening, closing);
        break;
    }
    return hyoid_part_check(p, &problem) == HYOID_OK;
}

double hy_knob_effect(const hyoid_part *p, unsigned i, size_t offset)
{
    const knob *k = &knobs[i];
    switch (k->kind) {
    case FACTOR:
        return offset == k->first || offset == k->second ? k->unit : 0;
    case TILT: {
        hyoid_part copy = *p;
        double k0 = *real_at(&copy, k->first), ks = *real_at(&copy, k->second);
        return offset == k->second ? k->unit : offset == k->first && k0 != 0 ? -128 * ks / k0 * k->unit : 0;
    }
    case OPENING:
    case CLOSING:
        return offset == AT(pulse) || offset == AT(pulse_length) ? k->unit : 0;
    }
    return 0;
}

int hy_knob_count(hyoid_part *p, unsigned i, int by)
{
    const char *problem;
    uint32_t *v = (uint32_t *)(void *)((char *)p + counters[i].at);
    int64_t x = (int64_t)*v + by;
    if (x < counters[i].low || x > counters[i].high) {
        return 0;
    }
    *v = (uint32_t)x;
    return hyoid_part_check(p, &problem) == HYOID_OK;
}

int hy_knob_is_closure(unsigned i)
{
    return counters[i].at == AT(gate_cycles) || counters[i].at == AT(gate_shift);
}
