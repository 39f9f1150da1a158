/* hyoid live: the verb. */
#include "live.h"

#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "device.h"
#include "load.h"
#include "options.h"
#include "optvalue.h"
#include "partfile.h"
#include "quiet.h"
#include "session.h"
#include "terminal.h"

enum { DEVICE, LIST, LATENCY, RATE, BITS, CLOCK, LEVEL, PART, PAUSED, PLAIN, VERBOSE };

static const hy_option options[] = {
    [DEVICE] = {"device", 0, "NAME", "a sound device: its number, or part of its name (default: the system's)"},
    [LIST] = {"list-devices", 0, NULL, "print the devices and stop"},
    [LATENCY] = {"latency", 0, "MS", "how far the device plays behind, 1..1000 ms (default 15, or what it can)"},
    [RATE] = {"rate", 0, "HZ", "samples per second, 8000..192000 (default 48000, or the device's own)"},
    [BITS] = {"bits", 0, "N", "16, 24 or 32 bits a sample in recordings (default 16; 32 is floating point)"},
    [CLOCK] = {"clock", 0, "HZ", "where the clock starts, such as 650k (default: the part's nominal clock)"},
    [LEVEL] = {"level", 0, "N", "where inflection starts, 0..3 (default 1)"},
    [PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},
    [PAUSED] = {"paused", 0, NULL, "do not play INPUT until told so"},
    [PLAIN] = {"plain", 0, NULL, "no screen: commands as lines on standard input (so without a terminal)"},
    [VERBOSE] = {"verbose", 0, NULL, "let the sound libraries talk on standard error"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "live",
    "[INPUT] [options]",
    "Lets you hear the chip while you turn its clock. INPUT is a score (.score), a write log (.csv) or a\n"
    "capture (.vcd); without one there are phonemes by keys, typed words and babble. In a terminal ? lists\n"
    "the keys; otherwise lines of standard input are commands, which `help` lists.\n"
    "\n"
    "CAUTION: high clocks and sweeps can be loud and shrill. Start quietly, above all with headphones. Volume\n"
    "starts at -12 dB and rises from silence; a limiter holds peaks at -3 dB until you bypass it.",
    options,
    "Examples:\n"
    "  hyoid live docs/scores/storm.score\n"
    "  printf 'say hh eh l ow\\nsweep 300k over 1s exp\\nwait 1s\\n' | hyoid live --plain",
};

typedef struct request {
    hy_device_options device;
    const char *input, *part;
    double clock_hz; /* < 0: the part's */
    int level;       /* < 0: not given */
    int bits, list, paused, plain, verbose;
} request;

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    int number = 0;
    int result = 0;
    switch (option) {
    case HY_OPERAND:
        result = hy_operand(&r->input, value, &usage, "INPUT", diag);
        break;
    case DEVICE:
        r->device.name = value;
        break;
    case LIST:
        r->list = 1;
        break;
    case LATENCY:
        result = hy_value_whole(value, 1, 1000, "latency", &number, diag);
        r->device.latency_ms = number;
        break;
    case RATE:
        result = hy_value_whole(value, HYOID_RATE_MIN, HYOID_RATE_MAX, "rate", &number, diag);
        r->device.rate = (uint32_t)number;
        break;
    case BITS:
        result = hy_value_bits(value, &r->bits, diag);
        break;
    case CLOCK:
        result = hy_value_clock(value, "clock", &r->clock_hz, diag);
        break;
    case LEVEL:
        result = hy_value_whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
        break;
    case PART:
        r->part = value;
        break;
    case PAUSED:
        r->paused = 1;
        break;
    case PLAIN:
        r->plain = 1;
        break;
    default:
        r->verbose = 1;
        break;
    }
    return result;
}

/* ---- playing ---- */

static volatile sig_atomic_t stop; /* a signal asks for the end */
static volatile sig_atomic_t stopped_by;

static void on_signal(int number)
{
    stopped_by = number;
    stop = 1;
}

static void catch_signals(struct sigaction *before, int put_back)
{
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction ours;
    memset(&ours, 0, sizeof ours);
    ours.sa_handler = on_signal;
    for (size_t i = 0; i < 3; i++) {
        if (put_back) {
            sigaction(signals[i], &before[i], NULL);
        } else if (sigaction(signals[i], NULL, &before[i]) == 0 && before[i].sa_handler != SIG_IGN) {
            sigaction(signals[i], &ours, NULL);
        }
    }
}

