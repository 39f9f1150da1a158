/* The child process: firmware may write where its microcontroller has no memory, which the simulator does not always stop.
 * The log comes back as CSV through the reader that takes any log, so nothing that a child in trouble may send is believed. */
#include "simulate.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

typedef struct answer {
    int result;
    hy_simulated simulated;
    hy_diag diag;
} answer;

const char *hy_simulator_missing(void)
{
    return NULL;
}

static void child(const hy_simulation *simulation, FILE *csv, int to_parent)
{
    answer a;
    memset(&a, 0, sizeof a);
    hy_log *log = hy_log_new(&a.diag);
    a.result = log != NULL ? hy_simulate_here(simulation, log, &a.simulated, &a.diag) : -1;
    if (a.result == 0) {
        a.result = hy_log_write_csv(log, csv, &a.diag);
    }
    if (a.result == 0 && fflush(csv) != 0) {
        a.result = hy_fail(&a.diag, "the write log's temporary file: %s", strerror(errno));
    }
    _exit(write(to_parent, &a, sizeof a) == (ssize_t)sizeof a ? 0 : 1);
}

/* The whole answer: 0, or -1 if less came. */
static int hear(int from_child, answer *a)
{
    size_t used = 0;
    ssize_t got;
    while (used < sizeof *a && ((got = read(from_child, (char *)a + used, sizeof *a - used)) > 0 || errno == EINTR)) {
        used += got > 0 ? (size_t)got : 0;
    }
    return used == sizeof *a ? 0 : -1;
}

static int judge(const hy_simulation *simulation, int heard, answer *a, int status, hy_diag *diag)
{
    if (heard != 0 || !WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        return hy_fail(diag, "%s: the simulator came to grief over it (%s %d)", simulation->firmware,
                       WIFSIGNALED(status) ? "signal" : "exit status",
                       WIFSIGNALED(status) ? WTERMSIG(status) : WEXITSTATUS(status));
    }
    a->diag.text[sizeof a->diag.text - 1] = '\0';
    return a->result == 0 ? 0 : hy_fail(diag, "%s", a->diag.text);
}

static hy_log *run(const hy_simulation *simulation, FILE *csv, hy_simulated *simulated, hy_diag *diag)
{
    int ends[2];
    if (pipe(ends) != 0) {
        hy_fail(diag, "cannot make a pipe: %s", strerror(errno));
        return NULL;
    }
    fflush(NULL);
    pid_t pid = fork();
    if (pid == 0) {
        close(ends[0]);
        child(simulation, csv, ends[1]);
    }
    close(ends[1]);
    answer a;
    int heard = -1, status = 0;
    if (pid < 0) {
        hy_fail(diag, "cannot start a process: %s", strerror(errno));
    } else {
        errno = 0;
        heard = hear(ends[0], &a);
        while (waitpid(pid, &status, 0) < 0 && errno == EINTR) {
        }
        if (judge(simulation, heard, &a, status, diag) != 0) {
            heard = -1;
        }
    }
    close(ends[0]);
    if (heard != 0) {
        return NULL;
    }
    *simulated = a.simulated;
    rewind(csv);
    return hy_log_read_csv(csv, "what the firmware did", diag);
}

hy_log *hy_simulate(const hy_simulation *simulation, hy_simulated *simulated, hy_diag *diag)
{
    FILE *csv = tmpfile();
    if (csv == NULL) {
        hy_fail(diag, "cannot make a temporary file: %s", strerror(errno));
        return NULL;
    }
    hy_log *log = run(simulation, csv, simulated, diag);
    fclose(csv);
    return log;
}
