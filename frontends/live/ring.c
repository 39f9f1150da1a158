#include "ring.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

/* The two counters lie a cache line apart, so that the threads don't slow each other down. */
struct hy_ring {
    unsigned char *bytes;
    size_t size, room;
    char apart[64];
    atomic_size_t put; /* elements so far; they may wrap */
    char apart_too[64];
    atomic_size_t taken;
};

_Static_assert(ATOMIC_LONG_LOCK_FREE == 2, "counters must need no lock");

hy_ring *hy_ring_new(size_t size, size_t room)
{
    hy_ring *ring = calloc(1, sizeof *ring);
    if (ring == NULL) {
        return NULL;
    }
    ring->bytes = calloc(room, size);
    ring->size = size;
    ring->room = room;
    atomic_init(&ring->put, 0);
    atomic_init(&ring->taken, 0);
    if (ring->bytes == NULL) {
        free(ring);
        return NULL;
    }
    return ring;
}

void hy_ring_free(hy_ring *ring)
{
    if (ring != NULL) {
        free(ring->bytes);
        free(ring);
    }
}

/* Where element number `at` stands, and how many of `count` elements fit before the end; the rest stands at the start. */
static size_t split(const hy_ring *ring, size_t at, size_t count, unsigned char **place)
{
    const size_t index = at & (ring->room - 1);
    *place = ring->bytes + index * ring->size;
    return count < ring->room - index ? count : ring->room - index;
}

static void copy_out(const hy_ring *ring, size_t at, void *elements, size_t count)
{
    unsigned char *place;
    const size_t first = split(ring, at, count, &place) * ring->size;
    memcpy(elements, place, first);
    memcpy((unsigned char *)elements + first, ring->bytes, count * ring->size - first);
}

size_t hy_ring_space(const hy_ring *ring)
{
    const size_t taken = atomic_load_explicit(&ring->taken, memory_order_acquire);
    return ring->room - (atomic_load_explicit(&ring->put, memory_order_relaxed) - taken);
}

int hy_ring_put(hy_ring *ring, const void *elements, size_t count)
{
    if (count > hy_ring_space(ring)) {
        return 0;
    }
    const size_t put = atomic_load_explicit(&ring->put, memory_order_relaxed);
    unsigned char *place;
    const size_t first = split(ring, put, count, &place) * ring->size;
    memcpy(place, elements, first);
    memcpy(ring->bytes, (const unsigned char *)elements + first, count * ring->size - first);
    atomic_store_explicit(&ring->put, put + count, memory_order_release);
    return 1;
}

size_t hy_ring_waiting(const hy_ring *ring)
{
    const size_t put = atomic_load_explicit(&ring->put, memory_order_acquire);
    return put - atomic_load_explicit(&ring->taken, memory_order_relaxed);
}

size_t hy_ring_take(hy_ring *ring, void *elements, size_t count)
{
    const size_t waiting = hy_ring_waiting(ring);
    count = count < waiting ? count : waiting;
    const size_t taken = atomic_load_explicit(&ring->taken, memory_order_relaxed);
    copy_out(ring, taken, elements, count);
    atomic_store_explicit(&ring->taken, taken + count, memory_order_release);
    return count;
}

int hy_ring_peek(const hy_ring *ring, void *element)
{
    if (hy_ring_waiting(ring) == 0) {
        return 0;
    }
    copy_out(ring, atomic_load_explicit(&ring->taken, memory_order_relaxed), element, 1);
    return 1;
}
