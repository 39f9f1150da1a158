/* Writes a switch-level circuit of one section of the vocal tract, for ngspice, and what the core gives for it.
 *
 *   netlist SECTION[@REGISTER,...] PERIODS PREFIX [CAPACITOR=FACTOR]
 *
 *   f1@F1  f2@F2,BW  f3@F3  f4           voice through a tuned or the fixed section
 *   noise-f2@F2,BW,FC  noise-f3@F3,FC    noise through an unswitched capacitor into a section's first integrator
 *   noise-f4@FC                          noise into the fixed section, and what F3 sends there
 *   output@GATE,FC                       output summer: the fixed section and the bend of the noise
 *   lowpass@GATE,FC                      the same with an output low-pass (which the default part does not have)
 *   tract@CODE                           a phoneme with its own voice and noise through all of it
 *
 * PREFIX.cir is the circuit: its capacitors come from the part's ratios, and it knows charges only, no difference equation.
 * PREFIX.csv is what it must give: the core's own tract, run a filter cycle at a time. A section's inputs in the circuit
 * are what the core's upstream sections gave out. Upstream is made flat (below), so that a section is excited over the
 * whole band; it still takes its one filter cycle. CAPACITOR=FACTOR falsifies one capacitor. reference/sc tells the why. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "internal.h"

enum { REGISTERS_MAX = 3, PERIODS_MAX = 4000 };

static const double unit = 10e-12;     /* farads of an integrating capacitor; only ratios count */
static const double level = 0.5;       /* of the stimulus */
static const double lowpass_k = 0.5;   /* for `lowpass`, about 1.3 kHz */
static const double into_phase_1 = 0.10, into_phase_2 = 0.60; /* of a period: where a source moves, the phase being on */

/* ---- the core's side ---- */

typedef struct run {
    double voice[PERIODS_MAX], noise[PERIODS_MAX];
    double y1[PERIODS_MAX], y2[PERIODS_MAX], y3[PERIODS_MAX], y4[PERIODS_MAX], out[PERIODS_MAX];
} run;

/* y = -(1 + q) x - q y'': a section that, but for a part in a million, only inverts. */
static void flatten(double *k, double *q)
{
    *q = 0x1p-20;
    *k = 1024.0 + 0x1p-11; /* k^2 = 1 + 1/q, within 3e-7 */
}

static void drive(hyoid_chip *chip, run *r, unsigned periods)
{
    for (unsigned k = 0; k < periods; k++) {
        hyoid_tract(chip, 1, &r->voice[k], &r->noise[k], &r->out[k]);
        r->y1[k] = chip->y1;
        r->y2[k] = chip->y2;
        r->y3[k] = chip->y3;
        r->y4[k] = chip->y4;
    }
}

/* The chip's noise register at +-level, as voice or as noise; the other is off. */
static void stimulate(hyoid_chip *chip, run *r, unsigned periods, bool as_noise)
{
    for (unsigned k = 0; k < periods; k++) {
        double nothing;
        chip->noise_gain = chip->noise_gain_between = level;
        hyoid_sources(chip, 1, &nothing, as_noise ? &r->noise[k] : &r->voice[k]);
    }
}

/* ---- the circuit's side ---- */

typedef struct circuit {
    FILE *file;
    double period; /* seconds */
    unsigned periods;
    const char *changed; /* capacitor to falsify, or null */
    double factor;
    bool found;
    const char *output; /* node to compare */
} circuit;

