/* A recording, boiled down to what a reference can be held against. */
#ifndef HY_HEARD_H
#define HY_HEARD_H

#include "recording/floor.h"
#include "recording/recording.h"
#include "recording/spectrum.h"

enum {
    HY_HEARD_HOP = HY_ANALYSIS_RATE / 200,
    HY_HEARD_RATE = 200,
    HY_PITCH_RATE = 50,
    HY_LOW_RATE = 1500,
    HY_BROAD = 8
};

typedef struct hy_heard {
    double seconds;
    hy_hum hum;      /* that was taken out; nominal_hz 0: none was */
    double mains_hz; /* as measured, or 0 */
    float *low;      /* owned; the recording at HY_LOW_RATE */
    size_t lows;
    double dc, peak; /* of the file, full scale = 1 */
    double *sum;     /* owned; sums of band energies of the frames before each; HY_BANDS each */
    double *broad;   /* owned; the same of HY_BROAD groups of bands */
    size_t frames;
    float noise[HY_BANDS]; /* floor: mean density where it is quietest; at least -90 dB of the loudest */
    float *pitch;          /* owned; Hz at each 1 / HY_PITCH_RATE s; 0: not voiced */
    size_t pitches;
    double loud;   /* mean density over bands that a tenth of the frames exceed */
    double snr_db; /* that against the floor */
} hy_heard;

/* 0, or -1. */
int hy_heard_make(hy_heard *heard, const hy_recording *recording, hy_diag *diag);
void hy_heard_free(hy_heard *heard);

/* Mean energies from a time to another, s: energy[HY_BANDS]. What lies outside the recording is not counted; 0 if nothing is left. */
int hy_heard_energy(const hy_heard *heard, double from, double to, float *energy);

/* The same in HY_BROAD groups of neighbouring bands, as their sums: quicker. */
int hy_heard_broad(const hy_heard *heard, double from, double to, float *energy);

typedef struct hy_tone {
    double level_db, beside_db; /* of the tone, and of what is a few hertz beside it, dBFS (RMS) */
    int doubtful;               /* mains stands there too, or could */
} hy_tone;

/* A tone of hz that is there at all times. */
hy_tone hy_heard_tone(const hy_heard *heard, double hz);

#endif
