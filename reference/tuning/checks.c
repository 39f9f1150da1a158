#include "checks.h"

#include <math.h>
#include <stddef.h>

#include "measure.h"

const vowel vowels[VOWELS] = {
    {"iy", 0x2c, {266.7, 2293.8, 2937.4}}, {"ih", 0x27, {392.3, 1993.4, 2568.7}},
    {"eh", 0x3b, {526.2, 1854.4, 2481.4}}, {"ae", 0x2e, {663.7, 1727.1, 2419.7}},
    {"aa", 0x24, {718.4, 1090.9, 2442.1}}, {"ao", 0x3d, {568.3, 836.3, 2403.2}},
    {"uh", 0x17, {436.8, 1023.3, 2245.3}}, {"uw", 0x28, {307.4, 876.0, 2239.0}},
    {"ah", 0x33, {630.6, 1191.9, 2377.3}}, {"er", 0x3a, {488.5, 1359.8, 1708.9}},
};

double formant_tolerance(const vowel *v, unsigned formant)
{
    static const double step[3] = {650.0 / 15.0, 1900.0 / 31.0, 1700.0 / 15.0};
    return step[formant] + 0.05 * v->hz[formant];
}

double vowel_error(const hyoid_part *part, const vowel *v)
{
    double worst = 0.0;
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        double hz[FORMANTS];
        measure_formants(part, v->code, level, hz);
        for (unsigned k = 0; k < FORMANTS; k++) {
            worst = fmax(worst, fabs(hz[k] - v->hz[k]) / formant_tolerance(v, k));
        }
    }
    return worst;
}

/* Adds what value misses [low, high] by, in units of `unit`. */
static double outside(double value, double low, double high, double unit, const char *what, FILE *report)
{
    const double miss = value < low ? low - value : value > high ? value - high : 0.0;
    if (miss > 0.0 && report != NULL) {
        fprintf(report, "%s: %.4g, allowed %.4g to %.4g\n", what, value, low, high);
    }
    return miss / unit;
}

static double breach_vowels(const hyoid_part *part, double margin, FILE *report)
{
    double breach = 0.0;
    for (size_t i = 0; i < VOWELS; i++) {
        breach += outside(vowel_error(part, &vowels[i]), 0.0, 1.0 - margin, 1.0, vowels[i].symbol, report);
    }
    return breach;
}

/* The vowels' level that sounds are compared with: the mean of the ten, dB. */
static double vowel_level(const hyoid_part *part)
{
    double sum = 0.0;
    for (size_t i = 0; i < VOWELS; i++) {
        double db;
        measure_sound(part, vowels[i].code, 2, &db, NULL);
        sum += db;
    }
    return sum / VOWELS;
}

static double breach_fricatives(const hyoid_part *part, double margin, FILE *report)
{
    /* Jongman et al. 2000: centre of gravity and level against the vowel. Tolerances, ours: 15 %; 5 dB for the strong ones, 8 dB
     * for the weak ones. */
    static const struct {
        const char *name;
        unsigned code;
        double hz, db, tolerance_db;
    } table[4] = {{"s", 0x1f, 6133.0, -10.0, 5.0},
                  {"sh", 0x11, 4229.0, -9.0, 5.0},
                  {"f", 0x1d, 5108.0, -17.0, 8.0},
                  {"th", 0x39, 5137.0, -18.0, 8.0}};
    static const unsigned voiced[4] = {0x12, 0x07, 0x0f,
                                       0x38}; /* z zh v dh: their level must not fall into silence */
    const double reference = vowel_level(part), keep = 1.0 - margin;
    double breach = 0.0, hz[4], db[4];
    for (size_t i = 0; i < 4; i++) {
        measure_sound(part, table[i].code, 2, &db[i], &hz[i]);
        db[i] -= reference;
        breach += outside(hz[i], table[i].hz * (1.0 - 0.15 * keep), table[i].hz * (1.0 + 0.15 * keep), 1000.0,
                          table[i].name, report);
        breach += outside(db[i], table[i].db - table[i].tolerance_db * keep,
                          table[i].db + table[i].tolerance_db * keep, 10.0, table[i].name, report);
        double level;
        measure_sound(part, voiced[i], 2, &level, NULL);
        breach += outside(level - reference, -22.0, 0.0, 10.0, "voiced fricative", report);
    }
    /* s highest, sh lowest; s and sh stronger than f and th */
    breach += outside(hz[0] - fmax(hz[2], hz[3]), 150.0, 1e9, 1000.0, "s above f and th, Hz", report);
    breach += outside(fmin(hz[2], hz[3]) - hz[1], 150.0, 1e9, 1000.0, "sh below f and th, Hz", report);
    breach += outside(fmin(db[0], db[1]) - fmax(db[2], db[3]), 4.0, 1e9, 10.0, "s sh above f th, dB", report);
    double breath;
    measure_sound(part, 0x1b, 2, &breath, NULL);
    breach += outside(breath - reference, -28.0, -8.0, 10.0, "hh, dB", report);
    return breach;
}

