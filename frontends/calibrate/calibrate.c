/* hyoid calibrate: recordings of a chip -> a part that speaks like it. */
#include "calibrate.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "calibration.h"
#include "diag.h"
#include "input.h"
#include "number.h"
#include "options.h"
#include "optvalue.h"
#include "outcome.h"
#include "outfile.h"
#include "outfolder.h"
#include "parallel.h"
#include "partwrite.h"
#include "places.h"
#include "progress/progress.h"
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
    "  hyoid survey --calibration -o survey.score\n"
    "  hyoid calibrate chip.wav --input survey.score -o my-chip --report my-chip.html",
};

typedef struct request {
    const char *recordings[HY_TAKES_MAX];
    size_t count;
    const char *input, *output, *capture, *map, *part, *date, *json, *report;
    double clock_hz, measured_hz;
    int level, coloured, resume, threads;
    int argc;
    char **argv;
    char unfinished[4096];
} request;

typedef struct steps {
    request *r;
    hy_progress progress;
    const hy_partfile *prior;
} steps;

/* After each step the part so far is kept beside the destination: an interrupted run is not lost. */
static int on_step(void *user, const hy_calibration *session, const char *what, double done, hy_diag *diag)
{
    steps *s = user;
    s->progress.what = what;
    hy_progress_at(&s->progress, (uint64_t)(done * 1000), 1000);
    if (session->fit == NULL || done >= 1) {
        return 0;
    }
    const char *source = "unfinished calibration";
    const int by_pins = session->pins != NULL && session->pins->measured;
    hy_partwrite write = {s->prior, session, source, by_pins ? source : NULL};
    return hy_partwrite_keep(&write, s->r->unfinished, diag);
}

static int hz_of(const char *text, const char *option, double *hz, hy_diag *diag)
{
    if (hy_hz_read(text, strlen(text), hz) != 0 || *hz <= 0 || *hz > HYOID_CLOCK_MAX) {
        return hy_fail(diag, "--%s: %s is no clock frequency; 720k or 719840 would be", option,
                       hy_show(text, strlen(text)).text);
    }
    return 0;
}

static int option(request *r, int which, const char *value, hy_diag *diag)
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
static int writable(const request *r, hy_diag *diag)
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

static int complete(request *r, hy_diag *diag)
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
    return writable(r, diag);
}

/* A file's name as a table can hold it. */
typedef struct plain_name {
    char text[120];
} plain_name;

static plain_name plain(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash != NULL ? slash + 1 : path;
    plain_name shown = {""};
    for (size_t n = 0; name[n] != '\0' && n + 1 < sizeof shown.text; n++) {
        shown.text[n] = (char)((unsigned char)name[n] < 32 || (unsigned char)name[n] >= 127 ? '_' : name[n]);
    }
    return shown;
}

/* "measured: chip.wav and 1 more, 2026-11-25, with hyoid calibrate; ..." */
static void source_text(const request *r, const hy_calibration *s, char *text, size_t size)
{
    char more[40] = "";
    if (r->count > 1) {
        snprintf(more, sizeof more, " and %zu more", r->count - 1);
    }
    snprintf(text, size, "measured: %s%s, %s, with hyoid calibrate; the whole fit's residual is %.2f dB",
             plain(r->recordings[0]).text, more, r->date != NULL ? r->date : "undated", s->after_db);
}

/* The same for what the pins told. */
static void pins_text(const request *r, const hy_pins *pins, char *text, size_t size)
{
    snprintf(text, size, "measured: %s, %s, the pins, %lu strobes, clock by %s, with hyoid calibrate",
             plain(pins->path).text, r->date != NULL ? r->date : "undated", pins->strobes, pins->clock_from);
}

/* What was fitted to another text, or to no speech of a chip, is no part. */
static int must_be_near(const request *r, const hy_calibration *s, hy_diag *diag)
{
    static const double FAR_DB = 6; /* fits that were right came to 0.9 to 3.7, clipped throughout */
    if (s->held_after_db <= FAR_DB) {
        return 0;
    }
    hy_partwrite_remove(r->unfinished);
    return hy_fail(
        diag,
        "%s: phonemes that were held out still differ by %.1f dB (at most %.0f are taken): is %s what is heard "
        "in it, from its begin to its end?",
        r->recordings[0], s->held_after_db, FAR_DB, r->input);
}

static int deliver(const request *r, const hy_partfile *prior, hy_calibration *s, hy_diag *diag)
{
    if (must_be_near(r, s, diag) != 0) {
        return -1;
    }
    char source[500], pins_source[500];
    source_text(r, s, source, sizeof source);
    const int by_pins = s->pins != NULL && s->pins->measured;
    if (by_pins) {
        pins_text(r, s->pins, pins_source, sizeof pins_source);
    }
    hy_partwrite write = {prior, s, source, by_pins ? pins_source : NULL};
    hy_outcome outcome = {s, r->output, r->part, r->argc, r->argv};
    if (r->json != NULL && hy_outcome_json(&outcome, r->json, diag) != 0) {
        return -1;
    }
    if (r->report != NULL && hy_outcome_report(&outcome, r->report, diag) != 0) {
        return -1;
    }
    if (hy_partwrite_new(&write, r->output, diag) != 0) {
        return -1;
    }
    hy_partwrite_remove(r->unfinished);
    return hy_outcome_print(&outcome, diag);
}

