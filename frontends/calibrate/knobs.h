/* The numbers that all phonemes share, as things that a search can turn: several fields may move together (a section's law is
 * shifted as a whole, or tilted), and each has a natural size of step. */
#ifndef HY_KNOBS_H
#define HY_KNOBS_H

#include <stddef.h>

#include <hyoid/hyoid.h>

enum { HY_REAL_KNOBS = 22, HY_COUNT_KNOBS = 5 };

/* Turns real knob i by `by`: about the relative change of what is heard, so that 0.01 is a small step of any. 0, and the part is
 * spoilt, if that leaves what a part may be. */
int hy_knob_turn(hyoid_part *part, unsigned i, double by);

/* How much the real number (or the pulse) at this offset in hyoid_part changes, relative to itself, for a turn of 1 of real knob
 * i; 0: not at all. */
double hy_knob_effect(const hyoid_part *part, unsigned i, size_t offset);

/* Moves counting knob i by whole steps. As above. */
int hy_knob_count(hyoid_part *part, unsigned i, int by);

/* Whether counting knob i is one of a closure's rate. */
int hy_knob_is_closure(unsigned i);

/* The glottal pulse as two times (filter cycles, not whole) give it: opening (1 - cos(pi t / opening)) / 2, then closing
 * cos(pi (t - opening) / closing) down to 0, differentiated. A usual shape of glottal flow (practice). */
void hy_pulse_shape(hyoid_part *part, double opening, double closing);

/* Whether a pulse of these times is long enough to be one and short enough for the table. */
int hy_pulse_fits(double opening, double closing);
/* The two times of a pulse that has this shape; near ones of another. */
void hy_pulse_times(const hyoid_part *part, double *opening, double *closing);

#endif
