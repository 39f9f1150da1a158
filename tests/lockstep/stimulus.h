/* What the pair of chips is made to live through. */
#ifndef HYOID_TESTS_STIMULUS_H
#define HYOID_TESTS_STIMULUS_H

#include "pair.h"

/* Parts and pins at random, and at the worst of moments, for so many clocks or until the first difference. */
void try_parts(struct lockstep *l, uint64_t seed, uint64_t cycles, enum slow_mistake mistake);

#endif
