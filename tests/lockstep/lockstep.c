/* Holds the core against the slow model, clock for clock: the same random pins on both, the core advanced in calls of
 * every size, the slow model one clock at a time, and everything that both can tell compared after each call.
 *
 *     lockstep [--cycles N] [--seed S] [--break K]     compare N clocks; exit 1 at the first difference
 *     lockstep --controls [--cycles N] [--seed S]      break the slow model in every way it knows, one after the other;
 *                                                      exit 1 if N clocks do not show it each time
 */
#include "pair.h"
#include "stimulus.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define DEFAULT_CYCLES UINT64_C(120000000)
#define CONTROL_CYCLES UINT64_C(30000000)
#define COVERAGE_CYCLES UINT64_C(50000000) /* a run of this length must have seen every case of enum event */

static const char *const deed_text[] = {"power-up",         "code", "inflection", "strobe", "write",
                                        "fault on and off", "tap",  "step",       "run"};

static const char *const event_text[EVENTS] = {
    "latch in the clock in which the timer ends",
    "latch one clock after request rose",
    "latch in a tick's clock",
    "latch while request's fall is under way",
    "several edges before one clock",
    "code changed while strobe is high",
    "cut before the voice delay was over",
    "cut before the noise delay was over",
    "stop cut before its burst",
    "stop cut while its gate is shut",
    "stop after an unfinished stop",
    "burst",
    "stop that outlived its time by 100 ticks",
    "pause cut before its first tick",
    "pause that is a stop",
    "gate at 0",
    "inflection changed for a tick's clock",
    "every charge at 0 after sound",
};

static void print_difference(const struct lockstep *l, uint64_t seed)
{
    uint64_t i = l->actions > HISTORY ? l->actions - HISTORY : 0;

    printf("lockstep: DIFFERENCE with seed %" PRIu64 ", part %" PRIu64 ", clock %" PRIu64 ": %s\n", seed, l->parts,
           l->slow.clock, l->what);
    printf("  core %s\n  slow %s\n", l->fast_text, l->slow_text);
    printf("  the last actions, each after this many clocks:\n");
    for (; i < l->actions; ++i) {
        const struct action *a = &l->history[i % HISTORY];

        printf("  %12" PRIu64 "  %s %" PRIu64, a->clock, deed_text[a->deed], a->value);
        if (a->deed == RUN) {
            printf(", capacity %zu", a->capacity);
        }
        printf("\n");
    }
}

static int compare_both(struct lockstep *l, uint64_t seed, uint64_t cycles, enum slow_mistake mistake)
{
    clock_t start = clock();
    int status = EXIT_SUCCESS;
    unsigned i;

    printf("lockstep: seed %" PRIu64 ", %" PRIu64 " clocks\n", seed, cycles);
    if (mistake != SLOW_RIGHT) {
        printf("lockstep: the slow model is broken: %s\n", slow_mistake_text(mistake));
    }
    fflush(stdout);
    try_parts(l, seed, cycles, mistake);
    if (l->differs) {
        print_difference(l, seed);
        return EXIT_FAILURE;
    }
    for (i = 0; i < EVENTS; ++i) {
        printf("  %9" PRIu64 "  %s\n", l->events[i], event_text[i]);
        if (l->events[i] == 0 && cycles >= COVERAGE_CYCLES) {
            printf("lockstep: the stimulus never reached this\n");
            status = EXIT_FAILURE;
        }
    }
    printf("lockstep: %" PRIu64 " clocks agree (%" PRIu64
           " of them with the default part, the others with random ones, %" PRIu64 " power-ups): %" PRIu64
           " strobes, %" PRIu64 " latches, %" PRIu64 " levels, %.1f s\n",
           l->cycles, l->default_cycles, l->parts, l->strobes, l->latches, l->taken,
           (double)(clock() - start) / CLOCKS_PER_SEC);
    return status;
}

/* Negative controls: every mistake must show. */
static int try_mistakes(struct lockstep *l, uint64_t seed, uint64_t cycles)
{
    int status = EXIT_SUCCESS;
    int mistake;

    printf("lockstep: seed %" PRIu64 ", each mistake within %" PRIu64 " clocks\n", seed, cycles);
    for (mistake = SLOW_RIGHT + 1; mistake < SLOW_MISTAKES; ++mistake) {
        const char *text = slow_mistake_text((enum slow_mistake)mistake);

        try_parts(l, seed, cycles, (enum slow_mistake)mistake);
        if (l->differs) {
            printf("  %2d  shown after %9" PRIu64 " clocks by %s: %s\n", mistake, l->cycles, l->what, text);
        } else {
            printf("  %2d  NOT SHOWN: %s\n", mistake, text);
            status = EXIT_FAILURE;
        }
    }
    printf("lockstep: %s\n", status == EXIT_SUCCESS ? "every mistake shows" : "a mistake does not show");
    return status;
}

static int usage(void)
{
    fprintf(stderr, "usage: lockstep [--cycles N] [--seed S] [--break K (1..%d) | --controls]\n", SLOW_MISTAKES - 1);
    return 2;
}

int main(int argc, char **argv)
{
    static struct lockstep l;
    uint64_t cycles = 0;
    uint64_t seed = 1;
    uint64_t mistake = SLOW_RIGHT;
    bool controls = false;
    int i;

    for (i = 1; i < argc; ++i) {
        uint64_t *number = NULL;
        char *end = NULL;

        if (strcmp(argv[i], "--controls") == 0) {
            controls = true;
            continue;
        }
        if (strcmp(argv[i], "--cycles") == 0) {
            number = &cycles;
        } else if (strcmp(argv[i], "--seed") == 0) {
            number = &seed;
        } else if (strcmp(argv[i], "--break") == 0) {
            number = &mistake;
        }
        i += 1;
        if (number == NULL || i >= argc) {
            return usage();
        }
        *number = strtoull(argv[i], &end, 10);
        if (end == argv[i] || *end != '\0') {
            return usage();
        }
    }
    if (mistake >= SLOW_MISTAKES) {
        return usage();
    }
    if (controls) {
        return try_mistakes(&l, seed, cycles > 0 ? cycles : CONTROL_CYCLES);
    }
    return compare_both(&l, seed, cycles > 0 ? cycles : DEFAULT_CYCLES, (enum slow_mistake)mistake);
}
