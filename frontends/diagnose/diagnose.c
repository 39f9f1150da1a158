/* hyoid diagnose: options, and the way from a recording to a verdict. */
#include "diagnose.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture.h"
#include "number.h"
#include "options.h"
#include "partfile.h"
#include "progress/progress.h"
#include "report/report.h"
#include "show.h"
#include "text.h"

enum { INPUT, CLOCK, LEVEL, GAIN, CHANNEL, PART, MAP, JSON, REPORT, ITEM, DATE, QUIET };

static const hy_option options[] = {
    [INPUT] = {"input", 'i', "FILE", "what was asked of the chip: a score, a write log or a capture (needed)"},
    [CLOCK] = {"clock", 0, "HZ",
               "the board's clock, for an input that does not set it (default: the part's nominal\n"
               "clock). The part's own may be up to 5 % off: that is found"},
    [LEVEL] = {"level", 0, "N", "where inflection starts, 0..3, for an input that does not set it (default 1)"},
    [GAIN] = {"gain", 0, "DB",
              "the recording is calibrated: 1.0 at the model's pin is full scale here at so many dB,\n"
              "to 1.5 dB. Without it a chip that is only weak can't be told from a quiet recorder"},
    [CHANNEL] = {"channel", 0, "N", "channel of the recording, from 1 (default: the loudest)"},
    [PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},
    [MAP] = {"map", 0, "KEY=NAME,...", "which signal of a capture is which pin, as for hyoid render"},
    [JSON] = {"json", 0, "FILE.json", "the whole ranking; - is standard output, instead of the text"},
    [REPORT] = {"report", 0, "FILE.html", "one page with pictures, for a customer or a file"},
    [ITEM] = {"item", 0, "TEXT", "what the report calls the item (default: the recording's name)"},
    [DATE] = {"date", 0, "TEXT", "a date for the report (default: none)"},
    [QUIET] = {"quiet", 'q', NULL, "no text on standard output: the exit status tells"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "diagnose",
    "RECORDING --input FILE [options]",
    "Which of the model's named faults, one at a time, explains a recording of a chip best? Each is\n"
    "rendered for the same input, laid on the recording, and ranked by likelihood, beside a healthy\n"
    "chip; if nothing fits, that is the verdict. Exit status: 0 healthy, 1 faulty or not explained,\n"
    "2 bad input. `hyoid survey` writes an input that shows nearly all faults.\n"
    "\n"
    "The built-in part is an estimate: a healthy chip may differ from it. Mains and monitor voltages\n"
    "inside a cabinet can kill; see the cautions in docs/diagnose.md before you record.",
    options,
    "Examples:\n"
    "  hyoid survey --short -o survey.score --sound good.wav\n"
    "  hyoid diagnose good.wav --input survey.score --report good.html",
};

typedef struct request {
    const char *recording, *input, *part, *map, *json, *report, *item, *date;
    double clock_hz; /* < 0: the part's */
    double gain_db;
    int gain_known, level, channel, quiet;
    char *command;
} request;

static int number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag)
{
    /* with a sign: decibels go both ways */
    hy_decimal decimal;
    const int negative = text[0] == '-';
    const char *digits = text + (negative || text[0] == '+');
    size_t n = strlen(digits), used = hy_decimal_read(digits, n, 0, &decimal);
    *value = used > 0 ? hy_decimal_double(&decimal, 0) * (negative ? -1.0 : 1.0) : 0.0;
    if (used == 0 || used != n || !(*value >= low && *value <= high)) {
        return hy_fail(diag, "--%s %s: a number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

static int whole(const char *text, int low, int high, const char *option, int *value, hy_diag *diag)
{
    double read = 0.0;
    if (number(text, low, high, option, &read, diag) != 0) {
        return -1;
    }
    *value = (int)read;
    return (double)*value == read ? 0 : hy_fail(diag, "--%s %s: a whole number would be right", option, text);
}

static int take(request *r, int option, const char *value, hy_diag *diag)
{
    switch (option) {
    case INPUT:
        r->input = value;
        return 0;
    case CLOCK:
        if (hy_hz_read(value, strlen(value), &r->clock_hz) != 0 ||
            !(r->clock_hz > 0.0 && r->clock_hz <= HYOID_CLOCK_MAX)) {
            return hy_fail(diag, "--clock %s: a frequency up to 100M would be right, such as 650k", value);
        }
        return 0;
    case LEVEL:
        return whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case GAIN:
        r->gain_known = 1;
        return number(value, -100.0, 60.0, "gain", &r->gain_db, diag);
    case CHANNEL:
        return whole(value, 1, 256, "channel", &r->channel, diag);
    case PART:
        r->part = value;
        return 0;
    case MAP:
        r->map = value;
        return 0;
    case JSON:
        r->json = value;
        return 0;
    case REPORT:
        r->report = value;
        return 0;
    case ITEM:
        r->item = value;
        return 0;
    case DATE:
        r->date = value;
        return 0;
    default:
        r->quiet = 1;
        return 0;
    }
}

static int check(const request *r, hy_diag *diag)
{
    const char *const places[] = {r->json, r->report, r->recording, r->input};
    if (r->recording == NULL) {
        return hy_fail(diag, "diagnose needs a RECORDING: a sound file, or - for standard input");
    }
    if (r->input == NULL) {
        return hy_fail(
            diag, "diagnose needs --input FILE: the score, log or capture that was played while it was recorded");
    }
    for (size_t i = 0; i < 4; i++) {
        if (places[i] != NULL && places[i][0] == '\0') {
            return hy_fail(diag, "a file's name is empty");
        }
        for (size_t k = i + 1; k < 4; k++) {
            if (i < 2 && places[i] != NULL && places[k] != NULL && strcmp(places[i], "-") != 0 &&
                strcmp(places[i], places[k]) == 0) {
                return hy_fail(diag,
                               k < 2 ? "%s is named for two outputs; two names would be right"
                                     : "%s would be overwritten; another name would be right",
                               places[i]);
            }
        }
    }
    if (strcmp(r->recording, "-") == 0 && strcmp(r->input, "-") == 0) {
        return hy_fail(diag, "standard input can't be both the recording and the input");
    }
    return 0;
}

/* ---- the work ---- */

typedef struct work {
    hy_progress *progress;
    size_t done, whole;
} work;

static void on_progress(void *user, size_t done, size_t whole)
{
    work *w = user;
    hy_progress_at(w->progress, w->whole - whole + done, w->whole);
}

/* Only the gain's sign is between the recording and the pin: calibrated recordings are brought to the model's scale. */
static void calibrate(hy_recording *recording, double gain_db)
{
    const double scale = pow(10.0, -gain_db / 20.0);
    for (size_t i = 0; i < recording->count; i++) {
        recording->samples[i] = (float)((double)recording->samples[i] * scale);
    }
    recording->dc *= scale;
}

typedef struct rendered {
    hy_reference *reference[128];
    size_t count;
} rendered;

static int render_all(rendered *all, const hy_reference_setup *setup, work *w, hy_diag *diag)
{
    size_t count;
    const hy_supposition *suppositions = hy_suppositions(&count);
    w->whole = 2 * count;
    for (; all->count < count; all->count++) {
        all->reference[all->count] = hy_reference_make(setup, suppositions[all->count], all->reference[0], diag);
        if (all->reference[all->count] == NULL) {
            return -1;
        }
        hy_progress_at(w->progress, all->count + 1, w->whole);
    }
    return 0;
}

static double stated_clock(hy_log *log, double otherwise, hy_diag *diag)
{
    hy_event event;
    double hz = otherwise;
    int more = hy_log_rewind(log, diag) == 0;
    while (more && hy_log_next(log, &event, diag) == 1 && event.ps == 0) {
        hz = event.signal == HY_CLOCK ? event.hz : hz;
    }
    return hz;
}

static int write_outputs(const request *r, const hy_case *c, hy_diag *diag)
{
    if (r->json != NULL) {
        hy_outfile *out = hy_outfile_open(r->json, diag);
        if (out == NULL) {
            return -1;
        }
        if (hy_case_json(c, hy_outfile_stream(out), diag) != 0 || hy_outfile_finish(out, diag) != 0) {
            hy_outfile_abandon(out);
            return -1;
        }
        if (hy_outfile_commit(out, diag) != 0) {
            return -1;
        }
    }
    if (r->report != NULL && hy_case_report(c, r->report, diag) != 0) {
        return -1;
    }
    if (!r->quiet && (r->json == NULL || strcmp(r->json, "-") != 0)) {
        hy_case_text(c, stdout);
        if (fflush(stdout) != 0) {
            return hy_fail(diag, "standard output can't be written");
        }
    }
    return 0;
}

/* All that is opened on the way, so that it can be closed in one place. */
typedef struct bag {
    hy_partfile *file;
    hy_input input;
    hy_recording *recording;
    hy_heard heard;
    rendered all;
} bag;

static int diagnose(const request *r, bag *b, hy_diagnosis *d, hy_diag *diag)
{
    const hyoid_part *part = hyoid_part_default();
    if (r->part != NULL) {
        if ((b->file = hy_partfile_read(r->part, diag)) == NULL) {
            return -1;
        }
        part = hy_partfile_part(b->file);
    }
    const hy_host_options host = {.clock_hz = r->clock_hz < 0.0 ? part->nominal_hz : r->clock_hz, .level = r->level};
    hy_capture_note note;
    b->recording = hy_recording_read(r->recording, r->channel, diag);
    if (b->recording == NULL || hy_input_read_mapped(&b->input, r->input, r->map, part, &host, &note, diag) != 0) {
        return -1;
    }
    fputs(r->quiet ? "" : note.text, stderr);
    if (r->gain_known) {
        calibrate(b->recording, r->gain_db);
    }
    hy_progress progress;
    work w = {&progress, 0, 0};
    hy_progress_start(&progress, "trying faults");
    /* more of a slow fault than was recorded can't be compared */
    const hy_reference_setup setup = {&b->input, part, host, b->recording->seconds + 3.0};
    int result = hy_heard_make(&b->heard, b->recording, diag);
    result = result == 0 ? render_all(&b->all, &setup, &w, diag) : -1;
    const hy_rank_setup how = {b->all.reference, b->all.count, r->gain_known, 1.5, on_progress, &w};
    result = result == 0 ? hy_rank(d, &b->heard, &how, diag) : -1;
    hy_progress_end(&progress);
    if (result != 0) {
        return -1;
    }
    const hy_case c = {.diagnosis = d,
                       .heard = &b->heard,
                       .recording = b->recording,
                       .part = part,
                       .part_name = r->part,
                       .input = r->input,
                       .item = r->item,
                       .date = r->date,
                       .command = r->command,
                       .stated_hz = stated_clock(b->input.log, host.clock_hz, diag),
                       .gain_known = r->gain_known};
    return write_outputs(r, &c, diag);
}

static void empty(bag *b)
{
    for (size_t i = 0; i < b->all.count; i++) {
        hy_reference_free(b->all.reference[i]);
    }
    hy_heard_free(&b->heard);
    hy_recording_free(b->recording);
    hy_input_free(&b->input);
    hy_partfile_free(b->file);
}

int hy_diagnose_main(int argc, char **argv)
{
    request r = {.clock_hz = -1.0, .level = 1};
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
        if (next == HY_OPERAND && r.recording != NULL) {
            hy_fail(&diag, "diagnose takes one RECORDING; %s is a second one",
                    hy_show(state.value, strlen(state.value)).text);
        } else if (next == HY_OPERAND) {
            r.recording = state.value;
        } else if (next >= 0) {
            take(&r, next, state.value, &diag);
        }
        if (diag.text[0] != '\0') {
            return hy_refuse(&diag);
        }
    }
    if (check(&r, &diag) != 0) {
        return hy_refuse(&diag);
    }
    bag *b = calloc(1, sizeof *b);
    hy_diagnosis *d = calloc(1, sizeof *d);
    r.command = hy_report_command(argc, argv);
    int status = 2;
    if (b == NULL || d == NULL) {
        hy_fail(&diag, "memory is short");
        status = hy_refuse(&diag);
    } else {
        status = diagnose(&r, b, d, &diag) != 0 ? hy_refuse(&diag) : d->finding == HY_IS_HEALTHY ? 0 : 1;
        empty(b);
    }
    free(b);
    free(d);
    free(r.command);
    return status;
}
