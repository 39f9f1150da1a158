/* Speed, side by side, in one run: hyoid's uses, another chip emulation, two speech programs. Every measurement is taken several
 * times, the rounds of all interleaved, so that a machine that slows down slows all alike; the median counts.
 *
 *     bench [JSON FILE]
 *
 * "Times real time" is seconds of sound per second of this program's processor time. Speech programs run as
 * processes; their start, taken from a run on an empty text, is subtracted. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <hyoid/hyoid.h>

#include "bench.h"

enum { ROUNDS = 5, BLOCKS = 15000, BLOCK_ROUNDS = 9 };

static const char sentences[] =
    "The storm warning came at seven in the morning, and all the boats turned round and sailed for the harbour. "
    "Nobody had seen such a wind since the winter of nineteen fifty three. By noon the pier was under water, the "
    "lamps along the front were dark, and the old machine in the arcade spoke to an empty hall. Fourteen points, and "
    "a bonus ball. Who plays next? It had said so every evening for forty years, and it did not mind the rain.";

typedef struct task {
    const char *name, *what;
    bench_work *work;
    int variant;
    double seconds; /* of sound in a round */
    double rate[ROUNDS];
} task;

static task tasks[] = {
    {"chip", "hyoid: chip rate, levels into an array", bench_chip_only, 0, 0, {0}},
    {"stream_720", "hyoid: whole path, 720 kHz to 48 kHz float", bench_stream, PATH_720, 0, {0}},
    {"stream_713", "hyoid: whole path, 713337.1 Hz to 48 kHz", bench_stream, PATH_713, 0, {0}},
    {"stream_44100", "hyoid: whole path, 720 kHz to 44.1 kHz", bench_stream, PATH_44100, 0, {0}},
    {"stream_96000", "hyoid: whole path, 720 kHz to 96 kHz", bench_stream, PATH_96000, 0, {0}},
    {"stream_glide", "hyoid: whole path, clock always gliding, to 48 kHz", bench_stream, PATH_GLIDE, 0, {0}},
    {"stream_no_images",
     "hyoid: whole path, 720 kHz to 48 kHz, images left out",
     bench_stream,
     PATH_NO_IMAGES,
     0,
     {0}},
    {"stream_tap", "hyoid: whole path to 48 kHz with a tap", bench_stream, PATH_TAP, 0, {0}},
    {"stream_fault", "hyoid: whole path to 48 kHz with a fault", bench_stream, PATH_FAULT, 0, {0}},
    {"step_bare", "hyoid: one clock per call, nothing else", bench_single_clocks, CLOCKS_BARE, 0, {0}},
    {"step_pins", "hyoid: one clock per call, pins read, levels kept", bench_single_clocks, CLOCKS_PINS, 0, {0}},
    {"step_sound", "hyoid: one clock per call of the stream, to 48 kHz", bench_single_clocks, CLOCKS_SOUND, 0, {0}},
    {"batch", "hyoid: 8 chips as a batch, chip rate, seconds of all", bench_batch, BATCH_TOGETHER, 0, {0}},
    {"batch_alone", "hyoid: the same 8 chips one by one", bench_batch, BATCH_ALONE, 0, {0}},
    {"sid", "reSIDfp in its computer, to 48 kHz", bench_sid, SID_WHOLE, 0, {0}},
    {"sid_absent", "that computer without a sound chip", bench_sid, SID_ABSENT, 0, {0}},
};
enum { TASKS = sizeof tasks / sizeof tasks[0] };

static double cpu_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(const double *values, size_t count)
{
    double sorted[16] = {0};
    memcpy(sorted, values, count * sizeof *values);
    qsort(sorted, count, sizeof *sorted, ascending);
    return sorted[count / 2];
}

static double measure(const task *t, double seconds)
{
    const double before = cpu_now();
    const double sound = t->work(seconds, t->variant);
    const double spent = cpu_now() - before;
    return sound / spent;
}

/* Long enough for a third of a second of work. */
static void calibrate(task *t)
{
    const double rate = measure(t, 1.0);
    t->seconds = rate * 0.3 < 1.0 ? 1.0 : rate * 0.3;
}

