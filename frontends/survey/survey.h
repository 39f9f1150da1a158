/* hyoid survey: what a test or calibration recording must contain. */
#ifndef HY_SURVEY_H
#define HY_SURVEY_H

#include <stdio.h>

#include <hyoid/hyoid.h>

#include "diag.h"
#include "score.h"

int hy_survey_main(int argc, char **argv);

typedef struct hy_survey_options {
    int calibration;   /* the one for `hyoid calibrate`, about 60 s, or 35 s if brief */
    int brief;         /* about 23 s instead of about 80 s */
    int fixed_clock;   /* leave the clock steps out: the board can't take them */
    double clock_hz;   /* the board's clock, 50 kHz to 5 MHz */
    double nominal_hz; /* where the chart's milliseconds hold */
} hy_survey_options;

/* Writes the survey as a score, with the reason for each piece. It is the same for every part: what is under test must not
 * choose its own questions. */
void hy_survey_score(FILE *out, const hy_survey_options *options);

/* The same for calibration: every phoneme behind a burst. fixed_clock says nothing here: the clock never changes. */
void hy_survey_calibration(FILE *out, const hy_survey_options *options);

/* Writes a score as C arrays for a microcontroller. Scores with glides, answers, or times that are no whole milliseconds are
 * refused: such an array can't hold them. `what` is one line for the opening comment. 0, or -1. */
int hy_survey_c(FILE *out, hy_score *score, const char *what, hy_diag *diag);

#endif
