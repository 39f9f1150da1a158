/* Writes a switch-level circuit of one section of the vocal tract, for ngspice, and what the core gives for it.
 *
 *   netlist SECTION[@REGISTER,...] PERIODS PREFIX [CAPACITOR=FACTOR]
 *
 *   f1@F1  f2@F2,BW  f3@F3  f4           voice through a tuned or the fixed section
 *   noise-f2@F2,BW,FC  noise-f3@F3,FC    noise through an unswitched capacitor into a section's first integrator
 *   noise-f4@FC                          noise into the fixed section
 *   output@GATE,FC                       output summer: the fixed section and the bend of the noise
 *   lowpass@GATE,FC                      the same with an output low-pass (which the default part does not have)
 *   tract@CODE                           a phoneme with its own voice and noise through all of it
 *
 * PREFIX.cir is the circuit: its capacitors come from the part's ratios, and it knows charges only, no difference equation.
 * PREFIX.csv is what it must give: the core's own tract, run a filter cycle at a time. A section's input in the circuit
 * is what the core's upstream sections gave out. Upstream is made flat (below), so that a section is excited over the
 * whole band; it still takes its one filter cycle. CAPACITOR=FACTOR falsifies one capacitor. reference/sc tells the why. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "internal.h"

enum { PERIODS_MAX = 4000 };

static const double unit = 10e-12;   /* farads of an integrating capacitor; only ratios count */
static const double level = 0.5;     /* of the stimulus */
static const double lowpass_k = 0.5; /* for `lowpass`, about 1.3 kHz */

/* Of a period: where a source moves. The phase is on then, and has time left to settle. */
static const double phase_1 = 0.10, phase_2 = 0.60;

/* ---- what can be asked for ---- */

enum stage { VOICE, F1, F2, F3, FIXED, OUTPUT, STAGES };
enum setting { NONE, F1_REGISTER, F2_REGISTER, F3_REGISTER, BANDWIDTH, SPECTRUM, GATE, CODE, SETTINGS };

static const unsigned most[SETTINGS] = {
    [F1_REGISTER] = 255, [F2_REGISTER] = 255, [F3_REGISTER] = 255,        [BANDWIDTH] = 15,
    [SPECTRUM] = 255,    [GATE] = 255,        [CODE] = HYOID_PHONEMES - 1};

enum { SETTINGS_MAX = 3 };
typedef struct section {
    const char *name;
    enum setting settings[SETTINGS_MAX]; /* what the numbers after @ set */
    enum stage first, last;              /* stages in the circuit; those before are flat */
    bool noise;                          /* else voice; a phoneme brings both */
} section;

static const section sections[] = {
    {"f1", {F1_REGISTER}, F1, F1, false},
    {"f2", {F2_REGISTER, BANDWIDTH}, F2, F2, false},
    {"f3", {F3_REGISTER}, F3, F3, false},
    {"f4", {NONE}, FIXED, FIXED, false},
    {"noise-f2", {F2_REGISTER, BANDWIDTH, SPECTRUM}, F2, F2, true},
    {"noise-f3", {F3_REGISTER, SPECTRUM}, F3, F3, true},
    {"noise-f4", {SPECTRUM}, FIXED, FIXED, true},
    {"output", {GATE, SPECTRUM}, OUTPUT, OUTPUT, true},
    {"lowpass", {GATE, SPECTRUM}, OUTPUT, OUTPUT, true},
    {"tract", {CODE}, F1, OUTPUT, true},
};

typedef struct job {
    const section *section;
    unsigned value[SETTINGS];
} job;

static bool is(const job *j, const char *name)
{
    return strcmp(j->section->name, name) == 0;
}

/* ---- the core's side ---- */

typedef struct run {
    double noise[PERIODS_MAX];
    double y[STAGES][PERIODS_MAX]; /* what each stage gave out; y[VOICE]: what the sources did */
} run;

/* y = -(1 + q) x - q y'': a section that, but for a part in a million, only inverts. */
static void flatten(double *k, double *q)
{
    *q = 0x1p-20;
    *k = 1024.0 + 0x1p-11; /* k^2 = 1 + 1/q, within 3e-7 */
}