static double rate_of(const char *name)
{
    for (size_t i = 0; i < TASKS; i++) {
        if (strcmp(tasks[i].name, name) == 0) {
            return median(tasks[i].rate, ROUNDS);
        }
    }
    return 0.0;
}

static json_t *table(void)
{
    json_t *all = json_object();
    const double reference = rate_of("stream_720");
    printf("%-56s %12s %9s %16s\n", "", "x real time", "ratio", "spread");
    for (size_t i = 0; i < TASKS; i++) {
        const task *t = &tasks[i];
        double sorted[ROUNDS];
        memcpy(sorted, t->rate, sizeof sorted);
        qsort(sorted, ROUNDS, sizeof *sorted, ascending);
        const double middle = sorted[ROUNDS / 2];
        if (!(middle > 0.0)) {
            printf("%-56s %12s\n", t->what, "did not run");
            continue;
        }
        printf("%-56s %12.1f %9.3f %7.1f..%.1f\n", t->what, middle, middle / reference, sorted[0],
               sorted[ROUNDS - 1]);
        json_object_set_new(all, t->name,
                            json_pack("{s:s, s:f, s:f, s:f, s:f}", "what", t->what, "times_real_time", middle,
                                      "ratio", middle / reference, "least", sorted[0], "most", sorted[ROUNDS - 1]));
    }
    const double with = rate_of("sid"), without = rate_of("sid_absent");
    if (with > 0.0 && without > with) {
        const double alone = 1.0 / (1.0 / with - 1.0 / without);
        printf("%-56s %12.1f %9.3f\n", "reSIDfp by difference of the two", alone, alone / reference);
        json_object_set_new(all, "sid_alone", json_pack("{s:f}", "times_real_time", alone));
    }
    return all;
}

/* A block's time is the median over the rounds: what interrupts one round hits another block in the next. */
static json_t *blocks(double rounds[BLOCK_ROUNDS][BLOCKS])
{
    static double middle[BLOCKS];
    for (size_t i = 0; i < BLOCKS; i++) {
        double times[BLOCK_ROUNDS];
        for (size_t r = 0; r < BLOCK_ROUNDS; r++) {
            times[r] = rounds[r][i];
        }
        middle[i] = median(times, BLOCK_ROUNDS);
    }
    qsort(middle, BLOCKS, sizeof *middle, ascending);
    const double period = 64e6 / 48000.0;
    const double worst = middle[BLOCKS - 1], typical = middle[BLOCKS / 2];
    printf("\nA block of 64 frames at 48 kHz (%.0f us), %d of them: worst %.1f us = %.2f %% of its period, median "
           "%.1f us = "
           "%.2f %%\n",
           period, BLOCKS, worst, 100.0 * worst / period, typical, 100.0 * typical / period);
    return json_pack("{s:f, s:f, s:f}", "worst_us", worst, "median_us", typical, "worst_share", worst / period);
}

static json_t *speakers(bench_process runs[2][2][ROUNDS], const char *const names[2])
{
    json_t *all = json_object();
    printf("\n%-12s %9s %12s %14s %14s %12s\n", "as a process", "sound, s", "wall, s", "of it start, s",
           "x real time", "by CPU");
    for (size_t n = 0; n < 2; n++) {
        double wall[ROUNDS], cpu[ROUNDS], start[ROUNDS], start_cpu[ROUNDS];
        for (size_t r = 0; r < ROUNDS; r++) {
            wall[r] = runs[n][0][r].wall;
            cpu[r] = runs[n][0][r].cpu;
            start[r] = runs[n][1][r].wall;
            start_cpu[r] = runs[n][1][r].cpu;
        }
        const double sound = runs[n][0][0].sound - runs[n][1][0].sound;
        if (!(sound > 0.0)) {
            printf("%-12s did not run\n", names[n]);
            continue;
        }
        const double net = median(wall, ROUNDS) - median(start, ROUNDS);
        const double net_cpu = median(cpu, ROUNDS) - median(start_cpu, ROUNDS);
        printf("%-12s %9.1f %12.3f %14.3f %14.0f %12.0f\n", names[n], sound, median(wall, ROUNDS),
               median(start, ROUNDS), sound / net, sound / net_cpu);
        json_object_set_new(all, names[n],
                            json_pack("{s:f, s:f, s:f, s:f, s:f}", "sound_s", sound, "wall_s", median(wall, ROUNDS),
                                      "start_s", median(start, ROUNDS), "times_real_time_wall", sound / net,
                                      "times_real_time_cpu", sound / net_cpu));
    }
    return all;
}

