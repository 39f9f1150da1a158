#include "senses.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "acoustics.h"

static double db(double ratio)
{
    return ratio > 0 ? 20 * log10(ratio) : -INFINITY;
}

static double ms_of(const hyoid_part *part, double cycles)
{
    return 1000 * cycles / hy_cycle_hz(part);
}

hy_sense hy_sense_of_quantity(const hyoid_part *part, unsigned code, int quantity)
{
    const hyoid_phoneme *p = &part->phoneme[code];
    hy_formants f = hy_phoneme_formants(part, code);
    hy_noise_shares shares = hy_spectrum_shares(p->fc);
    double sixteenth = ms_of(part, p->duration) / HYOID_SLOTS;
    const hy_sense senses[HY_QUANTITIES] = {
        {f.f1, "Hz", "first formant"},
        {f.f2, "Hz", "second formant"},
        {f.f3, "Hz", "third formant"},
        {f.bw2, "Hz", "width of the second formant"},
        {hy_amplitude_db(part, p->va), "dB", "voice, of the largest"},
        {hy_amplitude_db(part, p->fa), "dB", "noise, of the largest"},
        {100 * (shares.fixed + 0.5 * shares.f3), "%", "noise in front (of F2)"},
        {sixteenth * p->vd, "ms", "voice moves after"},
        {sixteenth * p->cld, "ms", p->closure ? "closes after" : "noise moves after"},
        {NAN, "", "a stop"},
        {NAN, "", "a pause"},
        {ms_of(part, p->duration), "ms", "latch to request"},
    };
    return senses[quantity];
}

/* How long a register takes for 63 % of its way, in ms; a shift of 0 is one move. */
static double settling_ms(const hyoid_part *part, uint32_t cycles, uint32_t shift)
{
    double moves = shift > 0 ? -1 / log1p(-ldexp(1, -(int)shift)) : 1;
    return ms_of(part, cycles * moves);
}

static double section_hz(const hyoid_part *part, const hyoid_section *s, unsigned reg)
{
    return hy_resonance_hz(s->k0 + s->ks * reg, s->k6, hy_cycle_hz(part));
}

/* F1, F2 or F3: `member` is what stands behind the dot. */
static hy_sense of_section(const hyoid_part *part, const hyoid_section *s, const char *member)
{
    if (strcmp(member, "k0") == 0) {
        return (hy_sense){section_hz(part, s, 0), "Hz", "resonance, register 0"};
    }
    if (strcmp(member, "ks") == 0) {
        return (hy_sense){section_hz(part, s, 255), "Hz", "resonance, register 255"};
    }
    return (hy_sense){hy_bandwidth_hz(s->k6, hy_cycle_hz(part)), "Hz", s == &part->f2 ? "width, code 0" : "width"};
}

static hy_sense of_array(const hyoid_part *part, const char *name, unsigned index)
{
    if (strcmp(name, "pitch_period") == 0) {
        return (hy_sense){hy_cycle_hz(part) / part->pitch_period[index], "Hz", "pitch, F1 register 0"};
    }
    int largest = 1;
    for (unsigned i = 0; i < part->pulse_length; i++) {
        int step = part->pulse[i] < 0 ? -part->pulse[i] : part->pulse[i];
        largest = step > largest ? step : largest;
    }
    return (hy_sense){index < part->pulse_length ? 100.0 * part->pulse[index] / largest : NAN, "%",
                      "of the pulse's largest step"};
}

/* How much lower the highest F1 register speaks than the lowest, at level 1. */
static double intrinsic_semitones(const hyoid_part *part)
{
    double low = part->pitch_period[1];
    double high = part->pitch_period[1] + (255u >> part->pitch_f1_shift);
    return 12 * log2(high / low);
}

static double noise_seconds(const hyoid_part *part)
{
    return (ldexp(1, (int)part->noise_bits) - 1) / hy_cycle_hz(part);
}

