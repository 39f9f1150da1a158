/* Lines instead of a screen: commands from standard input, so that playing can be scripted. */
#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "screen.h"
#include "terminal.h"

#define LOOK_MS 10
#define LINE_BYTES 4096

typedef struct lines {
    hy_live_session *session;
    hy_device *device;
    const volatile sig_atomic_t *stop;
    FILE *err;
    hy_diag *diag;
    char line[LINE_BYTES + 1]; /* what has come of the next one */
    size_t length;
    unsigned number;
    int at_end;
} lines;

static int look(lines *l)
{
    const unsigned notes = l->session->note_number;
    const int result = hy_live_session_tick(l->session, l->diag);
    if (result == 0 && l->session->note_number != notes) {
        fprintf(l->err, "hyoid: %s\n", l->session->note);
    }
    return result != 0 ? result : hy_device_check(l->device, l->diag);
}

/* Looks until `done`, a signal or an error. */
static int wait_until(lines *l, int (*done)(const hy_live_session *))
{
    int result = 0;
    while (result == 0 && !*l->stop && !done(l->session)) {
        poll(NULL, 0, LOOK_MS);
        result = look(l);
    }
    return result;
}

static int wait_for(lines *l, int64_t ps)
{
    const uint64_t first = l->session->samples_drained;
    const double seconds = (double)ps * 1e-12;
    int result = 0;
    while (result == 0 && !*l->stop &&
           (double)(l->session->samples_drained - first) < seconds * l->session->options.rate) {
        poll(NULL, 0, LOOK_MS);
        result = look(l);
    }
    return result;
}

static int not_recording(const hy_live_session *s)
{
    return s->take == NULL;
}

static int print_status(lines *l)
{
    const hy_view view = {.session = l->session,
                          .latency_ms = hy_device_latency_ms(l->device),
                          .worst_load = hy_device_worst_load(l->device),
                          .xruns = hy_device_xruns(l->device)};
    char line[512];
    hy_screen_line(&view, line, sizeof line);
    printf("%s\n", line);
    return fflush(stdout) == 0 ? 0 : hy_fail(l->diag, "cannot write to standard output: %s", strerror(errno));
}

/* Commands that start from where things stand: a script gives them faster than a block lasts. */
static int looks_back(hy_command_kind kind)
{
    return kind == HY_CMD_SWEEP || kind == HY_CMD_BACK || kind == HY_CMD_ZERO || kind == HY_CMD_STEP ||
           kind == HY_CMD_HOLD_STEP || kind == HY_CMD_WORD || kind == HY_CMD_STATUS;
}

static int do_line(lines *l)
{
    hy_command command;
    hy_diag why = {""};
    const unsigned notes = l->session->note_number;
    int failed = hy_command_read(l->line, &command, &why);
    if (failed == 0 && looks_back(command.kind) && command.at == HY_SOON &&
        wait_until(l, hy_live_session_fresh) != 0) {
        return -1;
    }
    if (failed != 0 || hy_live_session_do(l->session, &command, &why) != 0) {
        return hy_fail(l->diag, "standard input:%u: %s", l->number, why.text);
    }
    if (l->session->note_number != notes) {
        fprintf(l->err, "hyoid: %s\n", l->session->note);
    }
    switch (command.kind) {
    case HY_CMD_RECORD: /* its time counts from the power-up, and a file is whole when the next line is read */
        return wait_until(l, l->session->take != NULL && command.on ? hy_live_session_recording : not_recording);
    case HY_CMD_WAIT:
        return command.span > 0 ? wait_for(l, command.span) : wait_until(l, hy_live_session_quiet);
    case HY_CMD_STATUS:
        return print_status(l);
    case HY_CMD_HELP:
        fputs(hy_command_help, stdout);
        return fflush(stdout) == 0 ? 0 : hy_fail(l->diag, "cannot write to standard output: %s", strerror(errno));
    default:
        return 0;
    }
}

/* Reads what is there; 1: a whole line stands in l->line. */
static int read_some(lines *l)
{
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    char byte;
    while (!l->at_end && poll(&in, 1, 0) > 0) {
        const ssize_t n = read(STDIN_FILENO, &byte, 1);
        if (n < 0) {
            return errno == EINTR || errno == EAGAIN
                       ? 0
                       : hy_fail(l->diag, "cannot read standard input: %s", strerror(errno));
        }
        l->at_end = n == 0;
        if (n == 0 ? l->length > 0 : byte == '\n') {
            l->length -= l->length > 0 && l->line[l->length - 1] == '\r';
            l->line[l->length] = '\0';
            l->length = 0;
            l->number++;
            return 1;
        }
        if (n > 0 && l->length == LINE_BYTES) {
            return hy_fail(l->diag, "standard input:%u: the line is longer than %d bytes", l->number + 1, LINE_BYTES);
        }
        if (n > 0) {
            l->line[l->length++] = byte == '\0' ? '?' : byte;
        }
    }
    return 0;
}

int hy_lines_run(hy_live_session *session, hy_device *device, const volatile sig_atomic_t *stop, FILE *err,
                 hy_diag *diag)
{
    lines l = {.session = session, .device = device, .stop = stop, .err = err, .diag = diag};
    int result = 0;
    while (result == 0 && !*stop && !session->quit && !l.at_end) {
        struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
        poll(&in, 1, LOOK_MS);
        result = look(&l);
        int line = 0;
        while (result == 0 && !session->quit && (line = read_some(&l)) == 1) {
            result = do_line(&l);
        }
        result = line < 0 ? -1 : result;
    }
    return result != 0 || session->quit
               ? result
               : wait_until(&l, hy_live_session_quiet); /* the last word is heard to its end */
}
