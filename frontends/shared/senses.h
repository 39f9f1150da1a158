/* What a number of a part is to the ear or on a scope: one value with a unit, for comparing two parts. At the part's own nominal
 * clock. */
#ifndef HY_SENSES_H
#define HY_SENSES_H

#include <hyoid/hyoid.h>

#include "partfile_fields.h"

typedef struct hy_sense {
    double value;     /* NaN: it can't be told (a damped section has no resonance); -INFINITY dB: silent */
    const char *unit; /* "Hz", "dB", "ms", "us", "%", "semitones"; "" if the number itself says all */
    const char *what; /* such as "second formant"; static storage */
} hy_sense;

/* A quantity of the phoneme memory (index in hy_quantities). */
hy_sense hy_sense_of_quantity(const hyoid_part *part, unsigned code, int quantity);

/* Entry `index` of a constant. */
hy_sense hy_sense_of_constant(const hyoid_part *part, const hy_constant *constant, unsigned index);

/* The value as text with its unit: "2411.0 Hz", "silent", or empty if there is none. */
typedef struct hy_sense_text {
    char text[48];
} hy_sense_text;
hy_sense_text hy_sense_say(const hy_sense *sense);

/* From a to b: "+49.3 Hz (+2.0 %)", "-3.1 dB"; empty if either has no value or they are the same to the last digit shown. */
hy_sense_text hy_sense_difference(const hy_sense *a, const hy_sense *b);

#endif
