/* A folder of its own for a test's output files. */
#ifndef HY_TEST_SCRATCH_H
#define HY_TEST_SCRATCH_H

#include <stddef.h>

/* Makes it, empty; scratch_end removes it with everything in it. */
void scratch_begin(void);
void scratch_end(void);

/* Full path of a name in it; static storage, good for eight calls. */
const char *scratch(const char *name);

/* How many files are in it, hidden ones included. */
int scratch_count(void);

/* All bytes of a file, with a 0 behind them; the caller frees them. Fails the test if it can't be read. */
char *scratch_read(const char *path, size_t *size);

/* Fails the test unless both files hold the same bytes, at least one. */
void scratch_same(const char *path, const char *other);

#endif
