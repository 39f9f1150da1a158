/* A calibration from its takes to its part. */
#ifndef HY_CALIBRATION_H
#define HY_CALIBRATION_H

#include "fit.h"
#include "pins.h"
#include "take.h"

enum { HY_TAKES_MAX = 16 };

typedef struct hy_calibration {
    const hyoid_part *prior; /* borrowed */
    hyoid_part part;         /* as found */
    hy_take *takes;          /* borrowed */
    size_t take_count;
    hy_pins *pins; /* borrowed; null: no capture. One that shows no clock is measured with the first take's */
    const hy_partfile *prior_file; /* borrowed; what `prior` is of, for the capture */
    unsigned threads;              /* 0: as many as there are processors; nothing that is found depends on it */
    int coloured;                  /* the recorder's response is unknown and is let go free */

    size_t noise_heard[HY_TAKES_MAX]; /* items that tell where the noise register stood; 0: not known */
    unsigned char *use[HY_TAKES_MAX]; /* owned; how items are used, see fit.h */
    hy_material materials[HY_TAKES_MAX];
    hy_fit *fit; /* owned; valid after hy_calibration_run */

    /* what came out */
    double duration_sigma[HYOID_PHONEMES]; /* filter cycles; 0: kept from the prior */
    int whole_ms;                          /* durations are whole milliseconds at the nominal clock */
    int pitch_found[HYOID_LEVELS];
    unsigned said[HYOID_PHONEMES];        /* how often each code was used for fitting */
    size_t fitted, held;                  /* items */
    double before_db, after_db;           /* root mean square difference of frames, fitted items */
    double held_before_db, held_after_db; /* log-spectral distance of held-out items; < 0: none */
    unsigned put_back; /* numbers that were moved, but that the recordings don't prefer to the prior's: these stand */
    char doubted[400]; /* what came no nearer to the held-out phonemes and was given back, in words; empty: nothing */
    int prior_stands;  /* nothing came nearer: the prior's sounds were kept altogether */
} hy_calibration;

/* Called between steps: what is being done, and how much of all, 0..1. The part so far may be read. Returns 0, or -1 with
 * diag filled to stop. */
typedef int hy_calibration_step(void *user, const hy_calibration *session, const char *what, double done,
                                hy_diag *diag);

/* takes: read, not yet warped. start (or null): a part to begin from, other than the prior. 0, or -1. */
int hy_calibration_run(hy_calibration *session, const hyoid_part *start, hy_calibration_step *step, void *user,
                       hy_diag *diag);
/* Takes what the capture tells into the part: how many durations and delays that were. */
unsigned hy_calibration_take_pins(hy_calibration *session);

void hy_calibration_free(hy_calibration *session);

#endif
