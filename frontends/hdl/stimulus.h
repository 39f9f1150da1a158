/* Random, constrained stimulus: a host that does what hosts should not, at the clocks where it hurts.
 *
 * Strobes come in the clock in which the timer ends and beside it, at a filter cycle's start and beside it, while request
 * is about to fall, in two clocks in a row, twice within one clock, while strobe is held, and after request; codes change
 * while strobe is high and right behind its edge; inflection changes between filter cycles; the clock's
 * period jumps. The same seed gives the same stimulus with the same part. */
#ifndef HY_HDL_STIMULUS_H
#define HY_HDL_STIMULUS_H

#include "pair.h"

enum { HY_STEPS = 16 };

typedef struct hy_stimulus {
    uint64_t random;
    uint64_t clocks; /* how many are wanted */
    uint64_t next;   /* clock that the next change of pins acts in */
    unsigned code, inflection, strobe;
    unsigned period; /* of the clock, ns, 8..60000 */
    unsigned nominal;
    int last; /* code of the last strobe edge among the steps, or -1 */
    uint32_t step[HY_STEPS];
    unsigned steps, at;
} hy_stimulus;

void hy_stimulus_init(hy_stimulus *s, uint64_t seed, uint64_t clocks, const hyoid_part *part);

/* After each clock of the pair that did work: plans what happens ahead of the next one, and wakes the pair in time. */
void hy_stimulus_follow(hy_stimulus *s, hy_pair *pair);

/* Steps that still have to be taken ahead of the next clock, and the next of them: bits 0..8 as in a word, 16..31 the clock's
 * period in ns. Without one left, the pins as they stand. */
unsigned hy_stimulus_pending(const hy_stimulus *s);
uint32_t hy_stimulus_take(hy_stimulus *s);

#endif
