/* The numbers that all phonemes share: a pattern search, one after the other. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"

/* What can be moved. Several fields may move together: a section's law is shifted as a whole, or tilted. */
typedef enum knob_kind { FACTOR, TILT, COUNT, PULSE_OPENING, PULSE_CLOSING } knob_kind;

typedef struct knob {
    const char *name;
    knob_kind kind;
    size_t first, second; /* offsets of fields in hyoid_part */
    double unit;          /* FACTOR: relative size of a full step; COUNT: steps of a full step */
    double low, high;     /* COUNT */
} knob;

#define AT(field) offsetof(hyoid_part, field)

static const knob knobs[] = {
    {"f1.k0", FACTOR, AT(f1.k0), AT(f1.ks), 1, 0, 0},
    {"f1.ks", TILT, AT(f1.k0), AT(f1.ks), 1, 0, 0},
    {"f2.k0", FACTOR, AT(f2.k0), AT(f2.ks), 1, 0, 0},
    {"f2.ks", TILT, AT(f2.k0), AT(f2.ks), 1, 0, 0},
    {"f3.k0", FACTOR, AT(f3.k0), AT(f3.ks), 1, 0, 0},
    {"f3.ks", TILT, AT(f3.k0), AT(f3.ks), 1, 0, 0},
    {"f4_k", FACTOR, AT(f4_k), AT(f4_k), 1, 0, 0},
    {"f1.k6", FACTOR, AT(f1.k6), AT(f1.k6), 4, 0, 0},
    {"f2.k6", FACTOR, AT(f2.k6), AT(f2.k6), 4, 0, 0},
    {"f2_k6_step", FACTOR, AT(f2_k6_step), AT(f2_k6_step), 4, 0, 0},
    {"f3.k6", FACTOR, AT(f3.k6), AT(f3.k6), 4, 0, 0},
    {"f4_k6", FACTOR, AT(f4_k6), AT(f4_k6), 4, 0, 0},
    {"f4_feed", FACTOR, AT(f4_feed), AT(f4_feed), 4, 0, 0},
    {"pulse opening", PULSE_OPENING, 0, 0, 100, 0, 0},
    {"pulse closing", PULSE_CLOSING, 0, 0, 100, 0, 0},
    {"pulse_unit", FACTOR, AT(pulse_unit), AT(pulse_unit), 2, 0, 0},
    {"noise_f2", FACTOR, AT(noise_f2), AT(noise_f2), 4, 0, 0},
    {"noise_f3", FACTOR, AT(noise_f3), AT(noise_f3), 4, 0, 0},
    {"noise_f4", FACTOR, AT(noise_f4), AT(noise_f4), 4, 0, 0},
    {"noise_direct", FACTOR, AT(noise_direct), AT(noise_direct), 4, 0, 0},
    {"noise_between_pulses", FACTOR, AT(noise_between_pulses), AT(noise_between_pulses), 4, 0, 0},
    {"formant_cycles", COUNT, AT(formant_cycles), 0, 200, 8, 512},
    {"amplitude_cycles", COUNT, AT(amplitude_cycles), 0, 200, 8, 512},
    {"gate_cycles", COUNT, AT(gate_cycles), 0, 200, 8, 512},
    {"transition_shift", COUNT, AT(transition_shift), 0, 25, 1, 6},
};
enum { KNOBS = sizeof knobs / sizeof knobs[0] };

const char *hy_fit_constant_name(size_t i)
{
    return i < KNOBS ? knobs[i].name : NULL;
}

static double *real_at(hyoid_part *p, size_t offset)
{
    return (double *)(void *)((char *)p + offset);
}

