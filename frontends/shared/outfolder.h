/* An output folder that is whole or absent: filled beside its destination, renamed when complete. */
#ifndef HY_OUTFOLDER_H
#define HY_OUTFOLDER_H

#include <stdio.h>

#include "diag.h"

typedef struct hy_outfolder hy_outfolder;

/* Makes a temporary folder beside the destination, which must not exist yet. Null on error. */
hy_outfolder *hy_outfolder_open(const char *path, hy_diag *diag);

/* Where a file of this name (no slash) will stand until the commit, for writers that open it themselves. Valid until the
 * folder is closed; null on error (at most 16 files). */
const char *hy_outfolder_place(hy_outfolder *folder, const char *name, hy_diag *diag);

/* The same, opened for writing; close it with hy_outfolder_close. Null on error. */
FILE *hy_outfolder_file(hy_outfolder *folder, const char *name, hy_diag *diag);

/* Closes a file and checks that everything reached it. 0, or -1. */
int hy_outfolder_close(hy_outfolder *folder, FILE *file, hy_diag *diag);

/* The temporary folder itself, for reading back what was written. */
const char *hy_outfolder_now(const hy_outfolder *folder);

/* Renames to the destination and frees; 0, or -1, in which case nothing is left. */
int hy_outfolder_commit(hy_outfolder *folder, hy_diag *diag);

/* Removes everything and frees. Null is allowed. */
void hy_outfolder_abandon(hy_outfolder *folder);

#endif