static void line(const circuit *c, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void line(const circuit *c, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vfprintf(c->file, format, args);
    va_end(args);
    fputc('\n', c->file);
}

static void capacitor(circuit *c, const char *name, const char *a, const char *b, double ratio)
{
    if (c->changed != NULL && strcmp(c->changed, name) == 0) {
        ratio *= c->factor;
        c->found = true;
    }
    line(c, "C%s %s %s %.17g ic=0", name, a, b, ratio * unit);
}

/* An amplifier with its integrating capacitor: summing node m_NAME, output NAME. */
static void integrator(circuit *c, const char *name)
{
    line(c, "Cf_%s m_%s %s %.17g ic=0", name, name, name, unit);
    line(c, "E_%s %s 0 0 m_%s 1e7", name, name, name);
}

/* A switched capacitor and its four switches. It delivers to `to` in phase `phase` (1 or 2); its source-side plate follows
 * the source in that same phase (inverting) or in the other one, a half period earlier (non-inverting). */
static void switched(circuit *c, const char *name, const char *from, const char *to, double ratio, int phase,
                     bool inverting)
{
    char left[32], right[32];
    snprintf(left, sizeof left, "%s_l", name);
    snprintf(right, sizeof right, "%s_r", name);
    int other = 3 - phase;
    capacitor(c, name, left, right, ratio);
    line(c, "X%s_a %s %s p%d gate", name, from, left, inverting ? phase : other);
    line(c, "X%s_b %s 0 p%d gate", name, left, inverting ? other : phase);
    line(c, "X%s_c %s %s p%d gate", name, right, to, phase);
    line(c, "X%s_d %s 0 p%d gate", name, right, other);
}

/* A source that takes value[k] in period k, `at` into it (negative: ahead of it), and holds it; times `sign`. */
static void source(const circuit *c, const char *name, const double *value, double sign, double at)
{
    const double edge = c->period / 1000.0;
    double before = at < 0.0 ? value[0] : 0.0;
    fprintf(c->file, "V_%s %s 0 pwl(0 %.17g", name, name, sign * before);
    for (unsigned k = 0; k < c->periods; k++) {
        if (value[k] != before) {
            double t = (k + at) * c->period;
            fprintf(c->file, "\n+ %.12g %.17g %.12g %.17g", t, sign * before, t + edge, sign * value[k]);
            before = value[k];
        }
    }
    fprintf(c->file, ")\n");
}

static bool sounds(const double *value, unsigned periods)
{
    for (unsigned k = 0; k < periods; k++) {
        if (value[k] != 0.0) {
            return true;
        }
    }
    return false;
}

/* F1, F2 or F3: inputs and loop into the first integrator in phase 1, on to the second one and damping in phase 2. */
static void tuned(circuit *c, int n, const char *in, double k, double damping)
{
    char u[8], y[8], m_u[8], m_y[8], name[16];
    snprintf(u, sizeof u, "u%d", n);
    snprintf(y, sizeof y, "y%d", n);
    snprintf(m_u, sizeof m_u, "m_u%d", n);
    snprintf(m_y, sizeof m_y, "m_y%d", n);
    integrator(c, u);
    integrator(c, y);
    snprintf(name, sizeof name, "in%d", n);
    switched(c, name, in, m_u, k, 1, true);
    snprintf(name, sizeof name, "loop%d", n);
    switched(c, name, y, m_u, k, 1, true);
    snprintf(name, sizeof name, "on%d", n);
    switched(c, name, u, m_y, k, 2, false);
    snprintf(name, sizeof name, "damp%d", n);
    switched(c, name, y, m_y, damping, 2, true);
}

/* The fixed section: its switched input does not invert, an unswitched capacitor hands F3's changes straight on. */
static void fixed(circuit *c, const hyoid_part *p, const char *in)
{
    integrator(c, "u4");
    integrator(c, "y4");
    switched(c, "in4", in, "m_u4", p->f4_k, 1, false);
    switched(c, "loop4", "y4", "m_u4", p->f4_k, 1, true);
    switched(c, "on4", "u4", "m_y4", p->f4_k, 2, false);
    switched(c, "damp4", "y4", "m_y4", p->f4_k6, 2, true);
    capacitor(c, "feed4", in, "m_y4", p->f4_feed * p->f4_k * p->f4_k);
}

/* A stage that forgets: each period a capacitor as large as the integrating one takes the last output away. The sign comes
 * from a balanced amplifier's other side. */
static void forgetful(circuit *c, const char *name)
{
    char other[16], wipe[16], m[16];
    snprintf(other, sizeof other, "other_%s", name);
    snprintf(wipe, sizeof wipe, "wipe_%s", name);
    snprintf(m, sizeof m, "m_%s", name);
    integrator(c, name);
    line(c, "E%s %s 0 %s 0 -1", other, other, name);
    switched(c, wipe, other, m, 1.0, 2, false);
}

/* The changes of the noise, held a period each, and the summer, whose unswitched capacitor passes changes of those. */
static void summer(circuit *c, const char *inverted_y4, const char *noise, double direct, double gain)
{
    forgetful(c, "pin");
    switched(c, "sum", inverted_y4, "m_pin", gain, 2, true);
    if (direct > 0.0) {
        forgetful(c, "slope");
        capacitor(c, "change", noise, "m_slope", 1.0);
        capacitor(c, "direct", "slope", "m_pin", direct * gain);
    }
    c->output = "pin";
}

static void low_pass(circuit *c, const char *in, double k)
{
    line(c, "Eother_in other_in 0 %s 0 -1", in);
    integrator(c, "low");
    switched(c, "low_in", "other_in", "m_low", k, 2, true);
    switched(c, "low_damp", "low", "m_low", k, 2, true);
    c->output = "low";
}

/* Phases that do not overlap, as long as the part makes them. A switch is a conductance that follows its clock through
 * the clock's edge; ngspice's own abrupt switch makes it stop with "Timestep too small". */
static void begin(const circuit *c, const hyoid_part *p, const char *title)
{
    const double split = (double)p->output_clocks / p->filter_clocks;
    const double edge = c->period / 1000.0, gap = c->period / 40.0;
    line(c, "* %s", title);
    line(c, ".subckt gate a b clock");
    line(c, "Bs a b i=v(a,b)*(1e-12+1e-2*v(clock))");
    line(c, ".ends");
    line(c, "Vp1 p1 0 pulse(0 1 %.12g %.6g %.6g %.12g %.12g)", gap, edge, edge, split * c->period - 2.0 * gap, c->period);
    line(c, "Vp2 p2 0 pulse(0 1 %.12g %.6g %.6g %.12g %.12g)", split * c->period + gap, edge, edge,
         (1.0 - split) * c->period - 2.0 * gap, c->period);
}

/* linearize puts the output on a grid of twenty points a period; point 19 is late in phase 2. */
static void end(const circuit *c, const char *prefix)
{
    line(c, ".options reltol=1e-6 abstol=1e-13 vntol=1e-8 chgtol=1e-17 method=gear maxord=2");
    line(c, ".tran %.12g %.12g 0 %.6g uic", c->period / 20.0, c->periods * c->period, c->period / 40.0);
    line(c, ".control");
    line(c, "set wr_singlescale\nset wr_vecnames\nset numdgt=12");
    line(c, "run");
    line(c, "linearize v(%s)", c->output);
    line(c, "wrdata %s.raw v(%s)", prefix, c->output);
    line(c, "quit");
    line(c, ".endc");
    line(c, ".end");
}

/* ---- what belongs together ---- */

typedef struct job {
    const char *section;
    unsigned reg[REGISTERS_MAX];
    unsigned registers;
} job;

static const struct {
    const char *section;
    unsigned registers;
    unsigned most[REGISTERS_MAX];
} sections[] = {
    {"f1", 1, {255}},           {"f2", 2, {255, 15}},      {"f3", 1, {255}},
    {"f4", 0, {0}},             {"noise-f2", 3, {255, 15, 255}}, {"noise-f3", 2, {255, 255}},
    {"noise-f4", 1, {255}},     {"output", 2, {255, 255}}, {"lowpass", 2, {255, 255}},
    {"tract", 1, {HYOID_PHONEMES - 1}},
};

static bool is(const job *j, const char *section)
{
    return strcmp(j->section, section) == 0;
}

/* How the noise spectrum register shares the noise out. */
typedef struct shares {
    double front, middle, back;
} shares;

static shares shared(unsigned fc)
{
    double place = fc / 127.5;
    return (shares){place < 1.0 ? 1.0 - place : 0.0, place < 1.0 ? place : 2.0 - place, place < 1.0 ? 0.0 : place - 1.0};
}

static double ratio(const hyoid_section *s, unsigned r)
{
    return s->k0 + s->ks * r;
}

/* Noise reaches the first integrators of F2 and F3 while phase 1 is on, before their charge goes on; the fixed section and
 * the summer take it in phase 2. Each of these capacitors hangs on the noise's inverse. */
static void noise_ahead(circuit *c, int n, double coupling)
{
    char name[16], m[8];
    if (coupling > 0.0) {
        snprintf(name, sizeof name, "noise%d", n);
        snprintf(m, sizeof m, "m_u%d", n);
        capacitor(c, name, "early", m, coupling);
    }
}

static void noise_into_fixed(circuit *c, const hyoid_part *p, double front)
{
    if (front > 0.0) {
        capacitor(c, "noise4", "late", "m_y4", p->noise_f4 * (4.0 + 2.0 * p->f4_k6 - p->f4_k * p->f4_k) * front);
    }
}

/* Writes the circuit; returns the core's values for its output. */
static const double *build(circuit *c, const job *j, const hyoid_part *p, hyoid_chip *chip, run *r)
{
    const unsigned *reg = j->reg;
    const unsigned n = c->periods;
    const bool noisy = strncmp(j->section, "noise", 5) == 0;

    if (is(j, "tract")) {
        hyoid_chip_write(chip, reg[0]);
        hyoid_chip_step(chip, 1);
        chip->r_f1 = chip->t_f1;
        chip->r_f2 = chip->t_f2;
        chip->r_f3 = chip->t_f3;
        chip->r_fc = chip->t_fc;
        chip->r_va = (uint8_t)(17 * p->phoneme[reg[0]].va);
        chip->r_fa = (uint8_t)(17 * p->phoneme[reg[0]].fa);
        hyoid_transitions_refresh(chip);
        for (unsigned k = 0; k < n; k++) {
            hyoid_sources(chip, 1, &r->voice[k], &r->noise[k]);
        }
    } else {
        stimulate(chip, r, n, noisy);
    }

    if (is(j, "f1")) {
        chip->r_f1 = (uint8_t)reg[0];
        hyoid_transitions_refresh(chip);
        drive(chip, r, n);
        source(c, "voice", r->voice, 1.0, into_phase_2 - 1.0);
        tuned(c, 1, "voice", ratio(&p->f1, reg[0]), p->f1.k6);
        c->output = "y1";
        return r->y1;
    }
    if (is(j, "f2") || is(j, "noise-f2")) {
        const unsigned fc = noisy ? reg[2] : 0;
        chip->r_f2 = (uint8_t)reg[0];
        chip->bw2 = (uint8_t)reg[1];
        chip->r_fc = (uint8_t)fc;
        hyoid_transitions_refresh(chip);
        flatten(&chip->k1, &chip->q1);
        drive(chip, r, n);
        source(c, "y1", r->y1, 1.0, into_phase_2);
        tuned(c, 2, "y1", ratio(&p->f2, reg[0]), p->f2.k6 + p->f2_k6_step * reg[1]);
        if (noisy) {
            source(c, "early", r->noise, -1.0, into_phase_1);
            noise_ahead(c, 2, p->noise_f2 * shared(fc).back * ratio(&p->f2, reg[0]));
        }
        c->output = "y2";
        return r->y2;
    }
    if (is(j, "f3") || is(j, "noise-f3")) {
        const unsigned fc = noisy ? reg[1] : 0;
        chip->r_f3 = (uint8_t)reg[0];
        chip->r_fc = (uint8_t)fc;
        hyoid_transitions_refresh(chip);
        flatten(&chip->k1, &chip->q1);
        flatten(&chip->k2, &chip->q2);
        drive(chip, r, n);
        source(c, "y2", r->y2, 1.0, into_phase_2);
        tuned(c, 3, "y2", ratio(&p->f3, reg[0]), p->f3.k6);
        if (noisy) {
            source(c, "early", r->noise, -1.0, into_phase_1);
            noise_ahead(c, 3, p->noise_f3 * shared(fc).middle * ratio(&p->f3, reg[0]));
        }
        c->output = "y3";
        return r->y3;
    }
    if (is(j, "f4") || is(j, "noise-f4")) {
        const unsigned fc = noisy ? reg[0] : 0;
        chip->r_fc = (uint8_t)fc;
        hyoid_transitions_refresh(chip);
        flatten(&chip->k1, &chip->q1);
        flatten(&chip->k2, &chip->q2);
        if (!noisy) {
            flatten(&chip->k3, &chip->q3);
        }
        drive(chip, r, n);
        source(c, "y3", r->y3, 1.0, into_phase_2);
        fixed(c, p, "y3");
        if (noisy) {
            source(c, "late", r->noise, -1.0, into_phase_2);
            noise_into_fixed(c, p, shared(fc).front);
        }
        c->output = "y4";
        return r->y4;
    }
    if (is(j, "output") || is(j, "lowpass")) {
        chip->gate = (uint8_t)reg[0];
        chip->r_fc = (uint8_t)reg[1];
        hyoid_transitions_refresh(chip);
        stimulate(chip, r, n, true); /* as well as the voice */
        drive(chip, r, n);
        source(c, "other_y4", r->y4, -1.0, into_phase_2);
        source(c, "noise", r->noise, 1.0, into_phase_2);
        summer(c, "other_y4", "noise", p->noise_direct * shared(reg[1]).front, reg[0] / 255.0 * p->output_gain);
    } else { /* tract: as a phoneme finds it, nothing flat */
        const hyoid_phoneme *w = &p->phoneme[reg[0]];
        const shares s = shared(chip->r_fc);
        drive(chip, r, n);
        source(c, "voice", r->voice, 1.0, into_phase_2 - 1.0);
        source(c, "noise", r->noise, 1.0, into_phase_2);
        source(c, "late", r->noise, -1.0, into_phase_2);
        source(c, "early", r->noise, -1.0, into_phase_1);
        tuned(c, 1, "voice", ratio(&p->f1, chip->r_f1), p->f1.k6);
        tuned(c, 2, "y1", ratio(&p->f2, chip->r_f2), p->f2.k6 + p->f2_k6_step * w->bw2);
        tuned(c, 3, "y2", ratio(&p->f3, chip->r_f3), p->f3.k6);
        fixed(c, p, "y3");
        noise_ahead(c, 2, p->noise_f2 * s.back * ratio(&p->f2, chip->r_f2));
        noise_ahead(c, 3, p->noise_f3 * s.middle * ratio(&p->f3, chip->r_f3));
        noise_into_fixed(c, p, s.front);
        line(c, "Eother_y4 other_y4 0 y4 0 -1");
        summer(c, "other_y4", "noise", p->noise_direct * s.front, p->output_gain);
    }
    if (p->lowpass_k > 0.0) {
        low_pass(c, "pin", p->lowpass_k);
    }
    return r->out;
}

/* ---- command line ---- */

static int usage(const char *what)
{
    fprintf(stderr,
            "netlist: %s\nusage: netlist SECTION[@REGISTER,...] PERIODS PREFIX [CAPACITOR=FACTOR]\n"
            "sections: f1@F1 f2@F2,BW f3@F3 f4 noise-f2@F2,BW,FC noise-f3@F3,FC noise-f4@FC output@GATE,FC\n"
            "          lowpass@GATE,FC tract@CODE\n",
            what);
    return 2;
}

/* Digits up to `stop` or the end. Returns what follows, or null. */
static const char *read_number(const char *text, unsigned most, unsigned *value)
{
    char *rest;
    if (*text < '0' || *text > '9') {
        return NULL;
    }
    unsigned long number = strtoul(text, &rest, 10);
    if (number > most) {
        return NULL;
    }
    *value = (unsigned)number;
    return rest;
}

static bool read_job(const char *text, job *j)
{
    size_t length = strcspn(text, "@");
    for (size_t i = 0; i < sizeof sections / sizeof sections[0]; i++) {
        if (strlen(sections[i].section) == length && strncmp(text, sections[i].section, length) == 0) {
            const char *rest = text + length;
            j->section = sections[i].section;
            for (unsigned r = 0; r < sections[i].registers; r++) {
                if (*rest != (r == 0 ? '@' : ',')) {
                    return false;
                }
                rest = read_number(rest + 1, sections[i].most[r], &j->reg[r]);
                if (rest == NULL) {
                    return false;
                }
            }
            return *rest == '\0';
        }
    }
    return false;
}

static bool write_expected(const char *prefix, const double *value, unsigned periods)
{
    char path[512];
    snprintf(path, sizeof path, "%s.csv", prefix);
    FILE *file = fopen(path, "w");
    if (file == NULL) {
        return false;
    }
    fprintf(file, "period,value\n");
    for (unsigned k = 0; k < periods; k++) {
        fprintf(file, "%u,%.17g\n", k, value[k]);
    }
    bool written = !ferror(file);
    return fclose(file) == 0 && written;
}

int main(int argc, char **argv)
{
    static run r;
    job j = {0};
    circuit c = {.factor = 1.0};
    if (argc < 4 || argc > 5) {
        return usage("three or four arguments are needed");
    }
    if (!read_job(argv[1], &j)) {
        return usage("no such section, or registers that it does not have");
    }
    const char *rest = read_number(argv[2], PERIODS_MAX, &c.periods);
    if (rest == NULL || *rest != '\0' || c.periods == 0) {
        return usage("PERIODS must be 1..4000");
    }
    char changed[64];
    if (argc == 5) {
        const char *equals = strchr(argv[4], '=');
        if (equals == NULL || (size_t)(equals - argv[4]) >= sizeof changed) {
            return usage("CAPACITOR=FACTOR, e.g. damp1=1.001");
        }
        snprintf(changed, sizeof changed, "%.*s", (int)(equals - argv[4]), argv[4]);
        c.changed = changed;
        c.factor = strtod(equals + 1, NULL);
    }

    hyoid_part part = *hyoid_part_default();
    if (is(&j, "lowpass")) {
        part.lowpass_k = lowpass_k;
    }
    hyoid_chip chip;
    if (hyoid_chip_init(&chip, &part) != HYOID_OK) {
        fprintf(stderr, "netlist: the part breaks a rule\n");
        return 1;
    }
    c.period = part.filter_clocks / part.nominal_hz;

    char path[512];
    if (snprintf(path, sizeof path, "%s.cir", argv[3]) >= (int)sizeof path) {
        return usage("PREFIX is too long");
    }
    c.file = fopen(path, "w");
    if (c.file == NULL) {
        perror(path);
        return 1;
    }
    begin(&c, &part, argv[1]);
    const double *expected = build(&c, &j, &part, &chip, &r);
    end(&c, argv[3]);
    bool written = !ferror(c.file);
    written = fclose(c.file) == 0 && written;
    if (!written || !write_expected(argv[3], expected, c.periods)) {
        fprintf(stderr, "netlist: %s could not be written\n", argv[3]);
        return 1;
    }
    if (!sounds(expected, c.periods)) {
        fprintf(stderr, "netlist: %s gives nothing\n", argv[1]);
        return 1;
    }
    if (c.changed != NULL && !c.found) {
        fprintf(stderr, "netlist: %s has no capacitor %s\n", argv[1], c.changed);
        return 1;
    }
    return 0;
}