static void set_registers(hyoid_chip *chip, const job *j)
{
    if (is(j, "tract")) { /* as if the phoneme had always been there */
        const hyoid_phoneme *w = &chip->part->phoneme[j->value[CODE]];
        hyoid_chip_write(chip, j->value[CODE]);
        hyoid_chip_step(chip, 1);
        chip->r_f1 = chip->t_f1;
        chip->r_f2 = chip->t_f2;
        chip->r_f3 = chip->t_f3;
        chip->r_fc = chip->t_fc;
        chip->r_va = (uint8_t)(17 * w->va);
        chip->r_fa = (uint8_t)(17 * w->fa);
    } else {
        chip->r_f1 = (uint8_t)j->value[F1_REGISTER];
        chip->r_f2 = (uint8_t)j->value[F2_REGISTER];
        chip->r_f3 = (uint8_t)j->value[F3_REGISTER];
        chip->r_fc = (uint8_t)j->value[SPECTRUM];
        chip->bw2 = (uint8_t)j->value[BANDWIDTH];
        chip->gate = (uint8_t)j->value[GATE];
    }
    hyoid_transitions_refresh(chip);
}

/* The chip's noise register at +-level, as voice or as noise. A phoneme brings its own. */
static void stimulate(hyoid_chip *chip, const job *j, run *r, unsigned periods)
{
    if (is(j, "tract")) {
        for (unsigned k = 0; k < periods; k++) {
            hyoid_sources(chip, 1, &r->y[VOICE][k], &r->noise[k]);
        }
        return;
    }
    chip->noise_gain = chip->noise_gain_between = level;
    double *to = j->section->noise ? r->noise : r->y[VOICE];
    for (unsigned k = 0; k < periods; k++) {
        double unused;
        hyoid_sources(chip, 1, &unused, &to[k]);
    }
}

static void drive(hyoid_chip *chip, const job *j, run *r, unsigned periods)
{
    set_registers(chip, j);
    stimulate(chip, j, r, periods);
    double *const tuned[][2] = {{&chip->k1, &chip->q1}, {&chip->k2, &chip->q2}, {&chip->k3, &chip->q3}};
    for (enum stage s = F1; s <= F3 && s < j->section->first; s++) {
        flatten(tuned[s - F1][0], tuned[s - F1][1]);
    }
    for (unsigned k = 0; k < periods; k++) {
        hyoid_tract(chip, 1, &r->y[VOICE][k], &r->noise[k], &r->y[OUTPUT][k]);
        r->y[F1][k] = chip->y1;
        r->y[F2][k] = chip->y2;
        r->y[F3][k] = chip->y3;
        r->y[FIXED][k] = chip->y4;
    }
}

/* ---- the circuit's side ---- */

