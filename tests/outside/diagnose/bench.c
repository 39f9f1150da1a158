/* The bench set of `hyoid diagnose`.
 *
 *     diagnose_bench SCORE [--seed N] [--every N] [--healthy N] [--fault NAME] [--condition 0..2]
 *                          [--reach RATIO] [--verbose] [--floors]
 *     diagnose_bench SCORE --write FILE.wav [--fault NAME] [--condition 0..2] [--seed N]
 *
 * Each fault at three strengths that are not among those which the program tries (a fault without degrees three times), in three
 * kinds of recordings, each with another clock, start, gain and noise; and healthy chips. Prints how often the right fault came
 * first. A group counts only if its members can't be told apart on that input and recording. --every thins the set out, --floors
 * makes what must hold the exit status, --write gives one of the recordings (strength 0.62) as a file. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "../../../frontends/diagnose/search.h"
#include "sound.h"
#include "spoil.h"

#define GAIN_REACH_DB 1.0

typedef struct bench {
    hy_reference_setup setup;
    hy_search search;
    double reach; /* of the clocks: 1 / (1 + reach) to 1 + reach */
    double speech_rms, seconds;
    uint64_t seed;
    int verbose, only_condition; /* -1: all */
} bench;

typedef struct tally {
    int right, first, cases; /* first: in first place by itself, not in a group */
} tally;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static const char *name_of(int fault)
{
    return fault == HY_HEALTHY ? "healthy" : hyoid_fault_describe((hyoid_fault)fault)->name;
}

/* The chip as a shop would record it; the caller frees it. */
static float *record(const bench *b, hy_supposition is, spoil_condition condition, size_t *recorded, hy_diag *diag)
{
    uint64_t seed =
        b->seed + (uint64_t)(is.fault + 2) * 1000 + (uint64_t)(is.strength * 100.0) * 10 + (uint64_t)condition;
    double clock = pow(1.0 + b->reach, 2.0 * spoil_uniform(&seed) - 1.0);
    double gain = pow(10.0, GAIN_REACH_DB * (2.0 * spoil_uniform(&seed) - 1.0) / 20.0);
    size_t count = 0;
    float *sound = hy_reference_sound(&b->setup, is, clock, &count, diag);
    float *samples =
        sound != NULL ? spoil(sound, count, HY_ANALYSIS_RATE, condition, gain, b->speech_rms, &seed, recorded) : NULL;
    free(sound);
    return samples;
}

static int ask(bench *b, hy_supposition is, spoil_condition condition, hy_diag *diag)
{
    size_t recorded = 0;
    float *samples = record(b, is, condition, &recorded, diag);
    hy_recording *recording =
        samples != NULL ? hy_recording_from("bench", samples, recorded, HY_ANALYSIS_RATE, diag) : NULL;
    hy_heard heard;
    int result = -1;
    if (recording != NULL && hy_heard_make(&heard, recording, diag) == 0) {
        const hy_search_setup how = {.model = b->setup, .gain_known = 1, .gain_tolerance = 1.5};
        result = hy_search_run(&b->search, &heard, &how, diag);
        hy_heard_free(&heard);
    }
    hy_recording_free(recording);
    free(samples);
    return result;
}

