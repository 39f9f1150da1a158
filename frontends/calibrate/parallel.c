#include "parallel.h"

#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

typedef struct crew {
    void (*work)(void *user, unsigned thread, size_t index);
    void *user;
    size_t count;
    atomic_size_t next;
} crew;

typedef struct hand {
    crew *crew;
    unsigned thread;
} hand;

static void *labour(void *argument)
{
    hand *h = argument;
    for (;;) {
        size_t index = atomic_fetch_add(&h->crew->next, 1);
        if (index >= h->crew->count) {
            return NULL;
        }
        h->crew->work(h->crew->user, h->thread, index);
    }
}

unsigned hy_parallel_threads(unsigned asked)
{
    long n = asked > 0 ? (long)asked : sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > HY_THREADS_MAX ? HY_THREADS_MAX : (unsigned)n;
}

void hy_parallel(unsigned threads, size_t count, void (*work)(void *user, unsigned thread, size_t index), void *user)
{
    crew c = {work, user, count, 0};
    hand hands[HY_THREADS_MAX];
    pthread_t ids[HY_THREADS_MAX];
    unsigned started = 0;
    if (threads > HY_THREADS_MAX) {
        threads = HY_THREADS_MAX;
    }
    hands[0] = (hand){&c, 0};
    for (unsigned i = 1; i < threads; i++) {
        hands[i] = (hand){&c, i};
        if (pthread_create(&ids[started], NULL, labour, &hands[i]) != 0) {
            break; /* fewer hands do the same work */
        }
        started++;
    }
    labour(&hands[0]);
    for (unsigned i = 0; i < started; i++) {
        pthread_join(ids[i], NULL);
    }
}
