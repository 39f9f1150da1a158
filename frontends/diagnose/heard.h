/* A recording, boiled down to what a reference can be held against. */
#ifndef HY_HEARD_H
#define HY_HEARD_H

#include "recording/floor.h"
#include "recording/recording.h"
#include "recording/spectrum.h"

enum { HY_HEARD_HOP = HY_ANALYSIS_RATE / 200, HY_HEARD_RATE = 200, HY_PITCH_RATE = 50 };

typedef struct hy_heard {
    double seconds;
    hy_hum hum;
    double dc, peak; /* of the file, full scale = 1 */
    double *sum;     /* owned; sums of band energies of the frames before each; HY_BANDS each */
    size_t frames;
    float noise[HY_BANDS]; /* floor: density that the quietest tenth has, and at least -90 dB of the loudest */
    float *pitch;          /* owned; Hz at each 1 / HY_PITCH_RATE s; 0: not voiced */
    size_t pitches;
    double loud;   /* mean density over bands that a tenth of the frames exceed */
    double snr_db; /* that against the floor */
} hy_heard;

/* Takes the hum out of the recording's samples. 0, or -1. */
int hy_heard_make(hy_heard *heard, hy_recording *recording, hy_diag *diag);
void hy_heard_free(hy_heard *heard);

/* Mean energies from a time to another, s: energy[HY_BANDS]. What lies outside the recording is not counted; 0 if nothing is left. */
int hy_heard_energy(const hy_heard *heard, double from, double to, float *energy);

#endif
