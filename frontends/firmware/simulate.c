/* The child process: firmware may write where its microcontroller has no memory, which the simulator does not always stop. The log
 * comes back through a temporary file, and nothing that a child in trouble may have sent is believed. */
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

/* The log's events, one behind the other. */
static int send(hy_log *log, FILE *to, hy_diag *diag)
{
    hy_event event;
    int more;
    if (hy_log_rewind(log, diag) != 0) {
        return -1;
    }
    while ((more = hy_log_next(log, &event, diag)) == 1) {
        if (fwrite(&event, sizeof event, 1, to) != 1) {
            break;
        }
    }
    if (more == 0 && fflush(to) == 0) {
        return 0;
    }
    return hy_fail(diag, "the write log's temporary file: %s", strerror(errno));
}

static int makes_sense(const hy_event *e)
{
    switch ((hy_signal)e->signal) {
    case HY_PIN:
        return e->number >= 0 && e->number < 2 * HY_PINS;
    case HY_INFLECTION:
        return e->number >= 0 && e->number < HYOID_LEVELS;
    case HY_CLOCK: /* its frequency, like all times, is looked at when it is appended */
    case HY_END:
        return e->number == 0;
    default: /* firmware neither marks nor writes whole phonemes */
        return 0;
    }
}

/* Null on error. */
static hy_log *receive(FILE *from, hy_diag *diag)
{
    hy_log *log = hy_log_new(diag);
    hy_event event;
    int ended = 0;
    rewind(from);
    while (log != NULL && diag->text[0] == '\0' && fread(&event, sizeof event, 1, from) == 1) {
        ended = event.signal == HY_END;
        if (!makes_sense(&event)) {
            hy_fail(diag, "what the firmware did came back garbled");
        } else {
            hy_log_append(log, &event, 0, diag);
        }
    }
    if (log != NULL && !ended) {
        hy_fail(diag, "what the firmware did came back cut short");
    }
    if (diag->text[0] != '\0') {
        hy_log_free(log);
        return NULL;
    }
    return log;
}

static void child(const hy_simulation *simulation, FILE *events, int to_parent)
{
    answer a;
    memset(&a, 0, sizeof a);
    hy_log *log = hy_log_new(&a.diag);
    a.result = log != NULL ? hy_simulate_here(simulation, log, &a.simulated, &a.diag) : -1;
    if (a.result == 0) {
        a.result = send(log, events, &a.diag);
    }
    _exit(write(to_parent, &a, sizeof a) == (ssize_t)sizeof a ? 0 : 1);
}

/* The whole answer: 0, or -1 if less came. */
static int hear(int from_child, answer *a)
{
    size_t used = 0;
    while (used < sizeof *a) {
        const ssize_t got = read(from_child, (char *)a + used, sizeof *a - used);
        if (got == 0 || (got < 0 && errno != EINTR)) {
            break; /* at its end, errno may still be that of an interrupted try */
        }
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

static hy_log *run(const hy_simulation *simulation, FILE *events, hy_simulated *simulated, hy_diag *diag)
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
        child(simulation, events, ends[1]);
    }
    close(ends[1]);
    answer a;
    int heard = -1, status = 0;
    if (pid < 0) {
        hy_fail(diag, "cannot start a process: %s", strerror(errno));
    } else {
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
    return receive(events, diag);
}

hy_log *hy_simulate(const hy_simulation *simulation, hy_simulated *simulated, hy_diag *diag)
{
    FILE *events = tmpfile();
    if (events == NULL) {
        hy_fail(diag, "cannot make a temporary file: %s", strerror(errno));
        return NULL;
    }
    hy_log *log = run(simulation, events, simulated, diag);
    fclose(events);
    return log;
}
