/* Speech programs as processes: text in, a WAV file out. */
#include <fcntl.h>
#include <spawn.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "bench.h"

/* Length in seconds by the WAV header's bytes per second and the file's size. */
static double wav_seconds(const char *path)
{
    unsigned char header[44] = {0};
    FILE *in = fopen(path, "rb");
    if (in == NULL) {
        return 0.0;
    }
    const size_t got = fread(header, 1, sizeof header, in);
    fseek(in, 0, SEEK_END);
    const long size = ftell(in);
    fclose(in);
    const uint32_t rate = header[28] | (uint32_t)header[29] << 8 | (uint32_t)header[30] << 16;
    return got == sizeof header && rate > 0 ? (double)(size - 44) / rate : 0.0;
}

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static double cpu_of(const struct rusage *u)
{
    return (double)(u->ru_utime.tv_sec + u->ru_stime.tv_sec) +
           (double)(u->ru_utime.tv_usec + u->ru_stime.tv_usec) * 1e-6;
}

int bench_speak(const char *name, const char *text, bench_process *result)
{
    char path[] = "/tmp/hyoid-bench-XXXXXX";
    const int file = mkstemp(path);
    if (file < 0) {
        return -1;
    }
    close(file);
    char words[2048]; /* of its own: an argument vector is not const */
    snprintf(words, sizeof words, "%s", text);
    char *const espeak[] = {"espeak-ng", "-w", path, "--", words, NULL};
    char *const flite[] = {"flite", "-t", words, "-o", path, NULL};
    posix_spawn_file_actions_t quiet;
    posix_spawn_file_actions_init(&quiet);
    posix_spawn_file_actions_addopen(&quiet, 1, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&quiet, 2, "/dev/null", O_WRONLY, 0);
    pid_t child = 0;
    int status = -1;
    struct rusage usage = {0};
    const double before = now();
    const int failed =
        posix_spawnp(&child, name, &quiet, NULL, strcmp(name, "flite") == 0 ? flite : espeak, environ) != 0 ||
        wait4(child, &status, 0, &usage) != child || status != 0;
    *result = (bench_process){wav_seconds(path), now() - before, cpu_of(&usage)};
    posix_spawn_file_actions_destroy(&quiet);
    unlink(path);
    return failed ? -1 : 0;
}
