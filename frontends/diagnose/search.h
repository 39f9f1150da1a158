/* From a recording, boiled down, to a diagnosis: at the stated clock, and at another one if the recording says so. */
#ifndef HY_DIAGNOSE_SEARCH_H
#define HY_DIAGNOSE_SEARCH_H

#include "rank.h"
#include "trials.h"

typedef struct hy_search_setup {
    hy_reference_setup model; /* its scale is not looked at */
    int gain_known;
    double gain_tolerance; /* dB */
    /* called with what is done of what, to the best of present knowledge; may be null */
    void (*progress)(void *user, size_t done, size_t whole);
    void *user;
} hy_search_setup;

typedef struct hy_search {
    hy_trials stated, bent;       /* owned; at the stated clock, and at the one that was found */
    hy_diagnosis *best, *second;  /* owned; what holds, and room to try another; they borrow the references */
    const hy_search_setup *setup; /* borrowed while it runs */
    size_t done, whole;
} hy_search;

/* `search` is all zeros, or from an earlier run with the same model, whose renderings at the stated clock serve again. The
 * diagnosis is search->best, until the next run. 0, or -1; free in either case. */
int hy_search_run(hy_search *search, const hy_heard *heard, const hy_search_setup *setup, hy_diag *diag);
void hy_search_free(hy_search *search);

#endif
