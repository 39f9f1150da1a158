/* The files of a folder of vectors. */
#ifndef HY_VECTORS_WRITE_H
#define HY_VECTORS_WRITE_H

#include "input.h"
#include "mask.h"
#include "outfolder.h"

typedef struct hy_vectors {
    const hyoid_part *part;
    const char *part_name; /* a folder, or null for the built-in part */
    const char *input_name;
    const hy_input *input; /* null: only what a design needs of the part */
    const hy_track *track;
    const uint8_t *mask;
    hy_mask_setup masked;
    unsigned bits, fraction;
    int64_t end_ps;
} hy_vectors;

/* Writes every file into the folder, the manifest last. 0, or -1. */
int hy_vectors_write(const hy_vectors *vectors, hy_outfolder *folder, hy_diag *diag);

#endif
