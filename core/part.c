/* The part: the built-in default, the rules that every part must keep, and its fingerprint. */
#include "internal.h"

/* Written by `hyoid part export --c` from reference/parts/default; a test proves that they agree. */
static const hyoid_part default_part = {
#include "part_default.inc"
};

const hyoid_part *hyoid_part_default(void)
{
    return &default_part;
}

uint32_t hyoid_version(void)
{
    return HYOID_VERSION_MAJOR * 10000 + HYOID_VERSION_MINOR * 100 + HYOID_VERSION_PATCH;
}

const char *hyoid_status_text(hyoid_status status)
{
    switch (status) {
    case HYOID_OK:
        return "success";
    case HYOID_E_NULL:
        return "a pointer is null";
    case HYOID_E_RANGE:
        return "an argument is out of range";
    case HYOID_E_PAST:
        return "the time lies in the past";
    case HYOID_E_PART:
        return "the part breaks a rule";
    case HYOID_E_SNAPSHOT:
        return "not a whole snapshot of this version, part and rate";
    case HYOID_E_FULL:
        return "the ring or the queue is full";
    case HYOID_E_VERSION:
        return "the library is of another version than the program's header";
    case HYOID_E_SIZE:
        return "the library's structs have other sizes than the program's";
    }
    return "unknown status";
}

static const char *check_phoneme(const hyoid_phoneme *p)
{
    if (p->f1 > 15) {
        return "phoneme f1 must be 0..15";
    }
    if (p->f2 > 31) {
        return "phoneme f2 must be 0..31";
    }
    if (p->f3 > 15) {
        return "phoneme f3 must be 0..15";
    }
    if (p->bw2 > 15) {
        return "phoneme bw2 must be 0..15";
    }
    if (p->va > 15) {
        return "phoneme va must be 0..15";
    }
    if (p->fa > 15) {
        return "phoneme fa must be 0..15";
    }
    if (p->fc > 15) {
        return "phoneme fc must be 0..15";
    }
    if (p->vd > 15) {
        return "phoneme vd must be 0..15";
    }
    if (p->cld > 15) {
        return "phoneme cld must be 0..15";
    }
    if (p->closure > 1) {
        return "phoneme closure must be 0 or 1";
    }
    if (p->pause > 1) {
        return "phoneme pause must be 0 or 1";
    }
    if (p->duration < 1) {
        return "phoneme duration must be at least one filter cycle";
    }
    return NULL;
}

static bool within(uint32_t value, uint32_t low, uint32_t high)
{
    return value >= low && value <= high;
}

/* Written so that NaN fails. */
static bool inside(double value, double low, double high)
{
    return value >= low && value <= high;
}

static const char *check_sequencer(const hyoid_part *p)
{
    if (!(p->nominal_hz > 0.0) || !(p->nominal_hz <= HYOID_CLOCK_MAX)) {
        return "nominal_hz must be above 0 and at most 100e6";
    }
    if (!within(p->filter_clocks, 2, 4096)) {
        return "filter_clocks must be 2..4096";
    }
    if (!within(p->output_clocks, 1, p->filter_clocks - 1)) {
        return "output_clocks must be 1..filter_clocks - 1";
    }
    if (!within(p->burst_slot, 1, 15)) {
        return "burst_slot must be 1..15";
    }
    uint32_t shortest = UINT32_MAX;
    for (size_t i = 0; i < HYOID_PHONEMES; i++) {
        const char *problem = check_phoneme(&p->phoneme[i]);
        if (problem != NULL) {
            return problem;
        }
        shortest = p->phoneme[i].duration < shortest ? p->phoneme[i].duration : shortest;
    }
    /* request must have fallen before the shortest phoneme raises it again */
    if (p->request_delay > p->filter_clocks * (shortest - 1)) {
        return "request_delay must be at most filter_clocks * (shortest duration - 1)";
    }
    return NULL;
}

static const char *check_transitions(const hyoid_part *p)
{
    if (!within(p->formant_cycles, 1, 4096)) {
        return "formant_cycles must be 1..4096";
    }
    if (!within(p->amplitude_cycles, 1, 4096)) {
        return "amplitude_cycles must be 1..4096";
    }
    if (!within(p->gate_cycles, 1, 4096)) {
        return "gate_cycles must be 1..4096";
    }
    if (p->transition_shift > 7) {
        return "transition_shift must be 0..7";
    }
    if (p->stop_spectrum_shift > 7) {
        return "stop_spectrum_shift must be 0..7";
    }
    if (p->gate_shift > 7) {
        return "gate_shift must be 0..7";
    }
    return NULL;
}

static const char *check_sources(const hyoid_part *p)
{
    for (size_t i = 0; i < HYOID_LEVELS; i++) {
        if (!within(p->pitch_period[i], 16, 4096)) {
            return "pitch_period must be 16..4096";
        }
    }
    if (p->pitch_f1_shift > 8) {
        return "pitch_f1_shift must be 0..8";
    }
    if (!within(p->pulse_length, 1, HYOID_PULSE_MAX)) {
        return "pulse_length must be 1..256";
    }
    if (!inside(p->pulse_unit, 1e-9, 1e3)) {
        return "pulse_unit must be 1e-9..1e3";
    }
    if (!within(p->noise_bits, 2, 31)) {
        return "noise_bits must be 2..31";
    }
    if (!within(p->noise_taps, 1, (1u << p->noise_bits) - 1)) {
        return "noise_taps must be 1..2^noise_bits - 1";
    }
    if (!within(p->noise_seed, 1, (1u << p->noise_bits) - 1)) {
        return "noise_seed must be 1..2^noise_bits - 1";
    }
    if (!inside(p->noise_between_pulses, 0.0, 1.0)) {
        return "noise_between_pulses must be 0..1";
    }
    if (!within(p->amplitude_power, 1, 3)) {
        return "amplitude_power must be 1..3";
    }
    return NULL;
}

