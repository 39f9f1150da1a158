/* Chips in step, side by side: the sections' arithmetic of HYOID_BATCH chips at once, so that one chip's wait for
 * its own last result is the others' working time. The equations are those of tract.c, operation by operation. */
#include "internal.h"

#if defined(__GNUC__) && !defined(__clang__)
/* The lanes are meant for vectors; without this gcc leaves loops over arrays in memory alone at -O2. */
#pragma GCC optimize("tree-loop-vectorize", "no-tree-slp-vectorize")
#endif

enum { LANES = HYOID_BATCH };

typedef double lanes[LANES];

typedef struct bank {
    lanes u1, y1, u2, y2, u3, y3, u4, y4, noise, slope;
    lanes k1, k2, k3, k4, q1, q2, q3, q4, n2, n3, n4, direct, feed4, out;
} bank;

static void load(bank *b, const hyoid_chip *c, size_t l)
{
    b->u1[l] = c->u1, b->y1[l] = c->y1, b->u2[l] = c->u2, b->y2[l] = c->y2;
    b->u3[l] = c->u3, b->y3[l] = c->y3, b->u4[l] = c->u4, b->y4[l] = c->y4;
    b->noise[l] = c->noise, b->slope[l] = c->noise_slope;
    b->k1[l] = c->k1, b->k2[l] = c->k2, b->k3[l] = c->k3, b->k4[l] = c->part->f4_k;
    b->q1[l] = c->q1, b->q2[l] = c->q2, b->q3[l] = c->q3, b->q4[l] = c->q4;
    b->n2[l] = c->noise_to_f2, b->n3[l] = c->noise_to_f3, b->n4[l] = c->noise_to_f4;
    b->direct[l] = c->noise_to_output, b->feed4[l] = c->feed4, b->out[l] = c->output_gain;
}

static void store(const bank *b, hyoid_chip *c, size_t l)
{
    c->u1 = b->u1[l], c->y1 = b->y1[l], c->u2 = b->u2[l], c->y2 = b->y2[l];
    c->u3 = b->u3[l], c->y3 = b->y3[l], c->u4 = b->u4[l], c->y4 = b->y4[l];
    c->noise = b->noise[l], c->noise_slope = b->slope[l];
}

static void tract(bank *restrict b, uint32_t count, const lanes *restrict voice, const lanes *restrict noise,
                  lanes *restrict levels)
{
    for (uint32_t i = 0; i < count; i++) {
        for (size_t l = 0; l < LANES; l++) {
            const double slope = noise[i][l] - b->noise[l];
            const double bend = slope - b->slope[l];
            b->noise[l] = noise[i][l];
            b->slope[l] = slope;

            const double u1 = b->u1[l] - b->k1[l] * (voice[i][l] + b->y1[l]);
            const double u2 = b->u2[l] - b->k2[l] * (b->y1[l] + b->y2[l]) + b->n2[l] * slope;
            const double u3 = b->u3[l] - b->k3[l] * (b->y2[l] + b->y3[l]) + b->n3[l] * slope;
            const double u4 = b->u4[l] + b->k4[l] * (b->y3[l] - b->y4[l]);
            const double y1 = (b->y1[l] + b->k1[l] * u1) * b->q1[l];
            const double y2 = (b->y2[l] + b->k2[l] * u2) * b->q2[l];
            const double y3 = (b->y3[l] + b->k3[l] * u3) * b->q3[l];
            const double y4 =
                (b->y4[l] + b->k4[l] * u4 + (b->n4[l] * slope - b->feed4[l] * (y3 - b->y3[l]))) * b->q4[l];
            b->u1[l] = u1, b->u2[l] = u2, b->u3[l] = u3, b->u4[l] = u4;
            b->y1[l] = y1, b->y2[l] = y2, b->y3[l] = y3, b->y4[l] = y4;
            levels[i][l] = (y4 + b->direct[l] * bend) * b->out[l];
        }
    }
}

/* A filter cycle and as many further ones as need no look at any chip's sequencer or transitions. Returns their
 * number. */
static uint32_t run_ticks(hyoid_chip *const *chips, size_t count, uint64_t cycle, uint32_t most, lanes *levels)
{
    uint32_t further = most - 1 < HYOID_RUN - 1 ? most - 1 : HYOID_RUN - 1;
    for (size_t l = 0; l < count; l++) {
        hyoid_sequencer_tick(chips[l], cycle);
        hyoid_transitions_tick(chips[l]);
        const uint32_t sequencer = hyoid_sequencer_quiet(chips[l]), move = hyoid_transitions_quiet(chips[l]);
        further = sequencer < further ? sequencer : further;
        further = move < further ? move : further;
    }
    lanes voice[HYOID_RUN], noise[HYOID_RUN];
    bank b = {0};
    for (uint32_t i = 0; count < LANES && i <= further; i++) { /* lanes without a chip */
        for (size_t l = count; l < LANES; l++) {
            voice[i][l] = noise[i][l] = 0.0;
        }
    }
    for (size_t l = 0; l < count; l++) {
        hyoid_sequencer_skip(chips[l], further);
        hyoid_transitions_skip(chips[l], further);
        hyoid_sources_lane(chips[l], further + 1, &voice[0][l], &noise[0][l]);
        load(&b, chips[l], l);
    }
    tract(&b, further + 1, (const lanes *)voice, (const lanes *)noise, levels);
    for (size_t l = 0; l < count; l++) {
        store(&b, chips[l], l);
        if (chips[l]->part->lowpass_k > 0.0) {
            for (uint32_t i = 0; i <= further; i++) {
                hyoid_tract_lowpass(chips[l], 1, &levels[i][l]);
            }
        }
    }
    return further + 1;
}

