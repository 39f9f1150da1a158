/* What a phonetician would measure on a held sound, quickly and in process: the search asks these, the tests ask a phonetics tool
 * (tests/outside/voice), and the two are compared there. */
#ifndef TUNING_MEASURE_H
#define TUNING_MEASURE_H

#include <hyoid/hyoid.h>

enum { FORMANTS = 3 };

/* First three formants of a held code, Hz: medians over 0.4 s of Burg's method with 8 poles on 0..4600 Hz, Gaussian windows of 25 ms,
 * emphasis from 50 Hz up. */
void measure_formants(const hyoid_part *part, unsigned code, unsigned level, double hz[FORMANTS]);

/* Held code: rms level in dB of full scale, and spectral centre of gravity (of the power spectrum, 0..11 kHz), Hz. Either may be
 * null. */
void measure_sound(const hyoid_part *part, unsigned code, unsigned level, double *level_db, double *gravity_hz);

#endif
