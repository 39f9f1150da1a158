/* hyoid calibrate: recordings of a chip -> a part that speaks like it. */
#include "calibrate.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "diag.h"
#include "number.h"
#include "options.h"
#include "optvalue.h"
#include "outfile.h"
#include "outfolder.h"
#include "parallel.h"
#include "places.h"
#include "run.h"
#include "text.h"

enum {
    OPT_INPUT,
    OPT_OUTPUT,
    OPT_CAPTURE,
    OPT_MAP,
    OPT_PART,
    OPT_MEASURED,
    OPT_CLOCK,
    OPT_LEVEL,
    OPT_DATE,
    OPT_COLOURED,
    OPT_RESUME,
    OPT_THREADS,
    OPT_JSON,
    OPT_REPORT
};

static const hy_option options[] = {
    {"input", 'i', "FILE", "what the chip was told: the score or write log of the survey (or of anything else)"},
    {"output", 'o', "DIR", "the part to write: a new folder"},
    {"capture", 0, "FILE",
     "the pins while the first recording was made (.vcd, .sr, .csv): exact durations and delay"},
    {"map", 0, "KEY=NAME,...", "which signal of the capture is which pin, as for timing; or a file"},
    {"part", 0, "DIR", "begin from this part instead of the built-in default"},
    {"measured-clock", 0, "HZ", "the chip's clock as a counter showed it; otherwise it is searched"},
    {"clock", 0, "HZ", "the clock that an input without one means (default: the part's nominal one)"},
    {"level", 0, "0..3", "inflection where the input doesn't set it (default 1)"},
    {"date", 0, "TEXT", "when it was recorded, for the provenance"},
    {"coloured", 0, NULL, "the recorder's response is not flat (a microphone, a telephone): let it go free"},
    {"resume", 0, NULL, "go on from DIR.unfinished, which an interrupted run left"},
    {"threads", 0, "N", "work on so many threads, 1..64 (default: all processors); the result is the same"},
    {"json", 0, "FILE", "everything that was found, as JSON"},
    {"report", 0, "FILE", "a page with pictures: before, after, recording"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "calibrate",
    "RECORDING... --input FILE -o DIR [options]",
    "Fits the part's numbers to recordings of a chip and writes a new part, in which each number that\n"
    "the recordings tell says so and all others keep what was known of them.\n"
    "\n"
    "Record `hyoid survey --calibration` for this: a burst ahead of each phoneme shows to a fraction of a\n"
    "millisecond when it began. Any recording with its score or write log will do; what it doesn't tell is\n"
    "listed. Several recordings of the same input are fitted together. docs/calibrate.md is a tutorial.\n"
    "\n"
    "Caution: boards may carry mains voltage, picture tubes stay charged, chips die of static. Isolate,\n"
    "measure first, keep to local rules, and leave cabinets to licensed technicians.",
    options,
    "Examples:\n"
    "  hyoid survey --calibration --short -o survey.score --sound chip.wav\n"
    "  hyoid calibrate chip.wav --input survey.score -o my-chip --report my-chip.html",
};

#define SLOWEST_HZ 1000.0 /* at this a survey lasts half a day */

static int hz_of(const char *text, const char *option, double *hz, hy_diag *diag)
{
    if (hy_hz_read(text, strlen(text), hz) != 0 || *hz < SLOWEST_HZ || *hz > HYOID_CLOCK_MAX) {
        return hy_fail(diag, "--%s: %s is no clock frequency from 1 kHz to 100 MHz; 720k or 719840 would be", option,
                       hy_show(text, strlen(text)).text);
    }
    return 0;
}

static int option(hy_calibrate_request *r, int which, const char *value, hy_diag *diag)
{
    switch (which) {
    case OPT_INPUT:
        r->input = value;
        return 0;
    case OPT_OUTPUT:
        r->output = value;
        return 0;
    case OPT_CAPTURE:
        r->capture = value;
        return 0;
    case OPT_MAP:
        r->map = value;
        return 0;
    case OPT_PART:
        r->part = value;
        return 0;
    case OPT_CLOCK:
        return hz_of(value, "clock", &r->clock_hz, diag);
    case OPT_MEASURED:
        return hz_of(value, "measured-clock", &r->measured_hz, diag);
    case OPT_LEVEL:
        return hy_value_whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case OPT_DATE:
        for (const char *c = value; *c != '\0'; c++) {
            if ((unsigned char)*c < 32 || (unsigned char)*c >= 127 || c - value >= 40) {
                return hy_fail(diag, "--date %s: at most 40 plain characters, such as 2026-11-25, would be right",
                               hy_show(value, strlen(value)).text);
            }
        }
        r->date = value;
        return 0;
    case OPT_THREADS:
        return hy_value_whole(value, 1, HY_THREADS_MAX, "threads", &r->threads, diag);
    case OPT_COLOURED:
        r->coloured = 1;
        return 0;
    case OPT_RESUME:
        r->resume = 1;
        return 0;
    case OPT_JSON:
        r->json = value;
        return 0;
    case OPT_REPORT:
        r->report = value;
        return 0;
    default:
        if (r->count == HY_TAKES_MAX) {
            return hy_fail(diag, "more than %d recordings; fit them in several runs, each from the part before",
                           HY_TAKES_MAX);
        }
        r->recordings[r->count++] = value;
        return 0;
    }
}

/* An output that can't be written is found before the work, not after it. */
static int writable(const hy_calibrate_request *r, hy_diag *diag)
{
    const char *files[] = {r->json, r->report};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        hy_outfile *file = files[i] != NULL ? hy_outfile_open(files[i], diag) : NULL;
        if (files[i] != NULL && file == NULL) {
            return -1;
        }
        hy_outfile_abandon(file);
    }
    hy_outfolder *folder = hy_outfolder_open(r->output, diag);
    hy_outfolder_abandon(folder);
    return folder != NULL ? 0 : -1;
}

