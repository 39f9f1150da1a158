/* What speaks for a candidate, in plain words with the figures they rest on. */
#ifndef HY_EVIDENCE_H
#define HY_EVIDENCE_H

#include "rank.h"

enum { HY_EVIDENCE_LINES = 4 };

typedef struct hy_evidence {
    char line[HY_EVIDENCE_LINES][240];
    size_t lines;
} hy_evidence;

/* candidate and healthy are of one diagnosis. */
void hy_evidence_find(hy_evidence *evidence, const hy_diagnosis *diagnosis, const hy_candidate *candidate,
                      const hy_heard *heard);

/* "no-noise", "healthy"; static storage. */
const char *hy_fault_name(int fault);
/* What it does; static storage. */
const char *hy_fault_what(int fault);

#endif
