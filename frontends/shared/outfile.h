/* Output files that are whole or absent: written beside their destination, renamed when complete. */
#ifndef HY_OUTFILE_H
#define HY_OUTFILE_H

#include <stdio.h>

#include "diag.h"

typedef struct hy_outfile hy_outfile;

/* Opens a temporary file in the destination's folder; "-" is standard output (spooled to an unlinked temporary
 * file and copied at commit, so that writers may seek). Refuses folders and places that can't be written. Null on error. */
hy_outfile *hy_outfile_open(const char *path, hy_diag *diag);

/* The stream to write to; seekable; owned by the outfile. */
FILE *hy_outfile_stream(hy_outfile *out);

/* Its descriptor, for libraries that write by descriptor (libsndfile); owned by the outfile. */
int hy_outfile_descriptor(hy_outfile *out);

/* For writers that met an error themselves: "cannot write PATH: the disk is full" and so on, by errno. Returns -1. */
int hy_outfile_fail(const hy_outfile *out, int error, hy_diag *diag);

/* Flushes and checks that everything reached the disk, without renaming yet. Several outputs of a command are all
 * finished before the first is committed. 0, or -1 on error. */
int hy_outfile_finish(hy_outfile *out, hy_diag *diag);

/* Renames to the destination (or copies to standard output) and frees. 0, or -1 on error; frees in both cases. */
int hy_outfile_commit(hy_outfile *out, hy_diag *diag);

/* Removes the temporary file and frees; the destination is untouched. Null is allowed. */
void hy_outfile_abandon(hy_outfile *out);

/* From here on SIGINT, SIGTERM, SIGHUP and SIGPIPE remove every temporary file that is open before they end the
 * program as usual; signals that the program was started with as ignored stay ignored. SIGXFSZ becomes an
 * error of the write that met the limit. Call it once, from main, before any thread starts. */
void hy_outfile_clean_on_signal(void);

/* The same care for a file, or for a folder after all files, that someone else makes and takes away: a number for
 * hy_outfile_unguard, or -1 if the path is too long or there are too many. */
int hy_outfile_guard(const char *path, int folder);
void hy_outfile_unguard(int guard);

#endif
