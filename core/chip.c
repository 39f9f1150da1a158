/* The chip as a whole: pins, clock divider, and the order in which the blocks work ("Clock tree" and "Strobe and
 * latch" of docs/chip.md). */
#include <string.h>

#include "internal.h"

hyoid_status hyoid_chip_init(hyoid_chip *chip, const hyoid_part *part)
{
    if (chip == NULL || part == NULL) {
        return HYOID_E_NULL;
    }
    hyoid_status status = hyoid_part_check(part, NULL);
    if (status != HYOID_OK) {
        return status;
    }
    memset(chip, 0, sizeof *chip);
    chip->part = part;
    chip->part_hash = hyoid_part_hash(part);
    chip->tick_at = part->filter_clocks;
    chip->pin_at = HYOID_NEVER;
    chip->fall_at = HYOID_NEVER;
    chip->quiet_until = chip->tick_at;
    chip->noise_reg = part->noise_seed;
    hyoid_faults_power_up(chip);
    hyoid_sequencer_power_up(chip);
    hyoid_transitions_power_up(chip);
    return HYOID_OK;
}

void hyoid_chip_set_code(hyoid_chip *chip, unsigned code)
{
    if (chip == NULL) {
        return;
    }
    chip->code = (uint8_t)(code & (HYOID_PHONEMES - 1));
}

void hyoid_chip_set_inflection(hyoid_chip *chip, unsigned inflection)
{
    if (chip == NULL) {
        return;
    }
    chip->inflection = (uint8_t)(inflection & (HYOID_LEVELS - 1));
}

void hyoid_chip_set_strobe(hyoid_chip *chip, unsigned strobe)
{
    if (chip == NULL) {
        return;
    }
    strobe &= 1u;
    if (strobe && !chip->strobe && !(chip->fault[HYOID_FAULT_STROBE_DEAD] > 0.0)) {
        /* The edge is caught at once, with the code that stands there; a later edge before the next clock wins. */
        chip->caught = 1;
        chip->quiet_until = 0;
        chip->caught_code = (uint8_t)((chip->code & chip->code_keep) | chip->code_force);
    }
    chip->strobe = (uint8_t)strobe;
}

void hyoid_chip_write(hyoid_chip *chip, unsigned code)
{
    hyoid_chip_set_code(chip, code);
    hyoid_chip_set_strobe(chip, 0);
    hyoid_chip_set_strobe(chip, 1);
    hyoid_chip_set_strobe(chip, 0);
}

int hyoid_chip_request(const hyoid_chip *chip)
{
    if (chip == NULL) {
        return 0;
    }
    return (chip->request & chip->request_keep) | chip->request_force;
}

double hyoid_chip_output(const hyoid_chip *chip)
{
    if (chip == NULL) {
        return 0.0;
    }
    return chip->level;
}

unsigned hyoid_chip_slot(const hyoid_chip *chip)
{
    if (chip == NULL) {
        return 0;
    }
    return (unsigned)(HYOID_SLOTS * chip->n / chip->part->phoneme[chip->phoneme].duration);
}

uint64_t hyoid_chip_request_cycle(const hyoid_chip *chip)
{
    if (chip == NULL) {
        return HYOID_NEVER;
    }
    uint64_t first = chip->tick_at, counts;
    if (chip->caught) {
        /* the latch acts in the next clock, and a filter cycle that starts in that clock does not count */
        first += chip->tick_at > chip->cycle + 1 ? 0 : chip->filter_clocks;
        counts = chip->part->phoneme[chip->caught_code].duration;
    } else if (chip->timing) {
        counts = chip->part->phoneme[chip->phoneme].duration - chip->n;
    } else {
        return HYOID_NEVER;
    }
    if (chip->probed) {
        counts = hyoid_faults_ticks_to_end(chip, counts);
    }
    return first + chip->filter_clocks * (counts - 1);
}

/* `count` filter cycles, 1..HYOID_RUN, the first of which starts in clock `cycle`; their levels go to the pin half a
 * cycle later. */
