/* Taps and faults. A chip with either works its filter cycles one by one through hyoid_probed_tick; a
 * chip without never comes here. A tap alone changes no bit. */
#include "internal.h"

static const hyoid_fault_info table[HYOID_FAULTS] = {
    [HYOID_FAULT_P0_LOW] = {"p0-low", "phoneme input P0 reads 0", 0},
    [HYOID_FAULT_P1_LOW] = {"p1-low", "phoneme input P1 reads 0", 0},
    [HYOID_FAULT_P2_LOW] = {"p2-low", "phoneme input P2 reads 0", 0},
    [HYOID_FAULT_P3_LOW] = {"p3-low", "phoneme input P3 reads 0", 0},
    [HYOID_FAULT_P4_LOW] = {"p4-low", "phoneme input P4 reads 0", 0},
    [HYOID_FAULT_P5_LOW] = {"p5-low", "phoneme input P5 reads 0", 0},
    [HYOID_FAULT_P0_HIGH] = {"p0-high", "phoneme input P0 reads 1", 0},
    [HYOID_FAULT_P1_HIGH] = {"p1-high", "phoneme input P1 reads 1", 0},
    [HYOID_FAULT_P2_HIGH] = {"p2-high", "phoneme input P2 reads 1", 0},
    [HYOID_FAULT_P3_HIGH] = {"p3-high", "phoneme input P3 reads 1", 0},
    [HYOID_FAULT_P4_HIGH] = {"p4-high", "phoneme input P4 reads 1", 0},
    [HYOID_FAULT_P5_HIGH] = {"p5-high", "phoneme input P5 reads 1", 0},
    [HYOID_FAULT_I0_LOW] = {"i0-low", "inflection input I0 reads 0", 0},
    [HYOID_FAULT_I1_LOW] = {"i1-low", "inflection input I1 reads 0", 0},
    [HYOID_FAULT_I0_HIGH] = {"i0-high", "inflection input I0 reads 1", 0},
    [HYOID_FAULT_I1_HIGH] = {"i1-high", "inflection input I1 reads 1", 0},
    [HYOID_FAULT_STROBE_DEAD] = {"strobe-dead", "strobe is never seen", 0},
    [HYOID_FAULT_REQUEST_LOW] = {"request-low", "the request pin stays low", 0},
    [HYOID_FAULT_REQUEST_HIGH] = {"request-high", "the request pin stays high", 0},
    [HYOID_FAULT_DIVIDER_SLOW] = {"divider-slow", "the clock divider divides by twice its number", 0},
    [HYOID_FAULT_TIMER_SLOW] = {"timer-slow", "the phoneme timer counts every other filter cycle", 0},
    [HYOID_FAULT_TIMER_FAST] = {"timer-fast", "the phoneme timer counts each filter cycle twice", 0},
    [HYOID_FAULT_FORMANTS_FROZEN] = {"formants-frozen", "formant and noise spectrum registers do not move", 0},
    [HYOID_FAULT_AMPLITUDES_FROZEN] = {"amplitudes-frozen", "amplitude registers do not move", 0},
    [HYOID_FAULT_GATE_OPEN] = {"gate-open", "the closure gate does not close", 0},
    [HYOID_FAULT_GATE_CLOSED] = {"gate-closed", "the closure gate does not open", 0},
    [HYOID_FAULT_NO_VOICE] = {"no-voice", "the glottal pulse is missing; strength: the share that is lost", 1},
    [HYOID_FAULT_NO_NOISE] = {"no-noise", "the noise is missing; strength: the share that is lost", 1},
    [HYOID_FAULT_NOISE_STUCK] = {"noise-stuck", "the noise register's output stays 1", 0},
    [HYOID_FAULT_F1_DEAD] = {"f1-dead", "the first section gives nothing out", 0},
    [HYOID_FAULT_F2_DEAD] = {"f2-dead", "the second section gives nothing out", 0},
    [HYOID_FAULT_F3_DEAD] = {"f3-dead", "the third section gives nothing out", 0},
    [HYOID_FAULT_F4_DEAD] = {"f4-dead", "the fixed section gives nothing out", 0},
    [HYOID_FAULT_F1_DETUNED] = {"f1-detuned", "F1's capacitors are too large, by up to 40 % at strength 1", 1},
    [HYOID_FAULT_F2_DETUNED] = {"f2-detuned", "F2's capacitors are too large, by up to 40 % at strength 1", 1},
    [HYOID_FAULT_F3_DETUNED] = {"f3-detuned", "F3's capacitors are too large, by up to 40 % at strength 1", 1},
    [HYOID_FAULT_LEAKY] = {"leaky", "every integrator loses up to 5 % of its charge each filter cycle", 1},
    [HYOID_FAULT_HUM] = {"hum",
                         "hum on the pin, at the clock / 7200 (100 Hz at 720 kHz: the chip knows no hertz), up to a "
                         "quarter of full scale",
                         1},
    [HYOID_FAULT_OFFSET] = {"offset", "the audio pin is off its rest by up to half of full scale", 1},
    [HYOID_FAULT_CLIPPED] = {"clipped", "the audio pin's swing is cut, down to a tenth of full scale at strength 1",
                             1},
    [HYOID_FAULT_WEAK] = {"weak", "the audio pin's swing is small; strength: the share that is lost", 1},
};