static double breach_nasals(const hyoid_part *part, FILE *report)
{
    /* the murmur's first pole: 250 to 300 Hz (Stevens 1998), give or take a step of F1 */
    static const unsigned codes[3] = {0x0c, 0x0d, 0x14};
    const double reference = vowel_level(part);
    double breach = 0.0;
    for (size_t i = 0; i < 3; i++) {
        const double hz = 200.0 + 650.0 * part->phoneme[codes[i]].f1 / 15.0;
        double db;
        measure_sound(part, codes[i], 2, &db, NULL);
        breach += outside(hz, 243.0, 331.0, 100.0, "nasal F1 by its capacitors", report);
        breach += outside(db - reference, -14.0, -2.0, 10.0, "nasal level", report);
    }
    return breach;
}

static double breach_pitch(const hyoid_part *part, FILE *report)
{
    /* high (iy uw) above low (ae aa) vowels: 1.8 semitones in men, half to one and a half times that */
    double breach = 0.0;
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        double semitones[4];
        static const unsigned codes[4] = {0x2c, 0x28, 0x2e, 0x24};
        for (size_t i = 0; i < 4; i++) {
            const unsigned period =
                part->pitch_period[level] + (17u * part->phoneme[codes[i]].f1 >> part->pitch_f1_shift);
            semitones[i] = -12.0 * log2((double)period);
        }
        breach += outside(0.5 * (semitones[0] + semitones[1] - semitones[2] - semitones[3]), 0.9, 2.7, 1.0,
                          "intrinsic pitch", report);
    }
    return breach;
}

static double breach_stops(const hyoid_part *part, FILE *report)
{
    /* p t k have no voice of their own, b d g keep theirs, so that voice onset time keeps its order */
    static const unsigned codes[6] = {0x25, 0x2a, 0x19, 0x0e, 0x1e, 0x1c};
    double breach = 0.0;
    for (size_t i = 0; i < 6; i++) {
        const hyoid_phoneme *p = &part->phoneme[codes[i]];
        breach += outside(p->va, i < 3 ? 0.0 : 3.0, i < 3 ? 0.0 : 15.0, 1.0, "a stop's voice", report);
        breach += outside(p->fa, i < 3 ? 4.0 : 1.0, 15.0, 1.0, "a stop's burst", report);
        breach += outside(p->cld, 0.0, 8.0, 1.0, "a stop's closure", report);
    }
    return breach;
}

double checks_breach(const hyoid_part *part, unsigned what, double margin, FILE *report)
{
    double breach = 0.0;
    breach += what & CHECK_PITCH ? breach_pitch(part, report) : 0.0;
    breach += what & CHECK_STOPS ? breach_stops(part, report) : 0.0;
    breach += what & CHECK_NASALS ? breach_nasals(part, report) : 0.0;
    breach += what & CHECK_FRICATIVES ? breach_fricatives(part, margin, report) : 0.0;
    breach += what & CHECK_VOWELS ? breach_vowels(part, margin, report) : 0.0;
    return breach;
}
