/* The published figures that bound every search, and how far a part is from them. */
#ifndef TUNING_CHECKS_H
#define TUNING_CHECKS_H

#include <stdio.h>

#include <hyoid/hyoid.h>

/* The ten vowels of Peterson & Barney 1952, by their longest code, with the men's means (reference/tables). */
typedef struct vowel {
    const char *symbol;
    unsigned code;
    double hz[3];
} vowel;

enum { VOWELS = 10 };
extern const vowel vowels[VOWELS];

/* Tolerance of a formant (0..2): the step of its code and 5 % of the target. */
double formant_tolerance(const vowel *v, unsigned formant);

/* Largest |measured - target| / tolerance over the formants of a vowel at all four levels. */
double vowel_error(const hyoid_part *part, const vowel *v);

/* How far the part is outside the bounds: 0 if it keeps them all. what: bits of CHECK_*; `margin` of a tolerance is held back (0.1:
 * stay within 90 % of it). Each breach is printed to `report` if that is not null. */
enum { CHECK_VOWELS = 1, CHECK_FRICATIVES = 2, CHECK_NASALS = 4, CHECK_PITCH = 8, CHECK_STOPS = 16, CHECK_ALL = 31 };
double checks_breach(const hyoid_part *part, unsigned what, double margin, FILE *report);

#endif