/* A glottal pulse as two times give it: opening (1 - cos(pi i / n)) / 2, closing cos(pi i / n), differentiated. */
void hy_pulse_shape(hyoid_part *p, int opening, int closing)
{
    double before = 0;
    memset(p->pulse, 0, sizeof p->pulse);
    int length = opening + closing / 2;
    for (int i = 0; i < length && i < HYOID_PULSE_MAX; i++) {
        double g = i < opening ? (1 - cos(M_PI * i / opening)) / 2 : cos(M_PI * (i - opening) / closing);
        p->pulse[i] = (int16_t)lrint(1024 * (g - before));
        before = g;
    }
    p->pulse_length = (uint32_t)(length < HYOID_PULSE_MAX ? length : HYOID_PULSE_MAX);
}

/* The two times nearest to a pulse: opening ends where the slope changes sign for good, closing follows from the length. */
static void pulse_times(const hyoid_part *p, int *opening, int *closing)
{
    int n = (int)p->pulse_length, last = 0;
    for (int i = 0; i < n; i++) {
        if (p->pulse[i] > 0) {
            last = i;
        }
    }
    *opening = last + 1;
    *closing = 2 * (n - *opening);
}

/* Moves a knob by `by` full steps. 0 if that leaves its range. */
static int turn(hyoid_part *p, const knob *k, double by)
{
    const char *problem;
    int opening, closing;
    switch (k->kind) {
    case FACTOR: {
        double factor = exp(by * k->unit);
        *real_at(p, k->first) *= factor;
        if (k->second != k->first) {
            *real_at(p, k->second) *= factor;
        }
        break;
    }
    case TILT: { /* about the middle register */
        double *k0 = real_at(p, k->first), *ks = real_at(p, k->second), middle = *k0 + 128 * *ks;
        *ks *= exp(3 * by * k->unit);
        *k0 = middle - 128 * *ks;
        break;
    }
    case COUNT: {
        uint32_t *v = (uint32_t *)(void *)((char *)p + k->first);
        double x = round((double)*v + (by > 0 ? ceil(by * k->unit) : floor(by * k->unit)));
        if (x < k->low || x > k->high) {
            return 0;
        }
        *v = (uint32_t)x;
        break;
    }
    case PULSE_OPENING:
    case PULSE_CLOSING:
        pulse_times(p, &opening, &closing);
        if (k->kind == PULSE_OPENING) {
            opening += (int)(by > 0 ? ceil(by * k->unit) : floor(by * k->unit));
        } else {
            closing += 2 * (int)(by > 0 ? ceil(by * k->unit / 2) : floor(by * k->unit / 2));
        }
        if (opening < 8 || closing < 4 || opening + closing / 2 > HYOID_PULSE_MAX) {
            return 0;
        }
        hy_pulse_shape(p, opening, closing);
        break;
    }
    return hyoid_part_check(p, &problem) == HYOID_OK;
}

int hy_fit_constants(hy_fit *f, double step, int halvings)
{
    enum { LISTENED = 160 };
    hy_place *places = malloc((LISTENED + 1) * sizeof *places);
    hyoid_part *tried = malloc(sizeof *tried);
    if (places == NULL || tried == NULL) {
        free(places);
        free(tried);
        return -1;
    }
    size_t n = 0, stride = f->fitted_count / LISTENED + 1;
    for (size_t i = 0; i < f->fitted_count && n < LISTENED; i += stride) {
        places[n++] = f->fitted[i];
    }
    double now = hy_fit_mean(f, &f->part, places, n);
    for (int h = 0; h <= halvings; h++, step /= 2) {
        for (size_t k = 0; k < KNOBS; k++) {
            for (int sign = -1; sign <= 1; sign += 2) {
                int went = 0;
                for (;;) {
                    *tried = f->part;
                    if (!turn(tried, &knobs[k], sign * step)) {
                        break;
                    }
                    double cost = hy_fit_mean(f, tried, places, n);
                    if (cost >= now) {
                        break;
                    }
                    now = cost;
                    f->part = *tried;
                    went = 1;
                }
                if (went) {
                    break;
                }
            }
        }
    }
    free(places);
    free(tried);
    return 0;
}
