#include "acoustics.h"

#include <math.h>

static const double two_pi = 6.283185307179586476925286766559;

double hy_resonance_hz(double k, double k6, double cycle_hz)
{
    return cycle_hz * acos((2 + k6 - k * k) / (2 * sqrt(1 + k6))) / two_pi;
}

double hy_bandwidth_hz(double k6, double cycle_hz)
{
    return cycle_hz * log1p(k6) / two_pi;
}

unsigned hy_register4(unsigned code)
{
    return code << 4 | code;
}

unsigned hy_register5(unsigned code)
{
    return code << 3 | code >> 2;
}

double hy_cycle_hz(const hyoid_part *part)
{
    return part->nominal_hz / part->filter_clocks;
}

static double section_hz(const hyoid_section *section, unsigned reg, double k6, double cycle_hz)
{
    return hy_resonance_hz(section->k0 + section->ks * reg, k6, cycle_hz);
}

hy_formants hy_phoneme_formants(const hyoid_part *part, unsigned code)
{
    const hyoid_phoneme *phoneme = &part->phoneme[code];
    double cycle_hz = hy_cycle_hz(part);
    double k6 = part->f2.k6 + part->f2_k6_step * phoneme->bw2;
    return (hy_formants){
        .f1 = section_hz(&part->f1, hy_register4(phoneme->f1), part->f1.k6, cycle_hz),
        .f2 = section_hz(&part->f2, hy_register5(phoneme->f2), k6, cycle_hz),
        .f3 = section_hz(&part->f3, hy_register4(phoneme->f3), part->f3.k6, cycle_hz),
        .f4 = hy_resonance_hz(part->f4_k, part->f4_k6, cycle_hz),
        .bw1 = hy_bandwidth_hz(part->f1.k6, cycle_hz),
        .bw2 = hy_bandwidth_hz(k6, cycle_hz),
        .bw3 = hy_bandwidth_hz(part->f3.k6, cycle_hz),
        .bw4 = hy_bandwidth_hz(part->f4_k6, cycle_hz),
    };
}

double hy_amplitude_db(const hyoid_part *part, unsigned code)
{
    return 20 * part->amplitude_power * log10(hy_register4(code) / 255.0);
}

hy_noise_shares hy_spectrum_shares(unsigned code)
{
    double x = hy_register4(code) / 127.5;
    if (x < 1) {
        return (hy_noise_shares){.fixed = 1 - x, .f3 = x, .f2 = 0};
    }
    return (hy_noise_shares){.fixed = 0, .f3 = 2 - x, .f2 = x - 1};
}
