/* The same work for many indices, on as many threads as there are processors; what comes out does not depend on their number. */
#ifndef HY_PARALLEL_H
#define HY_PARALLEL_H

#include <stddef.h>

enum { HY_THREADS_MAX = 64 };

/* Processors that may be used, 1..HY_THREADS_MAX. */
unsigned hy_parallel_threads(void);

/* Calls work(user, thread, index) once for each index in [0, count), in any order; thread in [0, threads). Calls with the same
 * thread number never overlap. */
void hy_parallel(unsigned threads, size_t count, void (*work)(void *user, unsigned thread, size_t index), void *user);

#endif