const hyoid_fault_info *hyoid_fault_describe(hyoid_fault fault)
{
    return (unsigned)fault < HYOID_FAULTS ? &table[fault] : NULL;
}

static bool has(const hyoid_chip *chip, hyoid_fault fault)
{
    return chip->fault[fault] > 0.0;
}

/* What the strengths imply and need not be worked out in each filter cycle. */
static void refresh(hyoid_chip *chip)
{
    chip->code_keep = HYOID_PHONEMES - 1;
    chip->code_force = 0;
    for (unsigned bit = 0; bit < 6; bit++) {
        if (has(chip, (hyoid_fault)(HYOID_FAULT_P0_LOW + bit))) {
            chip->code_keep = (uint8_t)(chip->code_keep & ~(1u << bit));
        }
        if (has(chip, (hyoid_fault)(HYOID_FAULT_P0_HIGH + bit))) {
            chip->code_force = (uint8_t)(chip->code_force | 1u << bit);
        }
    }
    chip->inflection_keep = HYOID_LEVELS - 1;
    chip->inflection_force = 0;
    for (unsigned bit = 0; bit < 2; bit++) {
        if (has(chip, (hyoid_fault)(HYOID_FAULT_I0_LOW + bit))) {
            chip->inflection_keep = (uint8_t)(chip->inflection_keep & ~(1u << bit));
        }
        if (has(chip, (hyoid_fault)(HYOID_FAULT_I0_HIGH + bit))) {
            chip->inflection_force = (uint8_t)(chip->inflection_force | 1u << bit);
        }
    }
    chip->request_keep = has(chip, HYOID_FAULT_REQUEST_LOW) ? 0 : 1;
    chip->request_force = has(chip, HYOID_FAULT_REQUEST_HIGH) && chip->request_keep ? 1 : 0;
    chip->filter_clocks = chip->part->filter_clocks * (has(chip, HYOID_FAULT_DIVIDER_SLOW) ? 2 : 1);
    chip->faulty = 0;
    for (unsigned i = HYOID_FAULT_TIMER_SLOW; i < HYOID_FAULTS; i++) {
        chip->faulty |= has(chip, (hyoid_fault)i);
    }
    chip->probed = chip->faulty || chip->tap != NULL;
}

void hyoid_faults_power_up(hyoid_chip *chip)
{
    refresh(chip);
}

hyoid_status hyoid_chip_set_fault(hyoid_chip *chip, hyoid_fault fault, double strength)
{
    if (chip == NULL) {
        return HYOID_E_NULL;
    }
    if ((unsigned)fault >= HYOID_FAULTS || !(strength >= 0.0 && strength <= 1.0)) {
        return HYOID_E_RANGE;
    }
    chip->fault[fault] = strength;
    refresh(chip);
    hyoid_transitions_refresh(chip); /* what an earlier fault may have bent */
    return HYOID_OK;
}

void hyoid_chip_set_tap(hyoid_chip *chip, hyoid_tap *tap, void *user)
{
    if (chip == NULL) {
        return;
    }
    chip->tap = tap;
    chip->tap_user = user;
    refresh(chip);
}

void hyoid_faults_restore(hyoid_chip *chip, hyoid_tap *tap, void *user)
{
    hyoid_chip_set_tap(chip, tap, user);
    hyoid_transitions_refresh(chip);
}

/* How often the timer counts in this filter cycle. */
static unsigned timer_counts(hyoid_chip *chip)
{
    if (has(chip, HYOID_FAULT_TIMER_SLOW)) {
        chip->half ^= 1u;
        return chip->half ? 0 : 1;
    }
    return has(chip, HYOID_FAULT_TIMER_FAST) ? 2 : 1;
}

uint64_t hyoid_faults_ticks_to_end(const hyoid_chip *chip, uint64_t counts)
{
    if (has(chip, HYOID_FAULT_TIMER_SLOW)) {
        return 2 * counts - chip->half; /* the phase turns only in filter cycles that would count */
    }
    return has(chip, HYOID_FAULT_TIMER_FAST) ? (counts + 1) / 2 : counts;
}

typedef struct registers {
    uint8_t f1, f2, f3, fc, va, fa;
} registers;

static void freeze(hyoid_chip *chip, const registers *before)
{
    if (has(chip, HYOID_FAULT_FORMANTS_FROZEN)) {
        chip->r_f1 = before->f1;
        chip->r_f2 = before->f2;
        chip->r_f3 = before->f3;
        chip->r_fc = before->fc;
    }
    if (has(chip, HYOID_FAULT_AMPLITUDES_FROZEN)) {
        chip->r_va = before->va;
        chip->r_fa = before->fa;
    }
}