static bool in_step(const hyoid_chip *a, const hyoid_chip *b)
{
    return a->cycle == b->cycle && a->tick_at == b->tick_at && a->filter_clocks == b->filter_clocks &&
           a->part->output_clocks == b->part->output_clocks &&
           (a->pin_at == HYOID_NEVER) == (b->pin_at == HYOID_NEVER);
}

/* Whole filter cycles from the coming one on can be worked for all at once. */
static bool free_to_run(hyoid_chip *const *chips, size_t count)
{
    for (size_t l = 0; l < count; l++) {
        const hyoid_chip *c = chips[l];
        if (c->caught || c->probed || c->pin_at != HYOID_NEVER || c->fall_at != HYOID_NEVER) {
            return false;
        }
    }
    return true;
}

/* How often the audio pin takes a new level up to clock `end`. */
static uint64_t levels_until(const hyoid_chip *chip, uint64_t end)
{
    const uint64_t next = chip->tick_at + chip->part->output_clocks;
    return (chip->pin_at <= end ? 1 : 0) + (next <= end ? (end - next) / chip->filter_clocks + 1 : 0);
}

/* Each chip alone up to clock `end`. */
static size_t run_alone(hyoid_chip *const *chips, size_t count, uint64_t end, double *levels, size_t capacity)
{
    size_t stored = 0;
    for (size_t l = 0; l < count; l++) {
        stored = 0;
        hyoid_level some[HYOID_RUN];
        while (chips[l]->cycle < end) {
            size_t n = hyoid_chip_run(chips[l], end - chips[l]->cycle, some, HYOID_RUN);
            for (size_t i = 0; i < n; i++) {
                levels[l * capacity + stored + i] = some[i].value;
            }
            stored += n;
        }
    }
    return stored;
}

/* Whole filter cycles for all, up to clock `end`. */
static size_t run_together(hyoid_chip *const *chips, size_t count, uint64_t end, double *levels, size_t capacity)
{
    const uint64_t filter = chips[0]->filter_clocks, pin = chips[0]->part->output_clocks;
    const uint64_t first = chips[0]->tick_at;
    uint64_t whole = (end - pin - first) / filter + 1;
    size_t stored = 0;
    lanes block[HYOID_RUN];
    while (whole > 0) {
        const uint32_t most = whole < HYOID_RUN ? (uint32_t)whole : HYOID_RUN;
        const uint32_t n = run_ticks(chips, count, first + stored * filter, most, block);
        for (size_t l = 0; l < count; l++) {
            for (uint32_t i = 0; i < n; i++) {
                levels[l * capacity + stored + i] = block[i][l];
            }
        }
        stored += n;
        whole -= n;
    }
    for (size_t l = 0; l < count; l++) {
        chips[l]->level = chips[l]->level_next = levels[l * capacity + stored - 1];
        chips[l]->tick_at += stored * filter;
        chips[l]->cycle = chips[l]->tick_at - filter + pin;
        chips[l]->quiet_until = hyoid_chip_next_work(chips[l]);
    }
    return stored;
}

hyoid_status hyoid_batch_run(hyoid_chip *const *chips, size_t count, uint64_t clocks, double *levels, size_t capacity,
                             size_t *stored)
{
    if (chips == NULL || levels == NULL || stored == NULL) {
        return HYOID_E_NULL;
    }
    if (count < 1 || count > HYOID_BATCH) {
        return HYOID_E_RANGE;
    }
    for (size_t l = 0; l < count; l++) {
        if (chips[l] == NULL) {
            return HYOID_E_NULL;
        }
        if (!in_step(chips[0], chips[l])) {
            return HYOID_E_RANGE;
        }
    }
    const uint64_t end = chips[0]->cycle + clocks;
    if (capacity < levels_until(chips[0], end)) {
        return HYOID_E_RANGE;
    }
    *stored = 0;
    while (chips[0]->cycle < end) {
        const uint64_t pin = chips[0]->tick_at + chips[0]->part->output_clocks;
        if (pin <= end && free_to_run(chips, count)) {
            *stored += run_together(chips, count, end, levels + *stored, capacity);
        } else { /* a latch, a fall of request, half a filter cycle: up to where the next whole one can start */
            const uint64_t next = chips[0]->tick_at - 1 > chips[0]->cycle ? chips[0]->tick_at - 1 : pin;
            *stored += run_alone(chips, count, next < end ? next : end, levels + *stored, capacity);
        }
    }
    return HYOID_OK;
}