/* What was being recorded when the user quit, or the device went, is kept. */
static int finish_take(hy_live_session *session, int device_gone, hy_diag *diag)
{
    const hy_command end = {.kind = HY_CMD_RECORD, .at = HY_SOON};
    if (session->take == NULL || hy_live_session_do(session, &end, diag) != 0) {
        return 0;
    }
    float nowhere[HY_PLAYER_CHUNK];
    for (int i = 0; i < 500 && session->take != NULL; i++) {
        if (device_gone) { /* nobody else runs the player any more */
            hy_player_render(session->player, nowhere, HY_PLAYER_CHUNK, 1);
        } else {
            poll(NULL, 0, 10);
        }
        if (hy_live_session_tick(session, diag) != 0) {
            return -1;
        }
    }
    return 0;
}

static int play(const request *r, hy_live_session *session, hy_device **device, FILE *err, hy_diag *diag)
{
    if (hy_device_start(*device, session->player, diag) != 0) {
        return -1;
    }
    session->options.time = hy_device_time;
    session->options.time_user = *device;
    const int screen = !r->plain && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO);
    int result =
        screen ? hy_terminal_run(session, *device, &stop, diag) : hy_lines_run(session, *device, &stop, err, diag);
    hy_diag taken = {""};
    const unsigned notes = session->note_number;
    session->options.time = NULL;
    if (result != 0) {
        hy_device_close(*device);
        *device = NULL;
    }
    if (finish_take(session, result != 0, &taken) != 0) {
        result = result != 0 ? result : hy_fail(diag, "%s", taken.text);
    }
    if (screen && session->saved > 0) {
        fprintf(err, "hyoid: %d recording%s; the last one is %s, with .csv and .score\n", session->saved,
                session->saved == 1 ? "" : "s", session->take_name);
    } else if (!screen && session->note_number != notes) {
        fprintf(err, "hyoid: %s\n", session->note);
    }
    return result;
}

static int live(const request *r, FILE *err, hy_diag *diag)
{
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : NULL;
    if (r->part != NULL && file == NULL) {
        return -1;
    }
    const hyoid_part *part = file != NULL ? hy_partfile_part(file) : hyoid_part_default();
    const hy_host_options host = {.clock_hz = r->clock_hz < 0.0 ? part->nominal_hz : r->clock_hz,
                                  .level = r->level < 0 ? HY_LEVEL_DEFAULT : r->level};
    hy_input input;
    hy_score *score = r->input != NULL ? hy_load_score(r->input, part, &host, &input, diag) : NULL;
    if (score != NULL) {
        hy_input_tell_unused(&input, r->input, r->clock_hz >= 0.0, r->level >= 0, err);
    }
    hy_clock_tell_slow(r->clock_hz, err);
    hy_device *device = NULL;
    hy_live_session *session = NULL;
    int result = diag->text[0] != '\0' ? -1 : hy_device_begin(diag);
    const int begun = result == 0;
    if (begun && r->list) {
        result = hy_device_list(stdout, diag);
    } else if (begun && (device = hy_device_choose(&r->device, diag)) != NULL) {
        const char *slash = r->input != NULL ? strrchr(r->input, '/') : NULL;
        const hy_live_options wanted = {.part = part,
                                        .score = score,
                                        .score_name = slash != NULL ? slash + 1 : r->input,
                                        .rate = hy_device_rate(device),
                                        .bits = r->bits,
                                        .clock_hz = host.clock_hz,
                                        .level = host.level,
                                        .paused = r->paused};
        session = hy_live_session_new(&wanted, diag);
        result = session != NULL ? play(r, session, &device, err, diag) : -1;
    } else {
        result = -1;
    }
    hy_device_close(device);
    if (begun) {
        hy_device_end();
    }
    hy_live_session_free(session);
    hy_score_free(score);
    hy_partfile_free(file);
    return result;
}

int hy_live_main(int argc, char **argv)
{
    request r = {.clock_hz = -1.0, .level = -1, .bits = 16};
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    struct sigaction before[3];
    catch_signals(before, 0);
    FILE *err = hy_quiet_begin(r.verbose);
    const int result = live(&r, err, &diag);
    hy_quiet_end();
    catch_signals(before, 1);
    if (result != 0) {
        return hy_refuse(&diag);
    }
    if (stopped_by != 0) {
        raise((int)stopped_by); /* everything is in order; now as whoever sent it expects */
    }
    return 0;
}
