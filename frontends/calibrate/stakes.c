#include "stakes.h"

#include <stddef.h>
#include <string.h>

#include "partfile_fields.h"

#define AT(field)                                                                                                    \
    {                                                                                                                \
        offsetof(hyoid_part, field), sizeof(((hyoid_part *)0)->field)                                                \
    }

typedef struct span {
    size_t offset, size;
} span;

enum { SPANS = 5 };

static const struct {
    const char *name;
    span spans[SPANS];
} constants[HY_CONSTANT_STAKES] = {
    {"the first formant's law", {AT(f1.k0), AT(f1.ks)}},
    {"the first formant's width", {AT(f1.k6)}},
    {"the second formant's law", {AT(f2.k0), AT(f2.ks)}},
    {"the second formant's widths", {AT(f2.k6), AT(f2_k6_step)}},
    {"the third formant's law", {AT(f3.k0), AT(f3.ks)}},
    {"the third formant's width", {AT(f3.k6)}},
    {"the fixed resonator", {AT(f4_k), AT(f4_k6), AT(f4_feed)}},
    {"the glottal pulse", {AT(pulse), AT(pulse_length), AT(pulse_unit)}},
    {"the noise couplings", {AT(noise_f2), AT(noise_f3), AT(noise_f4), AT(noise_direct), AT(noise_between_pulses)}},
    {"the transitions' rates", {AT(formant_cycles), AT(amplitude_cycles), AT(transition_shift)}},
    {"the closure's rate", {AT(gate_cycles), AT(gate_shift)}},
};

const char *hy_stake_name(unsigned stake)
{
    static const char *const quantities[HY_STAKES - HY_CONSTANT_STAKES] = {
        "F1 of all codes",  "F2 of all codes",    "F3 of all codes",
        "the widths of F2", "voice levels",       "noise levels",
        "noise spectra",    "the voice's delays", "the noise's and closures' delays"};
    return stake < HY_CONSTANT_STAKES ? constants[stake].name : quantities[stake - HY_CONSTANT_STAKES];
}

int hy_stake_is_leant_on(unsigned stake)
{
    return stake < 5; /* the laws and widths of F1 and F2, and F3's law */
}

unsigned hy_stake_restore(hyoid_part *part, const hyoid_part *prior, unsigned stake,
                          unsigned char (*pinned)[HY_STAKES - HY_CONSTANT_STAKES])
{
    unsigned changed = 0;
    if (stake < HY_CONSTANT_STAKES) {
        for (int i = 0; i < SPANS && constants[stake].spans[i].size > 0; i++) {
            const span *s = &constants[stake].spans[i];
            char *now = (char *)part + s->offset;
            const char *was = (const char *)prior + s->offset;
            changed += memcmp(now, was, s->size) != 0;
            memcpy(now, was, s->size);
        }
        return changed;
    }
    unsigned quantity = stake - HY_CONSTANT_STAKES;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        uint8_t *now = (uint8_t *)&part->phoneme[code] + hy_quantities[quantity].offset;
        uint8_t was = *((const uint8_t *)&prior->phoneme[code] + hy_quantities[quantity].offset);
        if (*now != was && (pinned == NULL || !pinned[code][quantity])) {
            *now = was;
            changed++;
        }
    }
    return changed;
}