/* Up to 40 % too large, but short of where the loop would oscillate. */
static double detuned(double k, double strength)
{
    double bent = k * (1.0 + 0.4 * strength);
    return bent < 1.9 || strength == 0.0 ? bent : 1.9;
}

/* The derived values from the registers, then what the faults make of them. The registers themselves stay what a
 * healthy circuit would hold, so that a fault that goes leaves nothing behind. */
static void bend_sections(hyoid_chip *chip)
{
    hyoid_transitions_refresh(chip);
    if (has(chip, HYOID_FAULT_GATE_OPEN)) {
        chip->output_gain = chip->part->output_gain;
    }
    if (has(chip, HYOID_FAULT_GATE_CLOSED)) {
        chip->output_gain = 0.0;
    }
    chip->k1 = detuned(chip->k1, chip->fault[HYOID_FAULT_F1_DETUNED]);
    chip->k2 = detuned(chip->k2, chip->fault[HYOID_FAULT_F2_DETUNED]);
    chip->k3 = detuned(chip->k3, chip->fault[HYOID_FAULT_F3_DETUNED]);
    double *const dead[4] = {&chip->q1, &chip->q2, &chip->q3, &chip->q4};
    double *const charge[4] = {&chip->u1, &chip->u2, &chip->u3, &chip->u4};
    for (unsigned i = 0; i < 4; i++) {
        if (has(chip, (hyoid_fault)(HYOID_FAULT_F1_DEAD + i))) {
            *dead[i] = 0.0;
            *charge[i] = 0.0;
        }
    }
}

static void bend_sources(const hyoid_chip *chip, double *voice, double *noise)
{
    *voice *= 1.0 - chip->fault[HYOID_FAULT_NO_VOICE];
    if (has(chip, HYOID_FAULT_NOISE_STUCK) && *noise < 0.0) {
        *noise = -*noise;
    }
    *noise *= 1.0 - chip->fault[HYOID_FAULT_NO_NOISE];
}

static void leak(hyoid_chip *chip)
{
    const double keep = 1.0 - 0.05 * chip->fault[HYOID_FAULT_LEAKY];
    double *const charges[] = {&chip->u1, &chip->y1, &chip->u2, &chip->y2,
                               &chip->u3, &chip->y3, &chip->u4, &chip->y4};
    for (size_t i = 0; i < sizeof charges / sizeof charges[0]; i++) {
        *charges[i] *= keep;
    }
}

/* Two parabolas a period: near enough to a sine for a hum, and the same on every machine. */
static double hum(uint64_t cycle)
{
    double x = (double)(cycle % HYOID_FAULT_HUM_CLOCKS) / (HYOID_FAULT_HUM_CLOCKS / 2.0);
    return x < 1.0 ? 4.0 * x * (1.0 - x) : -4.0 * (x - 1.0) * (2.0 - x);
}

static void bend_level(const hyoid_chip *chip, uint64_t cycle, double *level)
{
    const double swing = 1.0 - 0.9 * chip->fault[HYOID_FAULT_CLIPPED];
    *level *= 1.0 - chip->fault[HYOID_FAULT_WEAK];
    if (has(chip, HYOID_FAULT_HUM)) {
        *level += HYOID_FAULT_HUM_PEAK * chip->fault[HYOID_FAULT_HUM] * hum(cycle);
    }
    if (has(chip, HYOID_FAULT_OFFSET)) {
        *level += 0.5 * chip->fault[HYOID_FAULT_OFFSET];
    }
    if (has(chip, HYOID_FAULT_CLIPPED)) {
        *level = *level > swing ? swing : *level < -swing ? -swing : *level;
    }
}

void hyoid_probed_tick(hyoid_chip *chip, uint64_t cycle, double *level)
{
    const registers before = {chip->r_f1, chip->r_f2, chip->r_f3, chip->r_fc, chip->r_va, chip->r_fa};
    const bool counts_here = chip->timing && !chip->latched;
    const unsigned counts = counts_here ? timer_counts(chip) : 1;
    for (unsigned i = 0; i < counts; i++) {
        hyoid_sequencer_tick(chip, cycle);
    }
    hyoid_transitions_tick(chip);
    if (chip->faulty) {
        freeze(chip, &before);
        bend_sections(chip);
    }
    double voice, noise;
    hyoid_sources(chip, 1, &voice, &noise);
    if (chip->faulty) {
        bend_sources(chip, &voice, &noise);
    }
    hyoid_tract(chip, 1, &voice, &noise, level);
    if (chip->faulty) {
        leak(chip);
        bend_level(chip, cycle, level);
    }
    if (chip->tap != NULL) {
        chip->tap(chip->tap_user, chip, cycle, voice, noise, *level);
    }
}
