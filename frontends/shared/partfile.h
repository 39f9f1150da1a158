/* A part as a folder: phonemes.csv and constants.csv, each number with unit, confidence and source. */
#ifndef HY_PARTFILE_H
#define HY_PARTFILE_H

#include <stdio.h>

#include <hyoid/hyoid.h>

#include "diag.h"

typedef struct hy_provenance {
    const char *value; /* as printed in the file */
    const char *unit;
    const char *confidence; /* published, recalled, derived, fitted, measured or estimate */
    const char *source;
} hy_provenance;

/* A part with what is known of each of its numbers. */
typedef struct hy_partfile hy_partfile;

/* Reads a folder. Null on error: FILE:LINE:COLUMN, what was found, what would be right. Every number must be there
 * exactly once; an unknown name is an error that names the nearest. */
hy_partfile *hy_partfile_read(const char *folder, hy_diag *diag);
/* The default part with its provenance, from the copy of reference/parts/default that was compiled in. */
hy_partfile *hy_partfile_default(hy_diag *diag);
void hy_partfile_free(hy_partfile *file);
const hyoid_part *hy_partfile_part(const hy_partfile *file);

/* Provenance by name; null if there is no such number. Phoneme quantities: f1 f2 f3 bw2 va fa fc vd cld closure pause
 * duration. Constants: the field names of hyoid_part, with [index] for arrays and a dot for section members. */
const hy_provenance *hy_partfile_phoneme(const hy_partfile *file, unsigned code, const char *quantity);
const hy_provenance *hy_partfile_constant(const hy_partfile *file, const char *name);

#endif
