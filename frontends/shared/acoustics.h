/* What the part's numbers mean in hertz and decibels, for people: displays and checks. The chip itself computes with
 * capacitor ratios and needs none of this, so libm is allowed here. */
#ifndef HY_ACOUSTICS_H
#define HY_ACOUSTICS_H

#include <hyoid/hyoid.h>

/* A two-integrator section with loop capacitors k and damping k6, stepped cycle_hz times a second:
 * cos(2 pi F / fs) = (2 + k6 - k^2) / (2 sqrt(1 + k6)). NaN if the poles are real (no resonance). */
double hy_resonance_hz(double k, double k6, double cycle_hz);

/* Its bandwidth, fs ln(1 + k6) / (2 pi): the damping alone sets it. */
double hy_bandwidth_hz(double k6, double cycle_hz);

/* The 8-bit register values that codes of 4 and 5 bits stand for: the code's bits repeated. */
unsigned hy_register4(unsigned code);
unsigned hy_register5(unsigned code);

typedef struct hy_formants {
    double f1, f2, f3, f4;
    double bw1, bw2, bw3, bw4;
} hy_formants;

/* Where the resonances stand when a phoneme has been held for long, at the part's nominal clock, Hz. */
hy_formants hy_phoneme_formants(const hyoid_part *part, unsigned code);

/* Filter cycles in a second at the part's nominal clock. */
double hy_cycle_hz(const hyoid_part *part);

/* Gain of an amplitude code against the largest code, dB; -INFINITY for code 0. */
double hy_amplitude_db(const hyoid_part *part, unsigned code);

/* How the noise of a spectrum code is shared: the shares sum to 1. */
typedef struct hy_noise_shares {
    double fixed; /* at the fixed section and past it: front of the mouth */
    double f3, f2;
} hy_noise_shares;

hy_noise_shares hy_spectrum_shares(unsigned code);

#endif
