/* A small test bench around the pins of one chip. */
#ifndef CORE_BENCH_H
#define CORE_BENCH_H

#include <stdlib.h>

#include <hyoid/hyoid.h>

typedef struct bench {
    hyoid_part part;
    hyoid_chip chip;
} bench;

/* A default part that the test may change before power-up. */
static inline void bench_power_up(bench *b)
{
    if (hyoid_chip_init(&b->chip, &b->part) != HYOID_OK) {
        abort();
    }
}

static inline bench *bench_new(void)
{
    bench *b = calloc(1, sizeof *b);
    if (b == NULL) {
        abort();
    }
    b->part = *hyoid_part_default();
    bench_power_up(b);
    return b;
}

/* Steps clock by clock until request has this level or `limit` clocks have passed; the clock reached. */
static inline uint64_t bench_until_request(bench *b, int level, uint64_t limit)
{
    uint64_t end = b->chip.cycle + limit;
    while (hyoid_chip_request(&b->chip) != level && b->chip.cycle < end) {
        hyoid_chip_step(&b->chip, 1);
    }
    return b->chip.cycle;
}

/* Filter cycles that one of the chart's durations lasts. */
static inline uint32_t bench_duration(const bench *b, unsigned code)
{
    return b->part.phoneme[code].duration;
}

/* xorshift64*, for tests that print their seed */
static inline uint32_t bench_random(uint64_t *state)
{
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return (uint32_t)((*state * UINT64_C(2685821657736338717)) >> 32);
}

#endif
