/* Where the noise register stood when things were said. Its sequence is part of the chip; a recording of enough noise shows which
 * stretch of it was heard. With that known, the model makes the very noise of the recording, and chance is no excuse. */
#ifndef HY_NOISE_PLACE_H
#define HY_NOISE_PLACE_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "material.h"

enum { HY_NOISE_PERIOD_MAX = 1 << 16 };

/* The register's states in the order in which it takes them. */
typedef struct hy_noise_cycle {
    uint32_t period;
    uint32_t state[HY_NOISE_PERIOD_MAX];
} hy_noise_cycle;

/* 0, or -1: the register of this part has more states than a recording could tell apart, or is stuck. */
int hy_noise_cycle_of(const hyoid_part *part, hy_noise_cycle *cycle);

/* What was found. */
typedef struct hy_noise_places {
    size_t heard;   /* items that are noise, long enough to be asked */
    size_t agree;   /* of these, those that tell one and the same sequence */
    uint32_t *when; /* caller's, one for each item: where in the cycle the register stood when the item began */
} hy_noise_places;

/* Looks for the cycle in a recording, with a part whose noises are roughly right. 1: found, and when[] filled in for all items;
 * 0: not told; -1: memory. */
int hy_noise_place(const hyoid_part *part, const hy_material *m, const hy_noise_cycle *cycle,
                   hy_noise_places *places);

#endif