static int complete(hy_calibrate_request *r, hy_diag *diag)
{
    struct stat status;
    if (r->count == 0 && r->capture == NULL) {
        return hy_fail(diag, "calibrate needs a recording: hyoid calibrate chip.wav --input survey.score -o my-chip");
    }
    const struct {
        const char *name;
        int given;
    } of_recordings[] = {{"input", r->input != NULL}, {"clock", r->clock_hz > 0},   {"level", r->level >= 0},
                         {"coloured", r->coloured},   {"resume", r->resume},        {"threads", r->threads > 0},
                         {"json", r->json != NULL},   {"report", r->report != NULL}};
    for (size_t i = 0; r->count == 0 && i < sizeof of_recordings / sizeof of_recordings[0]; i++) {
        if (of_recordings[i].given) {
            return hy_fail(diag, "--%s needs a recording; a capture alone tells timing only", of_recordings[i].name);
        }
    }
    if (r->map != NULL && r->capture == NULL) {
        return hy_fail(diag, "--map says which signal of a --capture is which pin; there is none");
    }
    if (r->input == NULL && r->count > 0) {
        return hy_fail(diag, "calibrate needs --input: the score or write log of what was recorded");
    }
    if (r->output == NULL || strcmp(r->output, "-") == 0) {
        return hy_fail(diag, "calibrate needs -o: the folder of the part to write");
    }
    size_t length = strlen(r->output);
    while (length > 1 && r->output[length - 1] == '/') {
        length--;
    }
    if (length > sizeof r->unfinished - 40) {
        return hy_fail(diag, "%.200s...: the path is too long", r->output);
    }
    snprintf(r->unfinished, sizeof r->unfinished, "%.*s.unfinished", (int)length, r->output);
    enum { OTHERS = 4 };
    const char *inputs[HY_TAKES_MAX + OTHERS] = {r->input, r->part, r->capture, r->map};
    memcpy(inputs + OTHERS, r->recordings, sizeof r->recordings);
    const char *const outputs[] = {r->output, r->json, r->report, r->unfinished};
    const hy_place_form forms[] = {{"json", r->json, "JSON", HY_FORM_JSON},
                                   {"report", r->report, "a page", HY_FORM_PAGE}};
    if (hy_places_check(outputs, 4, inputs, HY_TAKES_MAX + OTHERS, diag) != 0 ||
        hy_places_forms(forms, 2, diag) != 0) {
        return -1;
    }
    if (lstat(r->output, &status) == 0) {
        return hy_fail(diag, "%s exists already; calibrate never writes over a part", r->output);
    }
    if (lstat(r->unfinished, &status) == 0 && !r->resume) {
        return hy_fail(diag, "%s was left by an interrupted run; --resume goes on from it, or remove it",
                       r->unfinished);
    }
    if (r->resume && lstat(r->unfinished, &status) != 0) {
        return hy_fail(diag, "there is no %s to go on from; without --resume it begins anew", r->unfinished);
    }
    return writable(r, diag);
}

int hy_calibrate_main(int argc, char **argv)
{
    hy_diag diag = {""};
    hy_calibrate_request r = {.level = -1, .argc = argc, .argv = argv};
    hy_options state;
    hy_options_start(&state, &usage, argc, argv);
    for (;;) {
        int which = hy_options_next(&state, &diag);
        if (which == HY_OPTIONS_HELP) {
            return hy_options_help(&usage);
        }
        if (which == HY_OPTIONS_END) {
            break;
        }
        if (which == HY_OPTIONS_BAD || option(&r, which, state.value, &diag) != 0) {
            return hy_refuse(&diag);
        }
    }
    return complete(&r, &diag) == 0 && hy_calibrate_run(&r, &diag) == 0 ? 0 : hy_refuse(&diag);
}
