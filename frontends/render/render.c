/* hyoid render: a score or a write log becomes sound, pins, labels and a picture. */
#define _XOPEN_SOURCE 700 /* realpath */

#include "render.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture.h"
#include "input.h"
#include "number.h"
#include "options.h"
#include "outfile.h"
#include "partfile.h"

enum {
    OUTPUT,
    RATE,
    BITS,
    DITHER,
    CLOCK,
    LEVEL,
    TAIL,
    PART,
    PINS,
    LOG,
    LABELS,
    PICTURE,
    CHIP_RATE,
    NO_IMAGES,
    MAP,
    QUIET
};

static const hy_option options[] = {
    [OUTPUT] = {"output", 'o', "FILE", "sound: .wav, .flac or .ogg; - is standard output, as WAV"},
    [RATE] = {"rate", 0, "HZ", "samples per second, 8000..192000 (default 48000)"},
    [BITS] = {"bits", 0, "N", "16, 24 or 32 bits a sample (default 16; 32 is floating point, WAV only)"},
    [DITHER] = {"dither", 0, NULL, "add triangular noise of one step before rounding (off by default)"},
    [CLOCK] = {"clock", 0, "HZ",
               "where the clock starts, such as 650k, for an INPUT that does not set it\n"
               "(default: the part's nominal clock)"},
    [LEVEL] = {"level", 0, "N", "where inflection starts, 0..3, for an INPUT that does not set it (default 1)"},
    [TAIL] = {"tail", 0, "MS", "what sounds after the last phoneme's time, 0..60000 ms (default 50)"},
    [PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},
    [PINS] = {"pins", 0, "FILE.vcd",
              "the pins and the audio level as a value change dump\n"
              "(0.7 MB for each second of sound)"},
    [LOG] = {"log", 0, "FILE.csv", "the write log that was played"},
    [LABELS] = {"labels", 0, "FILE.TextGrid", "phonemes, request and marks as labels"},
    [PICTURE] = {"picture", 0, "FILE.png", "spectrogram with phonemes, request and clock"},
    [CHIP_RATE] = {"chip-rate", 0, NULL, "sound is the raw staircase, one sample a filter cycle"},
    [NO_IMAGES] = {"no-images", 0, NULL,
                   "leave out the staircase's images above half the filter rate, which a real chip\n"
                   "sends to its amplifier; the sound comes 32 filter cycles later"},
    [MAP] = {"map", 0, "KEY=NAME,...",
             "which signal of a capture is which pin: p0..p5 or p, i0, i1, strobe, request,\n"
             "clock or clock_hz (default: by these names)"},
    [QUIET] = {"quiet", 'q', NULL, "no summary on standard error"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "render",
    "INPUT -o FILE [options]",
    "Says what a good chip must say. INPUT is a score (.score), a write log (.csv) or a capture\n"
    "(.vcd); - is standard input. 1.0 on the model's audio pin is full scale in files: nothing is\n"
    "normalised, so two renderings can be compared. The built-in part is an estimate of the chip,\n"
    "not a reading.",
    options,
    "Examples:\n"
    "  hyoid render docs/scores/hour.score -o hour.wav --picture hour.png\n"
    "  echo 'hh eh l ow' | hyoid render - -o low.flac --clock 600k --level 2",
};

static int number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag)
{
    hy_decimal decimal;
    size_t n = strlen(text), used = hy_decimal_read(text, n, 0, &decimal);
    *value = used > 0 ? hy_decimal_double(&decimal, 0) : -1.0;
    if (used == 0 || used != n || !(*value >= low && *value <= high)) {
        return hy_fail(diag, "--%s %s: a number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

static int clock_hz(const char *text, double *hz, hy_diag *diag)
{
    if (hy_hz_read(text, strlen(text), hz) != 0 || !(*hz <= HYOID_CLOCK_MAX)) {
        return hy_fail(diag, "--clock %s: a frequency of 0 to 100M would be right, such as 650k or 1.02MHz", text);
    }
    return 0;
}

static int whole(const char *text, double low, double high, const char *option, int *value, hy_diag *diag)
{
    double read;
    if (number(text, low, high, option, &read, diag) != 0) {
        return -1;
    }
    *value = (int)read;
    if ((double)*value != read) {
        return hy_fail(diag, "--%s %s: a whole number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

typedef struct request {
    hy_render_options render;
    const char *input, *part, *map;
    double clock_hz; /* < 0: the part's */
    int level, quiet;
} request;

static int take(request *r, int option, const char *value, hy_diag *diag)
{
    int rate;
    double ms;
    switch (option) {
    case OUTPUT:
        r->render.sound = value;
        return 0;
    case RATE:
        if (whole(value, HYOID_RATE_MIN, HYOID_RATE_MAX, "rate", &rate, diag) != 0) {
            return -1;
        }
        r->render.rate = (uint32_t)rate;
        return 0;
    case BITS:
        if (strcmp(value, "16") != 0 && strcmp(value, "24") != 0 && strcmp(value, "32") != 0) {
            return hy_fail(diag, "--bits %s: 16, 24 or 32 would be right", value);
        }
        r->render.bits = atoi(value);
        return 0;
    case DITHER:
        r->render.dither = 1;
        return 0;
    case CLOCK:
        return clock_hz(value, &r->clock_hz, diag);
    case LEVEL:
        return whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case TAIL:
        if (number(value, 0.0, 60000.0, "tail", &ms, diag) != 0) {
            return -1;
        }
        r->render.tail_ps = (int64_t)(ms * 1e9 + 0.5);
        return 0;
    case PART:
        r->part = value;
        return 0;
    case PINS:
        r->render.pins = value;
        return 0;
    case LOG:
        r->render.log = value;
        return 0;
    case LABELS:
        r->render.labels = value;
        return 0;
    case PICTURE:
        r->render.picture = value;
        return 0;
    case CHIP_RATE:
        r->render.chip_rate = 1;
        return 0;
    case NO_IMAGES:
        r->render.no_images = 1;
        return 0;
    case MAP:
        r->map = value;
        return 0;
    case QUIET:
        r->quiet = 1;
        return 0;
    default:
        return hy_fail(diag, "unknown option");
    }
}

/* The place that a path means, whichever way it is spelled: links and folders resolved, the file itself need not be
 * there. Null if it can't be told (then opening it will tell why). */
static char *resolved(const char *path)
{
    char *whole = realpath(path, NULL);
    if (whole != NULL) {
        return whole;
    }
    const char *slash = strrchr(path, '/');
    char *head = slash == NULL ? strdup(".") : strndup(path, slash == path ? 1 : (size_t)(slash - path));
    char *folder = head != NULL ? realpath(head, NULL) : NULL;
    const char *name = slash != NULL ? slash + 1 : path;
    size_t size = folder != NULL ? strlen(folder) + strlen(name) + 2 : 0;
    whole = folder != NULL ? malloc(size) : NULL;
    if (whole != NULL) {
        snprintf(whole, size, "%s/%s", folder, name);
    }
    free(folder);
    free(head);
    return whole;
}

static int same_place(const char *a, const char *b)
{
    if (strcmp(a, b) == 0) {
        return 1;
    }
    if (strcmp(a, "-") == 0 || strcmp(b, "-") == 0) {
        return 0;
    }
    char *whole_a = resolved(a);
    char *whole_b = resolved(b);
    int same = whole_a != NULL && whole_b != NULL && strcmp(whole_a, whole_b) == 0;
    free(whole_a);
    free(whole_b);
    return same;
}

/* Writing two outputs to one place, or over the input, is a slip that would cost the user a file. */
static int check_places(const request *r, hy_diag *diag)
{
    const char *places[] = {r->render.sound,  r->render.pins,    r->render.log,
                            r->render.labels, r->render.picture, r->input};
    const size_t count = sizeof places / sizeof places[0];
    int any = 0;
    for (size_t i = 0; i < count; i++) {
        any = any || (i + 1 < count && places[i] != NULL);
        if (places[i] != NULL && places[i][0] == '\0') {
            return hy_fail(diag, "a file's name is empty");
        }
        for (size_t k = i + 1; k < count; k++) {
            int both_dashes = k + 1 == count && places[i] != NULL && strcmp(places[i], "-") == 0;
            if (places[i] != NULL && places[k] != NULL && !both_dashes && same_place(places[i], places[k])) {
                return hy_fail(diag,
                               k + 1 == count
                                   ? "%s is the input and would be overwritten; another name would be right"
                                   : "%s is named for two outputs; two names would be right",
                               places[i]);
            }
        }
    }
    return any ? 0 : hy_fail(diag, "render needs an output: -o FILE, --pins, --log, --labels or --picture");
}

static int render(const request *r, hy_diag *diag)
{
    hy_partfile *file = NULL;
    const hyoid_part *part = hyoid_part_default();
    if (r->part != NULL) {
        file = hy_partfile_read(r->part, diag);
        if (file == NULL) {
            return -1;
        }
        part = hy_partfile_part(file);
    }
    const hy_host_options host = {.clock_hz = r->clock_hz < 0.0 ? part->nominal_hz : r->clock_hz, .level = r->level};
    hy_input input;
    hy_capture_note note;
    int result = hy_input_read_mapped(&input, r->input, r->map, part, &host, &note, diag);
    if (result == 0) {
        fputs(r->quiet ? "" : note.text, stderr);
        hy_render_summary summary;
        result = hy_render(&input, part, &r->render, &summary, diag);
        if (result == 0 && !r->quiet) {
            if (r->clock_hz >= 0.0 && input.sets_clock) {
                fprintf(stderr, "note: %s sets its own clock at its start; --clock had no effect\n", r->input);
            }
            hy_render_print(&summary, &r->render, r->part);
        }
    }
    hy_input_free(&input);
    hy_partfile_free(file);
    return result;
}

int hy_render_main(int argc, char **argv)
{
    request r = {
        .render = {.rate = 48000, .bits = 16, .tail_ps = INT64_C(50000000000)}, .clock_hz = -1.0, .level = 1};
    hy_diag diag = {""};
    hy_options state;
    hy_options_start(&state, &usage, argc, argv);
    for (;;) {
        int next = hy_options_next(&state, &diag);
        if (next == HY_OPTIONS_END) {
            break;
        }
        if (next == HY_OPTIONS_HELP) {
            return hy_options_help(&usage);
        }
        if (next == HY_OPERAND && r.input != NULL) {
            hy_fail(&diag, "render takes one INPUT; %s is a second one", state.value);
        } else if (next == HY_OPERAND) {
            r.input = state.value;
        } else if (next >= 0) {
            take(&r, next, state.value, &diag);
        }
        if (diag.text[0] != '\0') {
            return hy_refuse(&diag);
        }
    }
    if (r.input == NULL) {
        hy_fail(
            &diag,
            "render needs an INPUT: a score (.score), a write log (.csv), a capture (.vcd), or - for standard input");
        return hy_refuse(&diag);
    }
    if (check_places(&r, &diag) != 0 || render(&r, &diag) != 0) {
        return hy_refuse(&diag);
    }
    return 0;
}