static void judge(bench *b, hy_supposition is, spoil_condition condition, tally *t)
{
    hy_diag diag = {""};
    if (ask(b, is, condition, &diag) != 0) {
        printf("%s: %s\n", name_of(is.fault), diag.text);
        exit(2);
    }
    const hy_diagnosis *d = b->search.best;
    size_t rank = 0;
    while (rank < d->candidates && d->candidate[rank].reference->is.fault != is.fault) {
        rank++;
    }
    const hy_candidate *c = &d->candidate[rank];
    int right = rank < d->candidates && c->group == 0 && d->finding != HY_NOT_EXPLAINED;
    t->cases++;
    t->right += right;
    t->first += right && rank == 0;
    if (b->verbose || !right) {
        const hy_candidate *best = &d->candidate[0];
        printf("%s %-17s %-18s %.2f: rank %2zu, %6.1f behind %s/%.2f; dB %.2f against %.2f, semitones %.2f %.2f, "
               "clock %.4f, silence %.2f, likeness %.2f, unclaimed %.2f\n",
               right ? "     " : "WRONG", spoil_names[condition], name_of(is.fault), is.strength, rank, -c->support,
               name_of(best->reference->is.fault), best->reference->is.strength, c->fit.spectrum_db,
               best->fit.spectrum_db, c->fit.pitch, best->fit.pitch, hy_candidate_clock(best), best->fit.silence_db,
               d->likeness, c->fit.unclaimed);
        if (right && d->candidates > 1) {
            const hy_candidate *next = &d->candidate[1];
            printf("      next: %s/%.2f, %.1f behind, dB %.3f against %.3f, semitones %.3f against %.3f\n",
                   name_of(next->reference->is.fault), next->reference->is.strength, -next->support,
                   next->fit.spectrum_db, best->fit.spectrum_db, next->fit.pitch, best->fit.pitch);
        }
        if (d->finding == HY_NOT_EXPLAINED) {
            printf("      called not explained: %.2f dB, silence %.2f\n", d->candidate[0].fit.spectrum_db,
                   d->candidate[0].fit.silence_db);
        }
        fflush(stdout);
    }
}

/* One recording as a WAV file, for the program itself. */
static int write_one(bench *b, const char *path, const char *fault, spoil_condition condition, hy_diag *diag)
{
    const hy_sound_options options = {.rate = HY_ANALYSIS_RATE, .bits = 16};
    hy_supposition is = {HY_HEALTHY, 0.0};
    for (int f = 0; f < HYOID_FAULTS; f++) {
        is = strcmp(fault, name_of(f)) == 0 ? (hy_supposition){f, 0.62} : is;
    }
    size_t count = 0;
    float *samples = record(b, is, condition, &count, diag);
    hy_sound *sound = samples != NULL ? hy_sound_open(path, &options, diag) : NULL;
    int result = sound != NULL ? hy_sound_write(sound, samples, count, diag) : -1;
    if (sound != NULL && (result != 0 || hy_sound_finish(sound, diag) != 0)) {
        hy_sound_abandon(sound);
        result = -1;
    } else if (sound != NULL) {
        result = hy_sound_commit(sound, diag);
    }
    free(samples);
    return result;
}

static int set_up(bench *b, hy_input *input, const char *path, hy_diag *diag)
{
    const hyoid_part *part = hyoid_part_default();
    const hy_host_options host = {.clock_hz = part->nominal_hz, .level = 1};
    if (hy_input_read(input, path, part, &host, diag) != 0) {
        return -1;
    }
    b->seconds = (double)hy_log_end(input->log) * 1e-12;
    b->setup = (hy_reference_setup){input, part, host, b->seconds * 1.3 + 2.0, 1.0};
    size_t count = 0;
    float *sound = hy_reference_sound(&b->setup, (hy_supposition){HY_HEALTHY, 0.0}, 1.0, &count, diag);
    if (sound == NULL) {
        return -1;
    }
    double sum = 0.0;
    size_t loud = 0;
    for (size_t i = 0; i < count; i++) { /* over what sounds */
        loud += fabsf(sound[i]) > 1e-4f;
        sum += (double)sound[i] * (double)sound[i];
    }
    b->speech_rms = sqrt(sum / (double)loud);
    free(sound);
    printf("input of %.1f s; speech at %.1f dBFS\n", b->seconds, 20.0 * log10(b->speech_rms));
    return 0;
}

