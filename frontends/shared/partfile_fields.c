#include "partfile_fields.h"

#include <stdio.h>
#include <string.h>

const char hy_default_part_note[] =
    "The default part is an ESTIMATE from published, recalled and fitted figures, not a reading of any chip.";

/* clang-format off */
#define QUANTITY(name, unit, most, meaning) {#name, unit, meaning, offsetof(hyoid_phoneme, name), most}
/* clang-format on */

const hy_quantity hy_quantities[HY_QUANTITIES] = {
    QUANTITY(f1, "code", 15, "first formant"),
    QUANTITY(f2, "code", 31, "second formant"),
    QUANTITY(f3, "code", 15, "third formant"),
    QUANTITY(bw2, "code", 15, "bandwidth of the second formant"),
    QUANTITY(va, "code", 15, "voice amplitude"),
    QUANTITY(fa, "code", 15, "noise amplitude"),
    QUANTITY(fc, "code", 15, "noise spectrum"),
    QUANTITY(vd, "sixteenth", 15, "voice delay"),
    QUANTITY(cld, "sixteenth", 15, "closure delay of a stop, noise delay of others"),
    QUANTITY(closure, "flag", 1, "stop"),
    QUANTITY(pause, "flag", 1, "silence"),
    QUANTITY(duration, "ms", 65535, "time from latch to request"),
};

/* clang-format off */
#define AT(field) offsetof(hyoid_part, field)
#define COUNT(field, unit, low, high, meaning) {#field, unit, meaning, AT(field), HY_KIND_COUNT, 0, low, high, 0}
#define REAL(field, unit, low, high, open, meaning) {#field, unit, meaning, AT(field), HY_KIND_REAL, 0, low, high, open}
#define SECTION(field, which) \
    REAL(field.k0, "ratio", 0, 2, 1, which " input and loop capacitor at register 0"), \
    REAL(field.ks, "ratio", 0, 2.0 / 255, 0, which " capacitor added per step of the register"), \
    REAL(field.k6, "ratio", 1e-6, 1, 0, which " damping capacitor")
/* clang-format on */

/* Ranges as in hyoid.h; where they hang on other fields, hyoid_part_check is the judge and these are the outer limits. */
const hy_constant hy_constants[HY_CONSTANTS] = {
    REAL(nominal_hz, "Hz", 1, HYOID_CLOCK_MAX, 0, "clock at which the chart's milliseconds hold"),
    COUNT(filter_clocks, "clock", 2, 4096, "clocks in a filter cycle"),
    COUNT(output_clocks, "clock", 1, 4095, "clocks from a filter cycle's start to the audio pin's new level"),
    COUNT(request_delay, "clock", 0, 4294967295.0, "clocks from the latch until request is low"),
    COUNT(burst_slot, "sixteenth", 1, 15, "when a stop opens and bursts"),
    COUNT(formant_cycles, "cycle", 1, 4096, "filter cycles between moves of the formants and the noise spectrum"),
    COUNT(amplitude_cycles, "cycle", 1, 4096, "filter cycles between moves of the amplitudes"),
    COUNT(gate_cycles, "cycle", 1, 4096, "filter cycles between moves of the closing gate"),
    COUNT(transition_shift, "bit", 0, 7, "a move covers the difference / 2^this"),
    COUNT(stop_spectrum_shift, "bit", 0, 7, "the same for the noise spectrum of a stop"),
    COUNT(gate_shift, "bit", 0, 7, "a closing gate loses value / 2^this in a move"),
    {"pitch_period", "cycle", "filter cycles in a pitch period at F1 register 0, by inflection level",
     AT(pitch_period), HY_KIND_COUNT, HYOID_LEVELS, 16, 4096, 0},
    COUNT(pitch_f1_shift, "bit", 0, 8, "the period grows by F1 register / 2^this"),
    COUNT(pulse_length, "entry", 1, HYOID_PULSE_MAX, "entries of pulse in use"),
    {"pulse", "step", "the glottal pulse, one level a filter cycle", AT(pulse), HY_KIND_STEP, HYOID_PULSE_MAX, -32768,
     32767, 0},
    REAL(pulse_unit, "level", 1e-9, 1e3, 0, "model units per step of pulse"),
    COUNT(noise_bits, "bit", 2, 31, "length of the noise register"),
    COUNT(noise_taps, "mask", 1, 2147483647, "bits whose parity is fed back"),
    COUNT(noise_seed, "state", 1, 2147483647, "noise register at power-up"),
    REAL(noise_between_pulses, "ratio", 0, 1, 0, "scale of the noise outside the pulse while voiced"),
    COUNT(amplitude_power, "power", 1, 3, "gain = (register / 255)^this"),
    SECTION(f1, "F1"),
    SECTION(f2, "F2"),
    SECTION(f3, "F3"),
    REAL(f2_k6_step, "ratio", 0, 1, 0, "F2 damping added per bandwidth code"),
    REAL(f4_k, "ratio", 0, 2, 1, "fixed section: input and loop capacitors"),
    REAL(f4_k6, "ratio", 1e-6, 1, 0, "fixed section: damping capacitor"),
    REAL(f4_feed, "ratio", 0, 1e3, 0, "fixed section: unswitched voice input, times f4_k squared"),
    REAL(noise_f2, "ratio", 0, 1e3, 0, "noise ahead of F2, times F2's input capacitor"),
    REAL(noise_f3, "ratio", 0, 1e3, 0, "noise ahead of F3, times F3's input capacitor"),
    REAL(noise_f4, "ratio", 0, 1e3, 0, "noise into the fixed section, times 4 + 2 f4_k6 - f4_k^2"),
    REAL(noise_direct, "ratio", 0, 1e3, 0, "noise past the fixed section into the output"),
    REAL(lowpass_k, "ratio", 0, 1e3, 0, "output low-pass capacitor; 0: no low-pass"),
    REAL(output_gain, "level", 1e-9, 1e3, 0, "audio pin level per model unit"),
};

