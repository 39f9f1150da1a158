#include "measure.h"

#include <math.h>
#include <stdlib.h>

#include "measure/formants.h"
#include "say.h"

#define SETTLED_S 0.3 /* transitions are over */

static const double pi = 3.14159265358979323846;

void measure_formants(const hyoid_part *part, unsigned code, unsigned level, double hz[FORMANTS])
{
    enum { RATE = 18400 }; /* four times the ceiling: four resonances below 4600 Hz */
    hy_diag diag = {""};
    sound s = {0};
    hold(&s, part, code, level, part->nominal_hz, RATE, 800.0);
    const size_t skip = (size_t)(SETTLED_S * RATE);
    if (hy_formants_measure(s.frames + skip, s.count - skip, RATE, hz, &diag) != 0) {
        abort();
    }
    for (size_t k = 0; k < FORMANTS; k++) {
        hz[k] = isnan(hz[k]) ? 0.0 : hz[k];
    }
    sound_free(&s);
}

void measure_sound(const hyoid_part *part, unsigned code, unsigned level, double *level_db, double *gravity_hz)
{
    enum { SOUND_RATE = 22050, LENGTH = 512, SKIP = 6615 };
    sound s = {0};
    hold(&s, part, code, level, part->nominal_hz, SOUND_RATE, 900.0);
    double power = 0.0, bins[LENGTH / 2] = {0};
    size_t windows = 0;
    for (size_t i = SKIP; i < s.count; i++) {
        power += (double)s.frames[i] * s.frames[i];
    }
    if (level_db != NULL) {
        *level_db = 10.0 * log10(power / (double)(s.count - SKIP) + 1e-20);
    }
    if (gravity_hz != NULL) {
        static double cosine[LENGTH], window[LENGTH];
        if (cosine[0] == 0.0) {
            for (size_t i = 0; i < LENGTH; i++) {
                cosine[i] = cos(2.0 * pi * (double)i / LENGTH);
                window[i] = 0.5 - 0.5 * cos(2.0 * pi * ((double)i + 0.5) / LENGTH);
            }
        }
        for (size_t at = SKIP; at + LENGTH <= s.count; at += LENGTH / 2, windows++) {
            for (size_t k = 1; k < LENGTH / 2; k++) {
                double re = 0.0, im = 0.0;
                for (size_t i = 0; i < LENGTH; i++) {
                    const double v = s.frames[at + i] * window[i];
                    re += v * cosine[i * k % LENGTH];
                    im += v * cosine[(i * k + LENGTH / 4) % LENGTH];
                }
                bins[k] += re * re + im * im;
            }
        }
        double sum = 0.0, moment = 0.0;
        for (size_t k = 1; k < LENGTH / 2; k++) {
            sum += bins[k];
            moment += bins[k] * (double)k * SOUND_RATE / LENGTH;
        }
        *gravity_hz = sum > 0.0 ? moment / sum : 0.0;
    }
    sound_free(&s);
}
