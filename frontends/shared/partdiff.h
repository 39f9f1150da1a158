/* Two parts side by side: every number that differs, as it stands and as it sounds. */
#ifndef HY_PARTDIFF_H
#define HY_PARTDIFF_H

#include <stdio.h>

#include "partfile.h"
#include "senses.h"

typedef struct hy_difference {
    char name[40];                 /* "0x2c iy f2" or "pitch_period[1]" */
    int code;                      /* of a phoneme's number, or -1 */
    const char *quantity;          /* of a phoneme's number, or null */
    const hy_provenance *known[2]; /* null: the part does not use this entry of an array */
    hy_sense sense[2];
} hy_difference;

typedef struct hy_diff {
    const char *name[2]; /* as given */
    const hy_partfile *file[2];
    hy_difference *difference; /* owned */
    size_t count, phonemes;    /* of all, and of those in the phoneme memory, which come first */
    size_t known_otherwise;    /* equal numbers of which confidence or source differ */
} hy_diff;

/* 0, or -1 (out of memory). */
int hy_diff_make(hy_diff *diff, const hy_partfile *a, const char *a_name, const hy_partfile *b, const char *b_name,
                 hy_diag *diag);
void hy_diff_free(hy_diff *diff);

void hy_diff_print(const hy_diff *diff, FILE *out);
int hy_diff_json(const hy_diff *diff, FILE *out, hy_diag *diag);

#endif