/* The loop of two integrators is stable while its capacitors stay below 2 and damping is positive. */
static bool stable(const hyoid_section *s)
{
    return s->k0 > 0.0 && inside(s->ks, 0.0, 2.0) && s->k0 + 255.0 * s->ks < 2.0;
}

static const char *check_tract(const hyoid_part *p)
{
    if (!stable(&p->f1) || !stable(&p->f2) || !stable(&p->f3)) {
        return "f1, f2, f3: k0 must be above 0, ks at least 0, and k0 + 255 ks below 2";
    }
    if (!inside(p->f1.k6, 1e-6, 1.0) || !inside(p->f2.k6, 1e-6, 1.0) || !inside(p->f3.k6, 1e-6, 1.0) ||
        !inside(p->f4_k6, 1e-6, 1.0)) {
        return "k6 must be 1e-6..1";
    }
    if (!inside(p->f2_k6_step, 0.0, 1.0)) {
        return "f2_k6_step must be 0..1";
    }
    if (!(p->f4_k > 0.0) || !(p->f4_k < 2.0)) {
        return "f4_k must be above 0 and below 2";
    }
    const double couplings[] = {p->f4_feed, p->noise_f2, p->noise_f3, p->noise_f4, p->noise_direct, p->lowpass_k};
    for (size_t i = 0; i < sizeof couplings / sizeof couplings[0]; i++) {
        if (!inside(couplings[i], 0.0, 1e3)) {
            return "f4_feed, noise_f2, noise_f3, noise_f4, noise_direct and lowpass_k must be 0..1000";
        }
    }
    if (!inside(p->output_gain, 1e-9, 1e3)) {
        return "output_gain must be 1e-9..1e3";
    }
    return NULL;
}

hyoid_status hyoid_part_check(const hyoid_part *part, const char **problem)
{
    if (part == NULL) {
        return HYOID_E_NULL;
    }
    const char *(*const checks[])(const hyoid_part *) = {check_sequencer, check_transitions, check_sources,
                                                         check_tract};
    for (size_t i = 0; i < sizeof checks / sizeof checks[0]; i++) {
        const char *found = checks[i](part);
        if (found != NULL) {
            if (problem != NULL) {
                *problem = found;
            }
            return HYOID_E_PART;
        }
    }
    return HYOID_OK;
}

static void mix(uint64_t *hash, uint64_t value, unsigned bytes)
{
    for (unsigned i = 0; i < bytes; i++) {
        *hash = (*hash ^ (value >> (8 * i) & 0xffu)) * UINT64_C(0x100000001b3);
    }
}

static void mix_double(uint64_t *hash, double value)
{
    union {
        double d;
        uint64_t u;
    } bits = {value};
    mix(hash, bits.u, 8);
}

static void mix_section(uint64_t *hash, const hyoid_section *s)
{
    mix_double(hash, s->k0);
    mix_double(hash, s->ks);
    mix_double(hash, s->k6);
}

uint64_t hyoid_part_hash(const hyoid_part *p)
{
    if (p == NULL) {
        return 0;
    }
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    for (size_t i = 0; i < HYOID_PHONEMES; i++) {
        const hyoid_phoneme *w = &p->phoneme[i];
        const uint8_t fields[] = {w->f1, w->f2, w->f3,  w->bw2,     w->va,   w->fa,
                                  w->fc, w->vd, w->cld, w->closure, w->pause};
        for (size_t k = 0; k < sizeof fields; k++) {
            mix(&hash, fields[k], 1);
        }
        mix(&hash, w->duration, 2);
    }
    mix_double(&hash, p->nominal_hz);
    const uint32_t sequencer[] = {
        p->filter_clocks,       p->output_clocks,    p->request_delay,   p->burst_slot,
        p->formant_cycles,      p->amplitude_cycles, p->gate_cycles,     p->transition_shift,
        p->stop_spectrum_shift, p->gate_shift,       p->pitch_period[0], p->pitch_period[1],
        p->pitch_period[2],     p->pitch_period[3],  p->pitch_f1_shift,  p->pulse_length};
    for (size_t i = 0; i < sizeof sequencer / sizeof sequencer[0]; i++) {
        mix(&hash, sequencer[i], 4);
    }
    for (size_t i = 0; i < HYOID_PULSE_MAX; i++) {
        mix(&hash, (uint16_t)p->pulse[i], 2);
    }
    mix_double(&hash, p->pulse_unit);
    mix(&hash, p->noise_bits, 4);
    mix(&hash, p->noise_taps, 4);
    mix(&hash, p->noise_seed, 4);
    mix_double(&hash, p->noise_between_pulses);
    mix(&hash, p->amplitude_power, 4);
    mix_section(&hash, &p->f1);
    mix_section(&hash, &p->f2);
    mix_section(&hash, &p->f3);
    const double tract[] = {p->f2_k6_step, p->f4_k,     p->f4_k6,        p->f4_feed,   p->noise_f2,
                            p->noise_f3,   p->noise_f4, p->noise_direct, p->lowpass_k, p->output_gain};
    for (size_t i = 0; i < sizeof tract / sizeof tract[0]; i++) {
        mix_double(&hash, tract[i]);
    }
    return hash;
}
