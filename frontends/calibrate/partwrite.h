/* A calibrated part as a folder: what was measured says so, everything else keeps what was known of it. */
#ifndef HY_PARTWRITE_H
#define HY_PARTWRITE_H

#include "calibration.h"
#include "diag.h"
#include "outfolder.h"
#include "partfile.h"

typedef struct hy_partwrite {
    const hy_partfile *prior;
    const hy_calibration *session;
    const char *source;      /* for the provenance: "measured: FILE, ..." */
    const char *pins_source; /* the same for what the pins told; null: there was no capture */
} hy_partwrite;

/* Writes phonemes.csv and constants.csv into a new folder, which is complete but has no place yet: to be committed or abandoned. One
 * that exists is refused. *found (the caller's to free) is what was read back and compared with the session's part. Null on error. */
hy_outfolder *hy_partwrite_new(const hy_partwrite *write, const char *folder, hy_partfile **found, hy_diag *diag);

/* Keeps the part so far: writes the two tables into a folder that may exist, each whole or not at all. 0, or -1. */
int hy_partwrite_keep(const hy_partwrite *write, const char *folder, hy_diag *diag);

/* Removes such a folder and the two tables in it; anything else in it stays, and so does the folder then. */
void hy_partwrite_remove(const char *folder);

#endif
