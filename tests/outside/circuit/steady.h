/* A vowel that has become steady, and its exact line spectrum: what `hold` and `alias` measure against.
 *
 * A vowel without noise repeats every P filter cycles. Its staircase is then a sum of lines at j f0, f0 = clock / (clocks
 * in a filter cycle * P), and line j has in closed form
 *
 *     X[j mod P] * sin(pi j/P) / (pi j/P) * exp(-i pi j/P)        X: the discrete Fourier series of the P levels
 *
 * measured from the edge of level 0. Lines beyond P/2 are the images of those below. */
#ifndef HYOID_TEST_STEADY_H
#define HYOID_TEST_STEADY_H

#include <complex.h>
#include <stdbool.h>

#include <hyoid/hyoid.h>

enum { STEADY_PERIOD_MAX = 512 };

/* All that a stream hands out. */
typedef struct recording {
    float *frames;
    size_t frame_count, frame_room;
    hyoid_level *levels; /* with the clock in which the pin took each */
    size_t level_count, level_room;
    double worst_edge; /* ps by which a level's time differs from `edge_time`, if that is set */
    long double (*edge_time)(const void *schedule, uint64_t cycle); /* seconds */
    const void *schedule;
} recording;

/* Copies into the recording; ends the program if memory runs out. */
hyoid_observer recording_observer(recording *r);
void recording_free(recording *r);

typedef struct steady {
    uint32_t period; /* P */
    double clock_hz;
    uint32_t rate;
    long double f0;     /* Hz */
    long double origin; /* s: edge of level 0 */
    double complex x[STEADY_PERIOD_MAX];
    float *frames; /* host samples first, first + 1, ... */
    int64_t first;
    size_t count;
    recording all;
} steady;

/* Speaks `code` until it is steady and keeps `count` host samples from there on, with or without the staircase's images.
 * Ends the program if the vowel is noisy or not periodic. Give a steady to steady_free. */
void steady_render(steady *s, unsigned code, double clock_hz, uint32_t rate, bool images, size_t count);
void steady_free(steady *s);

/* Line j of the staircase; the real signal has twice its real part (j > 0). */
double complex steady_line(const steady *s, unsigned j);
double steady_sinc(double x); /* sin(pi x) / (pi x) */
double steady_db(double ratio);

#endif
