#include "progress.h"

#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { FIRST_MS = 1000, EVERY_MS = 200 };

static int64_t now_ms(void)
{
    struct timespec now;
    return clock_gettime(CLOCK_MONOTONIC, &now) == 0 ? (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000 : 0;
}

void hy_progress_start(hy_progress *progress, const char *what)
{
    *progress = (hy_progress){.what = what, .silent = !isatty(STDERR_FILENO)};
    if (!progress->silent) {
        progress->start_ms = now_ms();
        progress->next_ms = progress->start_ms + FIRST_MS;
    }
}

static int span(char *text, int room, int64_t ms)
{
    int64_t s = (ms + 500) / 1000;
    if (s >= 3600) {
        return snprintf(text, (size_t)room, "%d h %02d min", (int)(s / 3600), (int)(s / 60 % 60));
    }
    if (s >= 60) {
        return snprintf(text, (size_t)room, "%d min %02d s", (int)(s / 60), (int)(s % 60));
    }
    return snprintf(text, (size_t)room, "%d s", (int)s);
}

int hy_progress_line(char *text, int room, const char *what, uint64_t done, uint64_t whole, int64_t elapsed_ms)
{
    char time[48];
    if (whole == 0 || done == 0) {
        span(time, sizeof time, elapsed_ms);
        return snprintf(text, (size_t)room, "%s: %s so far", what, time);
    }
    double share = done < whole ? (double)done / (double)whole : 1.0;
    double left_ms = (double)elapsed_ms * (1.0 - share) / share;
    span(time, sizeof time, left_ms < 3.6e11 ? (int64_t)left_ms : INT64_C(360000000000));
    return snprintf(text, (size_t)room, "%s: %d %%, %s left", what, (int)(100.0 * share), time);
}

void hy_progress_at(hy_progress *progress, uint64_t done, uint64_t whole)
{
    if (progress->silent) {
        return;
    }
    int64_t now = now_ms();
    if (now < progress->next_ms) {
        return;
    }
    progress->next_ms = now + EVERY_MS;
    progress->shown = 1;
    char line[79]; /* one line of the narrowest terminal in use, or the redrawing would leave lines behind */
    hy_progress_line(line, sizeof line, progress->what, done, whole, now - progress->start_ms);
    fprintf(stderr, "\r%s\033[K", line);
    fflush(stderr);
}

void hy_progress_end(hy_progress *progress)
{
    if (progress->shown) {
        fputs("\r\033[K", stderr);
        fflush(stderr);
    }
    progress->shown = 0;
}