static void cpu_name(char *name, size_t room)
{
    char line[256];
    snprintf(name, room, "unknown");
    FILE *in = fopen("/proc/cpuinfo", "r");
    while (in != NULL && fgets(line, sizeof line, in) != NULL) {
        const char *colon = strchr(line, ':');
        if (strncmp(line, "model name", 10) == 0 && colon != NULL) {
            snprintf(name, room, "%.*s", (int)strcspn(colon + 2, "\n"), colon + 2);
            break;
        }
    }
    if (in != NULL) {
        fclose(in);
    }
}

static json_t *machine(void)
{
    char cpu[256];
    double load[3] = {0};
    cpu_name(cpu, sizeof cpu);
    if (getloadavg(load, 3) < 1) {
        load[0] = -1.0;
    }
    printf("compiler  %s %s\nflags     %s\nCPU       %s\nload      %.2f before the run\nother     %s\n\n",
#ifdef __clang__
           "clang", __clang_version__,
#else
           "gcc", __VERSION__,
#endif
           BENCH_FLAGS, cpu, load[0], BENCH_SID);
    return json_pack("{s:s, s:s, s:s, s:f}", "compiler", __VERSION__, "flags", BENCH_FLAGS, "cpu", cpu, "load",
                     load[0]);
}

int main(int argc, char **argv)
{
    static double block_rounds[BLOCK_ROUNDS][BLOCKS];
    static bench_process runs[2][2][ROUNDS];
    const char *const names[2] = {"espeak-ng", "flite"};
    double snapshot[ROUNDS], copy[ROUNDS];
    json_t *machine_json = machine();
    for (size_t i = 0; i < TASKS; i++) {
        calibrate(&tasks[i]);
    }
    for (size_t r = 0; r < ROUNDS; r++) {
        fprintf(stderr, "round %zu of %d\n", r + 1, ROUNDS);
        for (size_t i = 0; i < TASKS; i++) {
            tasks[i].rate[r] = measure(&tasks[i], tasks[i].seconds);
        }
        snapshot[r] = bench_snapshot();
        copy[r] = bench_copy();
        for (size_t n = 0; n < 2; n++) {
            if (bench_speak(names[n], sentences, &runs[n][0][r]) != 0 ||
                bench_speak(names[n], "", &runs[n][1][r]) != 0) {
                runs[n][0][r].sound = 0.0;
            }
        }
        for (size_t b = r; b < BLOCK_ROUNDS; b += ROUNDS) {
            bench_blocks(block_rounds[b], BLOCKS);
        }
    }
    json_t *report = json_object();
    json_object_set_new(report, "machine", machine_json);
    json_object_set_new(report, "times_real_time", table());
    json_object_set_new(report, "blocks", blocks(block_rounds));
    printf("snapshot saved and loaded: %.2f us; stream copied: %.2f us (%zu bytes)\n", median(snapshot, ROUNDS),
           median(copy, ROUNDS), sizeof(hyoid_stream));
    json_object_set_new(report, "snapshot_us", json_real(median(snapshot, ROUNDS)));
    json_object_set_new(report, "copy_us", json_real(median(copy, ROUNDS)));
    json_object_set_new(report, "processes", speakers(runs, names));
    if (!(bench_peak() > 0.01)) {
        fprintf(stderr, "hyoid was silent: these numbers mean nothing\n");
        return 1;
    }
    if (argc > 1 && json_dump_file(report, argv[1], JSON_INDENT(2) | JSON_REAL_PRECISION(6)) != 0) {
        fprintf(stderr, "%s: cannot be written\n", argv[1]);
        return 1;
    }
    json_decref(report);
    return 0;
}
