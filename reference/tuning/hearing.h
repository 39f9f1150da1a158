/* The tuning words and how well each is understood. */
#ifndef TUNING_HEARING_H
#define TUNING_HEARING_H

#include <stddef.h>

#include <hyoid/hyoid.h>

/* Reads the list and hears all of it from a part. Ends the program with a message if the list or the recogniser is missing. */
void hearing_open(const char *path, const hyoid_part *part);
void hearing_close(void);

/* Sum of the words' costs; how many were misunderstood, of how many. */
double hearing_cost(size_t *wrong, size_t *count);

/* Does the trial part cost less, by at least `gain`, on the words that use the symbol of `code` (-1: all)? hearing_take then makes the
 * trial's costs the present ones. */
int hearing_better(const hyoid_part *trial, int code, double gain);
void hearing_take(void);

#endif
