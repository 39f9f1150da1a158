/* What a chip with one fault would have said, boiled down to what a recording can be held against: for each phoneme where it
 * begins at any clock, its band energies in a few slices of time, and its pitch. */
#ifndef HY_REFERENCE_H
#define HY_REFERENCE_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "input.h"
#include "recording/spectrum.h"

enum { HY_HEALTHY = -1 };

/* A supposition: one fault at one strength. */
typedef struct hy_supposition {
    int fault; /* a hyoid_fault, or HY_HEALTHY */
    double strength;
} hy_supposition;

/* One phoneme. It begins `host_s` + `chip_s` / c seconds after the input's time 0, if the part's clock is c times what the input
 * states: waits of the host are its own, waits for request are the chip's. */
typedef struct hy_segment {
    double host_s, chip_s;
    float f0;              /* Hz at c = 1; 0: not voiced, or too short to tell */
    uint8_t code;          /* as the chip took it */
    uint8_t level;         /* inflection, as the chip took it */
    uint8_t voiced, noisy; /* by its registers, at its end */
    uint32_t first, slices;
} hy_segment;

typedef struct hy_reference {
    hy_supposition is;
    hy_segment *segment; /* owned; one more, without slices, marks the end */
    size_t segments;
    float *energy; /* owned; density per Hz, HY_BANDS for each slice */
    size_t slices;
    double seconds;  /* at c = 1 */
    double clock_hz; /* where it began, at c = 1 */
    double scale;    /* the clock at c = 1 against what the input states */
    double mean;     /* of the pin, full scale = 1 */
    double loud;     /* mean density over bands that a tenth of the slices exceed; 0: silent */
} hy_reference;

typedef struct hy_reference_setup {
    const hy_input *input;
    const hyoid_part *part;
    hy_host_options host; /* clock and level where the input sets none */
    double longest;       /* seconds: no more is played */
    double scale;         /* of the stated clock, at which it is played: c counts from there */
} hy_reference_setup;

/* The suppositions that are tried: healthy first, each fault, graded ones at several strengths. Static storage. */
const hy_supposition *hy_suppositions(size_t *count);

/* `like`: the healthy reference, which saves time where a fault does not touch times; null for that one itself. Null on error. */
hy_reference *hy_reference_make(const hy_reference_setup *setup, hy_supposition is, const hy_reference *like,
                                hy_diag *diag);
void hy_reference_free(hy_reference *reference);

/* The samples alone, at HY_ANALYSIS_RATE and a clock of `scale` times the setup's: what a bench set is made of. The caller frees
 * them. Null on error. */
float *hy_reference_sound(const hy_reference_setup *setup, hy_supposition is, double scale, size_t *count,
                          hy_diag *diag);

#endif