hy_sense hy_sense_of_constant(const hyoid_part *part, const hy_constant *constant, unsigned index)
{
    const char *name = constant->name;
    if (constant->count > 0) {
        return of_array(part, name, index);
    }
    if (name[0] == 'f' && name[2] == '.') {
        const hyoid_section *sections[] = {&part->f1, &part->f2, &part->f3};
        return of_section(part, sections[name[1] - '1'], name + 3);
    }
    double fs = hy_cycle_hz(part);
    double clock_us = 1e6 / part->nominal_hz;
    const struct {
        const char *name;
        hy_sense sense;
    } senses[] = {
        {"nominal_hz", {fs, "Hz", "filter cycles a second"}},
        {"filter_clocks", {fs, "Hz", "filter cycles a second"}},
        {"output_clocks", {clock_us * part->output_clocks, "us", "from the cycle's start to the pin"}},
        {"request_delay", {clock_us * part->request_delay, "us", "from the latch to request"}},
        {"burst_slot", {100.0 * part->burst_slot / HYOID_SLOTS, "%", "of a stop until it bursts"}},
        {"formant_cycles",
         {settling_ms(part, part->formant_cycles, part->transition_shift), "ms", "63 % of a formant's way"}},
        {"amplitude_cycles",
         {settling_ms(part, part->amplitude_cycles, part->transition_shift), "ms", "63 % of an amplitude's way"}},
        {"gate_cycles", {settling_ms(part, part->gate_cycles, part->gate_shift), "ms", "63 % of a closure"}},
        {"transition_shift",
         {settling_ms(part, part->formant_cycles, part->transition_shift), "ms", "63 % of a formant's way"}},
        {"stop_spectrum_shift",
         {settling_ms(part, part->formant_cycles, part->stop_spectrum_shift), "ms",
          "63 % of a stop's spectrum's way"}},
        {"gate_shift", {settling_ms(part, part->gate_cycles, part->gate_shift), "ms", "63 % of a closure"}},
        {"pitch_f1_shift", {intrinsic_semitones(part), "semitones", "low above high F1, level 1"}},
        {"pulse_length", {ms_of(part, part->pulse_length), "ms", "length of the pulse"}},
        {"pulse_unit", {db(part->pulse_unit), "dB", "voice"}},
        {"noise_bits", {1000 * noise_seconds(part), "ms", "until the noise repeats, if maximal"}},
        {"noise_between_pulses", {db(part->noise_between_pulses), "dB", "noise between pulses"}},
        {"amplitude_power", {hy_amplitude_db(part, 1), "dB", "softest amplitude code"}},
        {"f2_k6_step", {hy_bandwidth_hz(part->f2.k6 + 15 * part->f2_k6_step, fs), "Hz", "width of F2, code 15"}},
        {"f4_k", {hy_resonance_hz(part->f4_k, part->f4_k6, fs), "Hz", "fixed resonance"}},
        {"f4_k6", {hy_bandwidth_hz(part->f4_k6, fs), "Hz", "width of the fixed resonance"}},
        {"f4_feed", {db(part->f4_feed), "dB", "voice's unswitched way"}},
        {"noise_f2", {db(part->noise_f2), "dB", "noise ahead of F2"}},
        {"noise_f3", {db(part->noise_f3), "dB", "noise ahead of F3"}},
        {"noise_f4", {db(part->noise_f4), "dB", "noise into the fixed section"}},
        {"noise_direct", {db(part->noise_direct), "dB", "noise past the fixed section"}},
        {"lowpass_k",
         {part->lowpass_k > 0 ? fs * log1p(part->lowpass_k) / 6.283185307179586 : NAN, "Hz",
          "corner of the low-pass"}},
        {"output_gain", {db(part->output_gain), "dB", "level at the pin"}},
    };
    for (size_t i = 0; i < sizeof senses / sizeof senses[0]; i++) {
        if (strcmp(name, senses[i].name) == 0) {
            return senses[i].sense;
        }
    }
    return (hy_sense){NAN, "", constant->meaning};
}

/* Decimals that a difference can be heard or measured by. */
static int decimals(const hy_sense *s)
{
    return strcmp(s->unit, "us") == 0 || strcmp(s->unit, "semitones") == 0 ? 2 : 1;
}

hy_sense_text hy_sense_say(const hy_sense *s)
{
    hy_sense_text out = {""};
    if (isinf(s->value) && s->value < 0) {
        snprintf(out.text, sizeof out.text, "silent");
    } else if (isfinite(s->value)) {
        double value = fabs(s->value) < 0.5 * pow(10, -decimals(s)) ? 0 : s->value; /* no minus zero */
        snprintf(out.text, sizeof out.text, "%.*f %s", decimals(s), value, s->unit);
    }
    return out;
}

hy_sense_text hy_sense_difference(const hy_sense *a, const hy_sense *b)
{
    hy_sense_text out = {""};
    double d = b->value - a->value;
    if (!isfinite(d) || fabs(d) < 0.5 * pow(10, -decimals(a))) {
        return out;
    }
    int used = snprintf(out.text, sizeof out.text, "%+.*f %s", decimals(a), d, a->unit);
    if (strcmp(a->unit, "Hz") == 0 && a->value > 0 && used > 0 && (size_t)used < sizeof out.text) {
        snprintf(out.text + used, sizeof out.text - (size_t)used, " (%+.1f %%)", 100 * d / a->value);
    }
    return out;
}
