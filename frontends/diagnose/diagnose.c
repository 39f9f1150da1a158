/* hyoid diagnose: its options. */
#include "diagnose.h"

#include <stdlib.h>
#include <string.h>

#include "number.h"
#include "options.h"
#include "optvalue.h"
#include "places.h"
#include "report/report.h"
#include "run.h"
#include "text.h"

enum { INPUT, CLOCK, LEVEL, GAIN, CHANNEL, PART, MAP, JSON, REPORT, ITEM, DATE, QUIET };

static const hy_option options[] = {
    [INPUT] = {"input", 'i', "FILE", "what was asked of the chip: a score, a write log or a capture (needed)"},
    [CLOCK] = {"clock", 0, "HZ",
               "the board's clock, for an input that does not set it (default: the part's nominal\n"
               "clock). The part's own may be 0.6 to 1.67 times that: it is found"},
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

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    hy_diagnose_request *r = user;
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->recording, value, &usage, "RECORDING", diag);
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
        return hy_value_whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case GAIN:
        r->gain_known = 1;
        return hy_value_number(value, -100.0, 60.0, "gain", &r->gain_db, diag);
    case CHANNEL:
        return hy_value_whole(value, 1, 256, "channel", &r->channel, diag);
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

static int check(const hy_diagnose_request *r, hy_diag *diag)
{
    const char *const outputs[] = {r->json, r->report};
    const char *const inputs[] = {r->recording, r->input, r->map, r->part};
    const hy_place_form forms[] = {{"json", r->json, "JSON", HY_FORM_JSON},
                                   {"report", r->report, "a page", HY_FORM_PAGE}};
    if (r->recording == NULL) {
        return hy_fail(diag, "diagnose needs a RECORDING: a sound file, or - for standard input");
    }
    if (r->input == NULL) {
        return hy_fail(
            diag, "diagnose needs --input FILE: the score, log or capture that was played while it was recorded");
    }
    if (strcmp(r->recording, "-") == 0 && strcmp(r->input, "-") == 0) {
        return hy_fail(diag, "standard input can't be both the recording and the input");
    }
    return hy_places_check(outputs, 2, inputs, 4, diag) != 0 ? -1 : hy_places_forms(forms, 2, diag);
}

int hy_diagnose_main(int argc, char **argv)
{
    hy_diagnose_request r = {.clock_hz = -1.0, .level = -1};
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    if (check(&r, &diag) != 0) {
        return hy_refuse(&diag);
    }
    hy_finding finding = HY_NOT_EXPLAINED;
    r.command = hy_report_command(argc, argv);
    status = hy_diagnose_run(&r, &finding, &diag) != 0 ? hy_refuse(&diag) : finding == HY_IS_HEALTHY ? 0 : 1;
    free(r.command);
    return status;
}