typedef struct circuit {
    FILE *file;
    const char *prefix;
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

static void set_name(char *to, size_t size, const char *what, int n)
{
    snprintf(to, size, "%s%d", what, n);
}

/* A first and a second integrator, u and y, and the loop between them: back and input into the first one in phase 1, on to
 * the second one and damping in phase 2. The switched input inverts, or not. */
static void loop(circuit *c, int n, const char *in, double k, double damping, bool inverting)
{
    char u[8], y[8], m_u[8], m_y[8], name[16];
    set_name(u, sizeof u, "u", n);
    set_name(y, sizeof y, "y", n);
    set_name(m_u, sizeof m_u, "m_u", n);
    set_name(m_y, sizeof m_y, "m_y", n);
    integrator(c, u);
    integrator(c, y);
    set_name(name, sizeof name, "in", n);
    switched(c, name, in, m_u, k, 1, inverting);
    set_name(name, sizeof name, "loop", n);
    switched(c, name, y, m_u, k, 1, true);
    set_name(name, sizeof name, "on", n);
    switched(c, name, u, m_y, k, 2, false);
    set_name(name, sizeof name, "damp", n);
    switched(c, name, y, m_y, damping, 2, true);
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

/* The summer. Of the noise it gets the changes of the changes: one stage gives the changes, held a period each, an
 * unswitched capacitor passes the changes of those. */
static void summer(circuit *c, const char *in, double direct, double gain)
{
    line(c, "Eother_in other_in 0 %s 0 -1", in);
    forgetful(c, "pin");
    switched(c, "sum", "other_in", "m_pin", gain, 2, true);
    if (direct > 0.0) {
        forgetful(c, "slope");
        capacitor(c, "change", "late", "m_slope", 1.0);
        capacitor(c, "direct", "other_slope", "m_pin", direct * gain);
    }
    c->output = "pin";
}

static void low_pass(circuit *c, const char *in, double k)
{
    line(c, "Eother_low other_low 0 %s 0 -1", in);
    integrator(c, "low");
    switched(c, "low_in", "other_low", "m_low", k, 2, true);
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
    line(c, "Vp1 p1 0 pulse(0 1 %.12g %.6g %.6g %.12g %.12g)", gap, edge, edge, split * c->period - 2.0 * gap,
         c->period);
    line(c, "Vp2 p2 0 pulse(0 1 %.12g %.6g %.6g %.12g %.12g)", split * c->period + gap, edge, edge,
         (1.0 - split) * c->period - 2.0 * gap, c->period);
}

/* linearize puts the output on a grid of twenty points a period; point 19 is late in phase 2. */
static void end(const circuit *c)
{
    line(c, ".options reltol=1e-6 abstol=1e-13 vntol=1e-8 chgtol=1e-17 method=gear maxord=2");
    line(c, ".tran %.12g %.12g 0 %.6g uic", c->period / 20.0, c->periods * c->period, c->period / 40.0);
    line(c, ".control");
    line(c, "set wr_singlescale\nset wr_vecnames\nset numdgt=12");
    line(c, "run");
    line(c, "linearize v(%s)", c->output);
    line(c, "wrdata %s.raw v(%s)", c->prefix, c->output);
    line(c, "quit");
    line(c, ".endc");
    line(c, ".end");
}

static double ratio(const hyoid_section *s, unsigned r)
{
    return s->k0 + s->ks * r;
}

/* An unswitched capacitor from the noise. */
static void noise_capacitor(circuit *c, int n, const char *from, const char *to, double coupling)
{
    char name[16];
    set_name(name, sizeof name, "noise", n);
    if (coupling > 0.0) {
        capacitor(c, name, from, to, coupling);
    }
}

/* One stage, from the part's numbers and the registers alone. */
static void stage(circuit *c, enum stage s, const char *in, const hyoid_chip *chip, bool noise)
{
    const hyoid_part *p = chip->part;
    const double place = chip->r_fc / 127.5; /* the noise spectrum register shares the noise out */
    const double front = !noise || place > 1.0 ? 0.0 : 1.0 - place;
    const double back = !noise || place < 1.0 ? 0.0 : place - 1.0;
    const double middle = noise ? 1.0 - front - back : 0.0;

    switch (s) {
    case F1:
        loop(c, 1, in, ratio(&p->f1, chip->r_f1), p->f1.k6, true);
        break;
    case F2:
        loop(c, 2, in, ratio(&p->f2, chip->r_f2), p->f2.k6 + p->f2_k6_step * chip->bw2, true);
        noise_capacitor(c, 2, "early", "m_u2", p->noise_f2 * back * ratio(&p->f2, chip->r_f2));
        break;
    case F3:
        loop(c, 3, in, ratio(&p->f3, chip->r_f3), p->f3.k6, true);
        noise_capacitor(c, 3, "early", "m_u3", p->noise_f3 * middle * ratio(&p->f3, chip->r_f3));
        break;
    case FIXED: /* its switched input does not invert; an unswitched capacitor hands F3's changes straight on */
        loop(c, 4, in, p->f4_k, p->f4_k6, false);
        capacitor(c, "feed4", in, "m_y4", p->f4_feed * p->f4_k * p->f4_k);
        noise_capacitor(c, 4, "late", "m_y4", p->noise_f4 * (4.0 + 2.0 * p->f4_k6 - p->f4_k * p->f4_k) * front);
        break;
    case OUTPUT:
        summer(c, in, p->noise_direct * front, chip->gate / 255.0 * p->output_gain);
        if (p->lowpass_k > 0.0) {
            low_pass(c, c->output, p->lowpass_k);
        }
        break;
    case VOICE:
    case STAGES:
        break;
    }
}

/* The voice stands before its period begins; what a section gave out moves in phase 2. Noise comes inverted and twice: the
 * first integrators of F2 and F3 take it while phase 1 is on, before their charge goes on; the fixed section and the
 * summer take it in phase 2. */
static void write_circuit(circuit *c, const job *j, const hyoid_chip *chip, const run *r)
{
    static const char *const names[STAGES] = {"voice", "y1", "y2", "y3", "y4", "pin"};
    const section *s = j->section;
    begin(c, chip->part, s->name);
    source(c, names[s->first - 1], r->y[s->first - 1], 1.0, s->first == F1 ? phase_2 - 1.0 : phase_2);
    if (s->noise) {
        source(c, "early", r->noise, -1.0, phase_1);
        source(c, "late", r->noise, -1.0, phase_2);
    }
    for (enum stage i = s->first; i <= s->last; i++) {
        c->output = names[i];
        stage(c, i, names[i - 1], chip, s->noise);
    }
    end(c);
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

/* Digits. Returns what follows, or null. */
static const char *read_number(const char *text, unsigned largest, unsigned *value)
{
    char *rest;
    if (*text < '0' || *text > '9') {
        return NULL;
    }
    unsigned long number = strtoul(text, &rest, 10);
    if (number > largest) {
        return NULL;
    }
    *value = (unsigned)number;
    return rest;
}

static bool read_job(const char *text, job *j)
{
    const size_t length = strcspn(text, "@");
    for (size_t i = 0; i < sizeof sections / sizeof sections[0]; i++) {
        const section *s = &sections[i];
        if (strlen(s->name) != length || strncmp(text, s->name, length) != 0) {
            continue;
        }
        *j = (job){.section = s, .value = {[GATE] = 255}};
        const char *rest = text + length;
        for (int k = 0; k < SETTINGS_MAX && s->settings[k] != NONE; k++) {
            if (*rest != (k == 0 ? '@' : ',')) {
                return false;
            }
            rest = read_number(rest + 1, most[s->settings[k]], &j->value[s->settings[k]]);
            if (rest == NULL) {
                return false;
            }
        }
        return *rest == '\0';
    }
    return false;
}

static FILE *create(const char *prefix, const char *suffix)
{
    char path[512];
    if (snprintf(path, sizeof path, "%s%s", prefix, suffix) >= (int)sizeof path) {
        fprintf(stderr, "netlist: %s is too long\n", prefix);
        return NULL;
    }
    FILE *file = fopen(path, "w");
    if (file == NULL) {
        perror(path);
    }
    return file;
}

static bool finish(FILE *file)
{
    bool well = !ferror(file);
    well = fclose(file) == 0 && well;
    if (!well) {
        perror("netlist: writing");
    }
    return well;
}

static bool write_expected(FILE *file, const double *value, unsigned periods)
{
    bool silent = true;
    fprintf(file, "period,value\n");
    for (unsigned k = 0; k < periods; k++) {
        fprintf(file, "%u,%.17g\n", k, value[k]);
        silent = silent && value[k] == 0.0;
    }
    if (silent) {
        fprintf(stderr, "netlist: the core gives nothing\n");
    }
    return finish(file) && !silent;
}

int main(int argc, char **argv)
{
    static run r;
    job j;
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
    if (argc == 5) {
        char *equals = strchr(argv[4], '=');
        if (equals == NULL) {
            return usage("CAPACITOR=FACTOR, e.g. damp1=1.001");
        }
        *equals = '\0';
        c.changed = argv[4];
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
    c.prefix = argv[3];
    c.period = part.filter_clocks / part.nominal_hz;
    drive(&chip, &j, &r, c.periods);

    FILE *expected = create(argv[3], ".csv");
    if (expected == NULL || !write_expected(expected, r.y[j.section->last], c.periods)) {
        return 1;
    }
    c.file = create(argv[3], ".cir");
    if (c.file == NULL) {
        return 1;
    }
    write_circuit(&c, &j, &chip, &r);
    if (!finish(c.file)) {
        return 1;
    }
    if (c.changed != NULL && !c.found) {
        fprintf(stderr, "netlist: %s has no capacitor %s\n", argv[1], c.changed);
        return 1;
    }
    return 0;
}
