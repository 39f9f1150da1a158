/* Between outfile.c and outfile_guard.c: the table of temporary files that a deadly signal takes away. */
#ifndef HY_OUTFILE_PRIVATE_H
#define HY_OUTFILE_PRIVATE_H

#include <stddef.h>

/* Fixed, with its strings in place, so that a signal handler can read it whatever was interrupted. A sweep has 200 sound files and
 * its tables open at once. */
enum { HY_GUARDS = 224, HY_GUARD_SIZE = 4096 };

/* A place in the table, before the file is made; -1: all are taken. hy_outfile_unguard gives it back. */
int hy_guard_claim(void);

/* The name that the place now stands for; size, with the final 0, is at most HY_GUARD_SIZE. */
void hy_guard_name(int guard, const char *path, size_t size, int folder);

#endif