static void ticks(hyoid_chip *chip, uint64_t cycle, size_t count, double *levels)
{
    while (count > 0) {
        hyoid_sequencer_tick(chip, cycle);
        hyoid_transitions_tick(chip);

        /* and as many further ones as neither of the two has work in */
        uint32_t further = (uint32_t)count - 1;
        if (further > 0) {
            const uint32_t timed = hyoid_sequencer_quiet(chip), moved = hyoid_transitions_quiet(chip);
            further = timed < further ? timed : further;
            further = moved < further ? moved : further;
        }
        hyoid_sequencer_skip(chip, further);
        hyoid_transitions_skip(chip, further);

        double voice[HYOID_RUN], noise[HYOID_RUN];
        hyoid_sources(chip, further + 1, voice, noise);
        hyoid_tract(chip, further + 1, voice, noise, levels);

        levels += further + 1;
        count -= further + 1;
        cycle += (uint64_t)chip->filter_clocks * (further + 1);
    }
}

/* Whole filter cycles up to `end`, as many as fit; from the clock in which one starts to the clock in which the last
 * one's level reaches the pin. */
static size_t run_block(hyoid_chip *chip, uint64_t end, hyoid_level *levels, size_t capacity)
{
    const uint64_t filter = chip->filter_clocks;
    uint64_t pin = chip->cycle + chip->part->output_clocks;
    uint64_t count = (end - pin) / filter + 1;
    if (count > HYOID_RUN) {
        count = HYOID_RUN;
    }
    if (levels != NULL && count > capacity) {
        count = capacity;
    }
    double values[HYOID_RUN];
    ticks(chip, chip->cycle, (size_t)count, values);
    for (uint64_t i = 0; levels != NULL && i < count; i++) {
        levels[i].cycle = pin + i * filter;
        levels[i].value = values[i];
    }
    // NOLINTNEXTLINE(clang-analyzer-core.uninitialized.Assign): ticks() filled all `count` of them, and count > 0
    chip->level = chip->level_next = values[count - 1];
    chip->tick_at += count * filter;
    chip->cycle = pin + (count - 1) * filter;
    return (size_t)count;
}

uint64_t hyoid_chip_next_work(const hyoid_chip *chip)
{
    if (chip->caught) {
        return 0; /* at once */
    }
    uint64_t next = chip->tick_at;
    if (chip->pin_at < next) {
        next = chip->pin_at;
    }
    if (chip->fall_at < next) {
        next = chip->fall_at;
    }
    return next;
}

/* Every clock in which something happens, in order: latch, request, divider, audio pin. */
static size_t advance(hyoid_chip *chip, uint64_t end, hyoid_level *levels, size_t capacity)
{
    size_t stored = 0;
    while (chip->cycle < end && (levels == NULL || stored < capacity)) {
        const uint64_t next = chip->caught ? chip->cycle + 1 : hyoid_chip_next_work(chip);
        if (next > end) {
            chip->cycle = end;
            break;
        }
        chip->cycle = next;
        if (chip->caught) {
            hyoid_sequencer_latch(chip);
        }
        if (chip->fall_at == chip->cycle) {
            chip->fall_at = HYOID_NEVER;
            chip->request = 0;
        }
        if (chip->tick_at == chip->cycle) {
            if (!chip->latched && !chip->probed && chip->fall_at == HYOID_NEVER &&
                end - chip->cycle >= chip->part->output_clocks) {
                size_t count = run_block(chip, end, levels != NULL ? levels + stored : NULL, capacity - stored);
                stored += levels != NULL ? count : 0;
            } else {
                if (chip->probed) {
                    hyoid_probed_tick(chip, chip->cycle, &chip->level_next);
                } else {
                    ticks(chip, chip->cycle, 1, &chip->level_next);
                }
                chip->pin_at = chip->cycle + chip->part->output_clocks;
                chip->tick_at += chip->filter_clocks;
            }
        } else if (chip->pin_at == chip->cycle) {
            chip->pin_at = HYOID_NEVER;
            chip->level = chip->level_next;
            if (levels != NULL) {
                levels[stored].cycle = chip->cycle;
                levels[stored].value = chip->level;
                stored++;
            }
        }
        chip->latched = 0;
    }
    chip->quiet_until = hyoid_chip_next_work(chip);
    return stored;
}

void hyoid_chip_step(hyoid_chip *chip, uint64_t clocks)
{
    if (chip == NULL) {
        return;
    }
    /* Most single clocks meet no block that has work to do. */
    if (chip->cycle + clocks < chip->quiet_until) {
        chip->cycle += clocks;
        return;
    }
    advance(chip, chip->cycle + clocks, NULL, 0);
}

size_t hyoid_chip_run(hyoid_chip *chip, uint64_t clocks, hyoid_level *levels, size_t capacity)
{
    if (chip == NULL) {
        return 0;
    }
    return advance(chip, chip->cycle + clocks, levels, capacity);
}
