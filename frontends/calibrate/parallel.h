/* The same work for many indices, on several threads; what comes out does not depend on their number. */
#ifndef HY_PARALLEL_H
#define HY_PARALLEL_H

#include <stddef.h>

enum { HY_THREADS_MAX = 64 };

/* How many threads to use, 1..HY_THREADS_MAX: as many as asked for; asked 0: as many as there are processors. */
unsigned hy_parallel_threads(unsigned asked);

/* Calls work(user, thread, index) once for each index in [0, count), in any order; thread in [0, threads). Calls with the same
 * thread number never overlap. */
void hy_parallel(unsigned threads, size_t count, void (*work)(void *user, unsigned thread, size_t index), void *user);

#endif