/* A capture that shows one clock, and a user who measured another: one of them is of something else. */
static int clocks_agree(const request *r, const hy_pins *pins, hy_diag *diag)
{
    static const double MOST = 1e-3; /* recorders, counters and a clock that drifts (common practice) */
    if (r->measured_hz <= 0 || pins->clock_hz <= 0 || fabs(pins->clock_hz / r->measured_hz - 1) <= MOST) {
        return 0;
    }
    return hy_fail(diag,
                   "%s shows a clock of %.1f Hz, --measured-clock says %.1f Hz; one of them alone would be right",
                   pins->path, pins->clock_hz, r->measured_hz);
}

/* Timing alone, from a capture alone. */
static int run_pins(const request *r, const hy_partfile *prior, hy_diag *diag)
{
    hy_pins pins = {.path = r->capture, .map = r->map};
    hy_calibration session = {.prior = hy_partfile_part(prior), .part = *hy_partfile_part(prior), .pins = &pins};
    /* its own clock first: what a counter showed is known only to so many parts per million */
    if (hy_pins_measure(&pins, prior, 0.0, diag) != 0 || clocks_agree(r, &pins, diag) != 0 ||
        (!pins.measured && r->measured_hz > 0 && hy_pins_measure(&pins, prior, r->measured_hz, diag) != 0)) {
        return -1;
    }
    if (!pins.measured) {
        return hy_fail(diag, "%s: shows no clock; a capture of the clock's pin, or --measured-clock, would be right",
                       pins.path);
    }
    if (hy_calibration_take_pins(&session) == 0) {
        return hy_fail(diag, "%s: no phoneme lasted its full time, and request's delay is not told: nothing to write",
                       pins.path);
    }
    char source[500];
    pins_text(r, &pins, source, sizeof source);
    const hy_partwrite write = {prior, &session, source, source};
    if (hy_partwrite_new(&write, r->output, diag) != 0) {
        return -1;
    }
    printf("%s\nwrote %s; all sounds were kept: a recording tells them\n", hy_pins_say(&pins).text, r->output);
    return fflush(stdout) == 0 ? 0 : hy_fail(diag, "standard output: %s", strerror(errno));
}

static int run(request *r, hy_diag *diag)
{
    hy_partfile *prior = r->part != NULL ? hy_partfile_read(r->part, diag) : hy_partfile_default(diag);
    if (prior != NULL && r->count == 0) {
        const int done = run_pins(r, prior, diag);
        hy_partfile_free(prior);
        return done;
    }
    hy_partfile *start = prior != NULL && r->resume ? hy_partfile_read(r->unfinished, diag) : NULL;
    hy_take takes[HY_TAKES_MAX];
    hy_calibration session = {.coloured = r->coloured};
    size_t count = 0;
    hy_pins pins = {.path = r->capture, .map = r->map};
    int status = prior != NULL && (start != NULL || !r->resume) ? 0 : -1;
    const hyoid_part *part = status == 0 ? hy_partfile_part(prior) : NULL;
    if (status == 0 && r->capture != NULL) {
        session.pins = &pins;
        session.prior_file = prior;
        status = hy_pins_measure(&pins, prior, 0.0, diag) == 0 ? clocks_agree(r, &pins, diag) : -1;
    }
    for (; status == 0 && count < r->count; count++) {
        hy_host_options host = {.clock_hz = r->clock_hz > 0 ? r->clock_hz : part->nominal_hz,
                                .level = r->level >= 0 ? r->level : HY_LEVEL_DEFAULT};
        hy_input input;
        status = hy_input_read(&input, r->input, part, &host, diag);
        if (status == 0) {
            if (count == 0) {
                hy_input_tell_unused(&input, r->input, r->clock_hz > 0, r->level >= 0, stderr);
            }
            const int shown = count == 0 && r->measured_hz <= 0 && pins.clock_hz > 0.0;
            status = hy_take_read(&takes[count], r->recordings[count], &input, part, &host,
                                  shown ? pins.clock_hz : r->measured_hz, diag);
            takes[count].clock_known = status == 0 && shown ? 2 : takes[count].clock_known;
            hy_input_free(&input);
        }
        if (status != 0) {
            break;
        }
    }
    if (status == 0) {
        steps s = {.r = r, .prior = prior};
        session.prior = part;
        session.takes = takes;
        session.take_count = count;
        session.threads = (unsigned)r->threads;
        hy_progress_start(&s.progress, "reading");
        status = hy_calibration_run(&session, start != NULL ? hy_partfile_part(start) : NULL, on_step, &s, diag);
        hy_progress_end(&s.progress);
        status = status == 0 ? deliver(r, prior, &session, diag) : -1;
        hy_calibration_free(&session);
    }
    for (size_t i = 0; i < count; i++) {
        hy_take_free(&takes[i]);
    }
    hy_partfile_free(start);
    hy_partfile_free(prior);
    return status;
}

int hy_calibrate_main(int argc, char **argv)
{
    hy_diag diag = {""};
    request r = {.level = -1, .argc = argc, .argv = argv};
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
    return complete(&r, &diag) == 0 && run(&r, &diag) == 0 ? 0 : hy_refuse(&diag);
}
