#include "ring.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#define LINE 64 /* bytes of a cache line: the two counters must not share one */

struct hy_ring {
    unsigned char *bytes;
    size_t size, room;
    _Alignas(LINE) atomic_size_t put; /* elements so far; they may wrap */
    _Alignas(LINE) atomic_size_t taken;
};

_Static_assert(ATOMIC_LONG_LOCK_FREE == 2, "counters must need no lock");

hy_ring *hy_ring_new(size_t size, size_t room)
{
    hy_ring *ring = aligned_alloc(LINE, sizeof *ring);
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

/* Copies between the ring, from element number `at` on, and `elements`. */
static void copy(const hy_ring *ring, size_t at, void *to, const void *from, size_t count)
{
    const size_t place = at & (ring->room - 1);
    const size_t first = count < ring->room - place ? count : ring->room - place;
    if (from != NULL) {
        memcpy(ring->bytes + place * ring->size, from, first * ring->size);
        memcpy(ring->bytes, (const unsigned char *)from + first * ring->size, (count - first) * ring->size);
    } else {
        memcpy(to, ring->bytes + place * ring->size, first * ring->size);
        memcpy((unsigned char *)to + first * ring->size, ring->bytes, (count - first) * ring->size);
    }
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
    copy(ring, put, NULL, elements, count);
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
    copy(ring, taken, elements, NULL, count);
    atomic_store_explicit(&ring->taken, taken + count, memory_order_release);
    return count;
}

int hy_ring_peek(const hy_ring *ring, void *element)
{
    if (hy_ring_waiting(ring) == 0) {
        return 0;
    }
    copy(ring, atomic_load_explicit(&ring->taken, memory_order_relaxed), element, NULL, 1);
    return 1;
}
