/* Reproducible dice: splitmix64 (public domain, by its published constants), the same on every machine. */
#ifndef HY_HDL_RANDOM_H
#define HY_HDL_RANDOM_H

#include <stdint.h>

static inline uint64_t hy_random(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

/* A whole number in low..high, high - low far below 2^64. */
static inline uint64_t hy_draw(uint64_t *state, uint64_t low, uint64_t high)
{
    return low + hy_random(state) % (high - low + 1);
}

#endif
