/* Figures of a recording, phoneme code by phoneme code, beside those of the model: what is judged.
 *
 * How well a figure is known comes from the model itself: the good part is rendered several times more, each time with another
 * history of noise and pitch and with the recording's own noise added, and analysed just like the recording. What those
 * renderings differ by, two good chips would differ by in this recording. */
#ifndef HY_FIGURES_H
#define HY_FIGURES_H

#include "align.h"

typedef enum hy_measure {
    HY_M_DURATION, /* %: longer than the model's at the part's own clock */
    HY_M_F0,       /* %: above the model's at the part's own clock */
    HY_M_F1,       /* % */
    HY_M_F2,       /* % */
    HY_M_F3,       /* % */
    HY_M_LSD,   /* dB: log-spectral distance of long-term spectra in mel bands (pitch-normalised), level left out */
    HY_M_MCD,   /* dB: mel-cepstral distance of the same, c1..c13, minimum-phase convention */
    HY_M_LEVEL, /* dB: louder than the model against the whole recording's gain */
    HY_M_CLOSURE, /* dB: louder than the model while a stop's gate is closed, below full speech by at least 40 dB set equal */
    HY_M_ONSET, /* ms: slower rise from silence, from a fifth to four fifths of the rise in dB */
    HY_MEASURES
} hy_measure;

/* Name as limits files and JSON have it ("duration", "f0", ...), its unit, and a line of what it is; static. */
const char *hy_measure_name(hy_measure quantity);
const char *hy_measure_unit(hy_measure quantity);
const char *hy_measure_what(hy_measure quantity);

typedef enum hy_known {
    HY_NOT_THERE, /* this kind of sound has no such quantity */
    HY_NOT_SEEN, /* edges that can't be seen, a pitch that can't be heard, a formant that even the model doesn't show */
    HY_TOO_NOISY,   /* the noise covers it */
    HY_OUT_OF_BAND, /* the recording does not carry it */
    HY_TOO_SHORT,   /* not enough of it was recorded */
    HY_KNOWN
} hy_known;

/* Why a quantity is not known, in words; static. */
const char *hy_known_why(hy_known known);

typedef struct hy_figure {
    hy_known known;
    double model, recording; /* in the quantity's own unit: ms, Hz, dB; 0 where only the difference is defined */
    double value;            /* what is judged, in hy_measure_unit */
    double uncertainty;      /* two standard deviations, same unit */
    double usual;            /* distances: what good chips have in this recording (already taken out of `value`) */
    size_t count;            /* of occurrences it rests on */
} hy_figure;

typedef struct hy_code_figures {
    unsigned code;
    size_t count;                   /* times it was spoken */
    size_t inside;                  /* of these within the recording */
    double seconds;                 /* together, model's time */
    int voiced, noisy, stop, pause; /* as the model has it */
    hy_figure figure[HY_MEASURES];
    double difference[HY_BANDS]; /* dB, recording over model, level left out; NAN where not compared */
} hy_code_figures;

typedef struct hy_figures {
    size_t count;
    hy_code_figures code[HYOID_PHONEMES]; /* the codes that were spoken, in ascending order */
} hy_figures;

typedef struct hy_figures_setup {
    const hy_alignment *alignment;
    hy_model_setup model; /* as for the alignment; scale and offset are not looked at */
    int colour;           /* 1: take out what all sounds have in common (a microphone's and a room's colour) */
    int replicas; /* good chips that tell the uncertainty, 0..8; 0: uncertainties are those of edges and pitch alone */
} hy_figures_setup;

int hy_figures_make(hy_figures *figures, const hy_figures_setup *setup, hy_diag *diag);

#endif