int hy_quantity_find(const char *name)
{
    for (int i = 0; i < HY_QUANTITIES; i++) {
        if (strcmp(hy_quantities[i].name, name) == 0) {
            return i;
        }
    }
    return -1;
}

unsigned hy_constant_slot(size_t constant)
{
    unsigned slot = 0;
    for (size_t i = 0; i < constant; i++) {
        slot += hy_constants[i].count > 0 ? hy_constants[i].count : 1;
    }
    return slot;
}

/* Reads "[N]" to the end of the string, in the one form in which N has no leading zero. */
static int index_of(const char *text)
{
    int index = 0;
    const char *digit = text + 1;
    if (text[0] != '[' || (digit[0] == '0' && digit[1] != ']')) {
        return -1;
    }
    for (; *digit >= '0' && *digit <= '9' && index < 100000; digit++) {
        index = index * 10 + (*digit - '0');
    }
    return digit > text + 1 && strcmp(digit, "]") == 0 ? index : -1;
}

int hy_constant_find(const char *name, size_t *constant)
{
    size_t length = strcspn(name, "[");
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        if (strlen(c->name) != length || memcmp(c->name, name, length) != 0) {
            continue;
        }
        if (c->count == 0) {
            *constant = i;
            return name[length] == '\0' ? (int)hy_constant_slot(i) : -1;
        }
        int index = index_of(name + length);
        *constant = i;
        return index >= 0 && (unsigned)index < c->count ? (int)hy_constant_slot(i) + index : -1;
    }
    return -1;
}

const char *hy_constant_name(const hy_constant *constant, unsigned index, char *buffer, size_t size)
{
    if (constant->count == 0) {
        return constant->name;
    }
    snprintf(buffer, size, "%s[%u]", constant->name, index);
    return buffer;
}

unsigned hy_constant_entries(const hy_constant *constant, const hyoid_part *part)
{
    if (constant->count == 0) {
        return 1;
    }
    return constant->kind == HY_KIND_STEP ? part->pulse_length : constant->count;
}

const char *hy_part_note(const hyoid_part *part)
{
    return hyoid_part_hash(part) == hyoid_part_hash(hyoid_part_default()) ? hy_default_part_note : "";
}
