/* The numbers of a part in stakes, which are given back together: what is heard as one thing. */
#ifndef HY_STAKES_H
#define HY_STAKES_H

#include <hyoid/hyoid.h>

enum { HY_CONSTANT_STAKES = 11, HY_STAKES = HY_CONSTANT_STAKES + 9 };

/* "the second formant's law"; those from HY_CONSTANT_STAKES on are quantities of all codes. */
const char *hy_stake_name(unsigned stake);

/* The codes lean on it (a formant's law): giving it back alone would leave them where they are right with another one. */
int hy_stake_is_leant_on(unsigned stake);

/* Gives the numbers of a stake in `part` the values that they have in `prior`; how many changed. Pins: quantities that are not touched,
 * [code][quantity]; may be null. */
unsigned hy_stake_restore(hyoid_part *part, const hyoid_part *prior, unsigned stake,
                          unsigned char (*pinned)[HY_STAKES - HY_CONSTANT_STAKES]);

#endif
