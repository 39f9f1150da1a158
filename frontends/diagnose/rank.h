/* All suppositions against one recording: what explains it, what can't be told apart, and what the part may be called. */
#ifndef HY_RANK_H
#define HY_RANK_H

#include "fit.h"

#define HY_SHARE_LEAST 0.005 /* a candidate with a smaller share has nothing that speaks for it */

typedef struct hy_candidate {
    const hy_reference *reference; /* of a graded fault, at the strength that fits best */
    hy_fit fit;
    double support;     /* natural logarithm of the likelihood, against the best one: 0 or less */
    double probability; /* of all candidates together; 0 where nothing is explained */
    int group; /* candidates of one group sound alike on this input and recording: the lowest rank among them */
} hy_candidate;

typedef enum hy_finding { HY_IS_HEALTHY, HY_IS_FAULTY, HY_NOT_EXPLAINED } hy_finding;

typedef struct hy_diagnosis {
    hy_candidate
        candidate[HYOID_FAULTS + 1]; /* most likely first; nearest in level first where nothing is explained */
    size_t candidates;
    size_t healthy; /* its rank */
    hy_finding finding;
    double
        log_likelihood; /* of the most likely; comparable between runs on one recording whose references have about as
                                     * many places with a pitch, as those of one input at several clocks do */
    double likeness;    /* of the recording's ups and downs and the likest candidate's, -1..1 */
    unsigned char usable[HY_BANDS]; /* bands that the recording carries */
    double low_hz, high_hz;         /* what they span */
} hy_diagnosis;

typedef struct hy_rank_setup {
    hy_reference *const *reference;
    size_t references;
    int gain_known;
    double gain_tolerance; /* dB */
    /* called with done and whole; may be null */
    void (*progress)(void *user, size_t done, size_t whole);
    void *user;
} hy_rank_setup;

/* The part's clock as the candidate has it, against what the input states. */
double hy_candidate_clock(const hy_candidate *candidate);

/* 0, or -1. */
int hy_rank(hy_diagnosis *diagnosis, const hy_heard *heard, const hy_rank_setup *setup, hy_diag *diag);

/* Whether two references sound alike in the bands that count, at one gain or at any. */
int hy_sound_alike(const hy_reference *a, const hy_reference *b, const unsigned char *usable, int any_gain);

#endif
