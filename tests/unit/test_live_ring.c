/* The ring between control thread and audio callback. */
#include <criterion/criterion.h>
#include <pthread.h>
#include <sched.h>
#include <stdint.h>

#include "../../frontends/live/ring.h"

Test(live_ring, keeps_order_and_room)
{
    hy_ring *ring = hy_ring_new(sizeof(int), 8);
    int in[8], out[8];
    cr_assert_not_null(ring);
    for (int round = 0, next = 0, expected = 0; round < 100; round++) {
        const size_t n = (size_t)(round * 5 % 8);
        for (size_t i = 0; i < n; i++) {
            in[i] = next++;
        }
        cr_assert_eq(hy_ring_space(ring), 8);
        cr_assert_eq(hy_ring_put(ring, in, n), 1);
        cr_assert_eq(hy_ring_waiting(ring), n);
        int first = -1;
        cr_assert_eq(hy_ring_peek(ring, &first), n > 0);
        cr_assert_eq(first, n > 0 ? expected : -1);
        cr_assert_eq(hy_ring_take(ring, out, 3), n < 3 ? n : 3);
        const size_t left = n < 3 ? 0 : n - 3;
        cr_assert_eq(hy_ring_take(ring, out + 3, 8), left);
        for (size_t i = 0; i < n; i++) {
            cr_assert_eq(out[i], expected++);
        }
    }
    hy_ring_free(ring);
}

Test(live_ring, refuses_what_does_not_fit)
{
    hy_ring *ring = hy_ring_new(sizeof(int), 4);
    const int in[5] = {1, 2, 3, 4, 5};
    cr_assert_eq(hy_ring_put(ring, in, 5), 0);
    cr_assert_eq(hy_ring_put(ring, in, 3), 1);
    cr_assert_eq(hy_ring_put(ring, in, 2), 0, "all or nothing");
    cr_assert_eq(hy_ring_waiting(ring), 3);
    cr_assert_eq(hy_ring_put(ring, in, 1), 1);
    cr_assert_eq(hy_ring_space(ring), 0);
    hy_ring_free(ring);
}

#define MANY 300000U

static void *put_many(void *user)
{
    uint32_t block[7];
    for (uint32_t next = 0; next < MANY;) {
        const uint32_t n = 1 + next % 7;
        for (uint32_t i = 0; i < n; i++) {
            block[i] = next + i;
        }
        if (hy_ring_put(user, block, n)) {
            next += n;
        } else {
            sched_yield();
        }
    }
    return NULL;
}

Test(live_ring, two_threads_lose_nothing)
{
    hy_ring *ring = hy_ring_new(sizeof(uint32_t), 64);
    pthread_t thread;
    uint32_t block[16], expected = 0, wrong = 0;
    cr_assert_eq(pthread_create(&thread, NULL, put_many, ring), 0);
    while (expected < MANY) {
        const size_t n = hy_ring_take(ring, block, 16);
        if (n == 0) {
            sched_yield();
        }
        for (size_t i = 0; i < n; i++) {
            wrong += block[i] != expected++;
        }
    }
    pthread_join(thread, NULL);
    cr_assert_eq(wrong, 0);
    hy_ring_free(ring);
}
