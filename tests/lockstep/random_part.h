/* Parts drawn at random from everything that hyoid_part_check allows, with a liking for the small and the extreme. */
#ifndef HYOID_TESTS_RANDOM_PART_H
#define HYOID_TESTS_RANDOM_PART_H

#include "hyoid/hyoid.h"

#include <stdint.h>

/* The next number of a sequence (splitmix64); *state is its seed and its state. */
uint64_t random_bits(uint64_t *state);

/* A whole number in low..high: each equally likely; or low ones much more often. */
uint64_t random_between(uint64_t *state, uint64_t low, uint64_t high);
uint64_t random_scale(uint64_t *state, uint64_t low, uint64_t high);

void random_part(uint64_t *state, hyoid_part *part);

#endif
