/* Progress of long work, with the time left: one line that is redrawn on a terminal's standard error; nothing when that is
 * no terminal, and nothing for work that is over within a second. The clock is read for display only: no result depends
 * on it.
 *
 *     hy_progress progress;
 *     hy_progress_start(&progress, "reading board.vcd");
 *     while (...) hy_progress_at(&progress, done, whole);
 *     hy_progress_end(&progress);                          // ahead of anything else that is printed */
#ifndef HY_PROGRESS_H
#define HY_PROGRESS_H

#include <stdint.h>

typedef struct hy_progress {
    const char *what; /* kept, not copied */
    int shown;        /* a line stands there */
    int silent;
    int64_t start_ms, next_ms; /* of the monotonic clock: begun; not before then again */
} hy_progress;

void hy_progress_start(hy_progress *progress, const char *what);

/* done of whole, in any unit; whole 0: not known, then only the time so far is shown. Cheap enough to be called for every
 * block of a file: it draws at most five times a second. */
void hy_progress_at(hy_progress *progress, uint64_t done, uint64_t whole);

/* Removes the line. May be called more than once. */
void hy_progress_end(hy_progress *progress);

/* What is drawn, without the control characters around it: for tests. Returns what snprintf would. */
int hy_progress_line(char *text, int room, const char *what, uint64_t done, uint64_t whole, int64_t elapsed_ms);

#endif