static void run(bench *b, int every, int healthy, const char *only, tally fault[], tally well[])
{
    static const double unseen[] = {0.4, 0.62, 0.87};
    int turn = 0;
    for (int condition = 0; condition < SPOIL_CONDITIONS; condition++) {
        if (b->only_condition >= 0 && condition != b->only_condition) {
            turn += 3 * HYOID_FAULTS;
            b->seed += 1000000 * (uint64_t)healthy;
            continue;
        }
        for (int f = 0; f < HYOID_FAULTS; f++) {
            for (int s = 0; s < 3; s++) {
                if ((only == NULL || strcmp(only, name_of(f)) == 0) &&
                    (turn++ + (int)(b->seed % (uint64_t)every)) % every == 0) {
                    judge(b, (hy_supposition){f, unseen[s]}, (spoil_condition)condition, &fault[condition]);
                }
            }
        }
        for (int i = 0; i < healthy; i++) {
            b->seed += 1000000;
            judge(b, (hy_supposition){HY_HEALTHY, 0.0}, (spoil_condition)condition, &well[condition]);
        }
    }
}

int main(int argc, char **argv)
{
    setvbuf(stdout, NULL, _IOLBF, 0);
    static bench b = {.seed = 1, .only_condition = -1, .reach = 0.03};
    static hy_input input;
    int every = 1, healthy = 20, floors = 0;
    const char *only = NULL, *write = NULL;
    hy_diag diag = {""};
    for (int i = 2; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc) {
            b.seed = strtoull(argv[++i], NULL, 10);
        } else if (strcmp(argv[i], "--reach") == 0 && i + 1 < argc) {
            b.reach = atof(argv[++i]);
        } else if (strcmp(argv[i], "--every") == 0 && i + 1 < argc) {
            every = atoi(argv[++i]);
        } else if (strcmp(argv[i], "--healthy") == 0 && i + 1 < argc) {
            healthy = atoi(argv[++i]);
        } else if (strcmp(argv[i], "--write") == 0 && i + 1 < argc) {
            write = argv[++i];
        } else if (strcmp(argv[i], "--condition") == 0 && i + 1 < argc) {
            b.only_condition = atoi(argv[++i]);
        } else if (strcmp(argv[i], "--fault") == 0 && i + 1 < argc) {
            only = argv[++i];
        } else if (strcmp(argv[i], "--verbose") == 0) {
            b.verbose = 1;
        } else if (strcmp(argv[i], "--floors") == 0) {
            floors = 1;
        } else {
            fprintf(stderr, "diagnose_bench: %s is no option\n", argv[i]);
            return 2;
        }
    }
    if (argc < 2 || every < 1 || set_up(&b, &input, argv[1], &diag) != 0) {
        fprintf(stderr, "diagnose_bench: %s\n", argc < 2 ? "a score is missing" : diag.text);
        return 2;
    }
    if (write != NULL) {
        int condition = b.only_condition < 0 ? 0 : b.only_condition;
        int result = write_one(&b, write, only != NULL ? only : "healthy", (spoil_condition)condition, &diag);
        hy_input_free(&input);
        fprintf(stderr, "%s\n", diag.text);
        return result == 0 ? 0 : 2;
    }
    tally fault[SPOIL_CONDITIONS] = {{0, 0, 0}}, well[SPOIL_CONDITIONS] = {{0, 0, 0}};
    printf("seed %llu\n", (unsigned long long)b.seed);
    double start = now();
    run(&b, every, healthy, only, fault, well);
    int cases = 0, failed = 0;
    for (int c = 0; c < SPOIL_CONDITIONS; c++) {
        cases += fault[c].cases + well[c].cases;
        printf(
            "%-18s right first: %3d of %3d (%5.1f %%), alone in first place %3d; healthy called healthy: %d of %d\n",
            spoil_names[c], fault[c].right, fault[c].cases,
            100.0 * fault[c].right / (fault[c].cases > 0 ? fault[c].cases : 1), fault[c].first, well[c].right,
            well[c].cases);
        failed |=
            fault[c].right < (c == SPOIL_CLEAN ? 0.9 : 0.75) * fault[c].cases || well[c].right < 0.98 * well[c].cases;
    }
    printf("%d recordings in %.1f s\n", cases, now() - start);
    hy_search_free(&b.search);
    hy_input_free(&input);
    return floors && failed ? 1 : 0;
}
