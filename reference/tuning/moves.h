/* Moves of a part's numbers by one step: phoneme codes (all variants of a symbol at once) and constants. */
#ifndef TUNING_MOVES_H
#define TUNING_MOVES_H

#include <hyoid/hyoid.h>

/* The quantities that a search may move, in the order of hy_quantities. */
enum { F1, F2, F3, BW2, VA, FA, FC, VD, CLD, MOVABLE };

uint8_t *number(hyoid_part *part, unsigned code, unsigned quantity);
int same_symbol(unsigned a, unsigned b);
unsigned first_of_symbol(unsigned code);

/* Adds delta to a quantity of every variant of a code's symbol; 0 if one would leave its range. */
int move_number(hyoid_part *part, unsigned code, unsigned quantity, int delta);

/* Moves constant number `which` one step up or down (sign); 0 if that is out of range. The glottal pulse moves by its two times, which
 * recognise_pulse reads off the part. */
enum { CONSTANTS = 21 };
extern const char *const constant_names[CONSTANTS];
int move_constant(hyoid_part *part, size_t which, int sign);
void recognise_pulse(const hyoid_part *part);

#endif
