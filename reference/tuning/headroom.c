/* Does any pair of phonemes leave 0.9 of full scale? Says every pair at every level, eight chips in step, and looks at each level
 * of the audio pin.
 *
 *   headroom [--part FOLDER]
 *
 * Prints the loudest pair and the output gain that would bring it to 0.9. Exit status 1 if it is beyond. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "partfile.h"
#include "score.h"

enum { TAIL_CYCLES = 400 };

typedef struct loudest {
    double peak;
    unsigned first, second, level;
} loudest;

static void run(hyoid_chip *const *chips, uint64_t clocks, loudest *best, unsigned first, const unsigned *second)
{
    const hyoid_part *part = chips[0]->part;
    const size_t capacity = clocks / part->filter_clocks + 1;
    double *levels = malloc(HYOID_BATCH * capacity * sizeof *levels);
    size_t stored;
    if (levels == NULL || hyoid_batch_run(chips, HYOID_BATCH, clocks, levels, capacity, &stored) != HYOID_OK) {
        abort();
    }
    for (size_t l = 0; l < HYOID_BATCH; l++) {
        for (size_t i = 0; i < stored; i++) {
            const double peak = fabs(levels[l * capacity + i]);
            if (peak > best->peak) {
                *best = (loudest){peak, first, second[l / HYOID_LEVELS], (unsigned)(l % HYOID_LEVELS)};
            }
        }
    }
    free(levels);
}

static void say_pairs(const hyoid_part *part, unsigned first, const unsigned second[2], loudest *best)
{
    static hyoid_chip chip[HYOID_BATCH];
    hyoid_chip *chips[HYOID_BATCH];
    for (unsigned l = 0; l < HYOID_BATCH; l++) {
        chips[l] = &chip[l];
        if (hyoid_chip_init(chips[l], part) != HYOID_OK) {
            abort();
        }
        hyoid_chip_set_inflection(chips[l], l % HYOID_LEVELS);
        hyoid_chip_write(chips[l], first);
    }
    run(chips, hyoid_chip_request_cycle(chips[0]), best, first, (const unsigned[2]){first, first});
    uint64_t longest = 0;
    for (unsigned l = 0; l < HYOID_BATCH; l++) {
        hyoid_chip_write(chips[l], second[l / HYOID_LEVELS]);
        const uint64_t clocks = hyoid_chip_request_cycle(chips[l]) - chips[l]->cycle;
        longest = clocks > longest ? clocks : longest;
    }
    run(chips, longest + (uint64_t)TAIL_CYCLES * part->filter_clocks, best, first, second);
}

int main(int argc, char **argv)
{
    hy_diag diag = {""};
    hy_partfile *file = argc == 3 && strcmp(argv[1], "--part") == 0 ? hy_partfile_read(argv[2], &diag) : NULL;
    if (argc != 1 && file == NULL) {
        fprintf(stderr, "%s\n", diag.text[0] != 0 ? diag.text : "usage: headroom [--part FOLDER]");
        return 2;
    }
    const hyoid_part *part = file != NULL ? hy_partfile_part(file) : hyoid_part_default();
    loudest best = {0.0, 0, 0, 0};
    for (unsigned first = 0; first < HYOID_PHONEMES; first++) {
        for (unsigned second = 0; second < HYOID_PHONEMES; second += 2) {
            say_pairs(part, first, (const unsigned[2]){second, second + 1}, &best);
        }
    }
    printf("%u pairs at %d levels: loudest %.4f of full scale, %s (0x%02x) then %s (0x%02x) at level %u; 0.9 is at "
           "an output gain of %.4g, "
           "it is %.4g\n",
           HYOID_PHONEMES * HYOID_PHONEMES, HYOID_LEVELS, best.peak, hy_symbols[best.first].symbol, best.first,
           hy_symbols[best.second].symbol, best.second, best.level, part->output_gain * 0.9 / best.peak,
           part->output_gain);
    hy_partfile_free(file);
    return best.peak > 0.9;
}
