/* A ring between one thread that puts and one that takes, without a lock: each side writes its own counter and reads the
 * other's. After hy_ring_new nothing allocates, waits or calls the system, so both ends may be an audio callback. */
#ifndef HY_RING_H
#define HY_RING_H

#include <stddef.h>

typedef struct hy_ring hy_ring;

/* `room` elements (a power of two) of `size` bytes. Null without memory. */
hy_ring *hy_ring_new(size_t size, size_t room);
void hy_ring_free(hy_ring *ring); /* null is allowed */

/* The putting side: free places, and putting `count` elements: all of them (1) or, if they don't fit, none (0). */
size_t hy_ring_space(const hy_ring *ring);
int hy_ring_put(hy_ring *ring, const void *elements, size_t count);

/* The taking side: how many wait; taking at most `count`, which returns how many were taken; a look at the first. */
size_t hy_ring_waiting(const hy_ring *ring);
size_t hy_ring_take(hy_ring *ring, void *elements, size_t count);
int hy_ring_peek(const hy_ring *ring, void *element);

#endif
