/* hyoid timing: options, and in which order things happen. */
#include "timing.h"

#include <stdlib.h>
#include <string.h>

#include "fnv.h"
#include "input.h"
#include "kind.h"
#include "number.h"
#include "options.h"
#include "optvalue.h"
#include "places.h"
#include "text.h"

#define MS_PS INT64_C(1000000000)

enum {
    MAP,
    CLOCK,
    PPM,
    GLITCH,
    SKEW,
    SAMPLE_RATE,
    LIMITS,
    WRITE_LIMITS,
    PART,
    JSON,
    REPORT,
    ITEM,
    INSTRUMENT,
    DATE,
    STRICT,
    QUIET
};

static const hy_option options[] = {
    [MAP] = {"map", 0, "KEY=NAME,...",
             "which signal is which pin: p0..p5 or p, i0, i1, strobe, request, clock or clock_hz;\n"
             "or a file with one KEY=NAME a line (default: by these names, and what was guessed is shown)"},
    [CLOCK] = {"clock", 0, "HZ", "the chip's clock as measured with a counter (default: found in the capture)"},
    [PPM] = {"ppm", 0, "N", "to how much --clock is known, parts per million (default 50)"},
    [GLITCH] = {"glitch", 0, "TIME", "pass over pulses that are shorter, such as 200ns (default: none)"},
    [SKEW] = {"skew", 0, "TIME",
              "how much later one pin may show than another (default: one sample, none for a\n"
              "simulator's dump)"},
    [SAMPLE_RATE] = {"sample-rate", 0, "HZ", "of the instrument, if the capture doesn't say, such as 24M"},
    [LIMITS] = {"limits", 0, "FILE.csv", "limits in place of those that follow from the part"},
    [WRITE_LIMITS] = {"write-limits", 0, "FILE.csv", "write the limits in force, for editing; needs no CAPTURE"},
    [PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},
    [JSON] = {"json", 0, "FILE", "the result as JSON; - is standard output, in place of the table"},
    [REPORT] = {"report", 0, "FILE.html", "the result as a page with pictures, for printing and keeping"},
    [ITEM] = {"item", 0, "TEXT", "for the report: what was tested"},
    [INSTRUMENT] = {"instrument", 0, "TEXT", "for the report: what captured it"},
    [DATE] = {"date", 0, "TEXT", "for the report: when"},
    [STRICT] = {"strict", 0, NULL, "exit status 1 also if a row is inconclusive"},
    [QUIET] = {"quiet", 'q', NULL, "only the summary, no notes"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "timing",
    "CAPTURE [options]\n--write-limits FILE.csv [--part DIR]",
    "Is the handshake right? CAPTURE is what a logic analyser or simulator recorded at the chip's pins\n"
    "(.vcd, .sr or .csv): strobe, request and the code, better also inflection and clock. Latency, the\n"
    "duration of each phoneme, cut, missed and doubled strobes and more are measured in clocks of the\n"
    "chip and judged: pass, fail, or inconclusive where the capture is too coarse to tell. Exit status\n"
    "0: no row fails, 1: one does, 2: nothing could be judged. Limits follow from the part; the built-in\n"
    "one is an estimate of the chip, not a reading. docs/captures.md has formats and rules.\n"
    "\n"
    "Probing a machine: mains and the picture tube's charge can kill, and a live chassis must be\n"
    "isolated; power off and tube discharged before a probe is clipped on; analyser earthed to the\n"
    "board's ground only; mind static. A licensed technician and local code have the last word.",
    options,
    "Examples:\n"
    "  hyoid render docs/scores/hour.score --pins hour.vcd && hyoid timing hour.vcd\n"
    "  hyoid timing hour.vcd --report hour.html --json hour.json",
};

typedef struct request {
    hy_timing_options timing;
    const char *capture, *part, *write_limits, *json, *report;
    hy_timing_paper paper;
    int strict, quiet;
} request;

static int take_time(const char *text, const char *option, int64_t *ps, hy_diag *diag)
{
    return hy_value_time(text, 0, MS_PS, "a time of 0 to 1 ms with its unit, such as 200ns,", option, ps, diag);
}

static int hertz(const char *text, const char *option, double most, double *hz, hy_diag *diag)
{
    if (hy_hz_read(text, strlen(text), hz) != 0 || !(*hz >= 1.0 && *hz <= most)) {
        return hy_fail(diag, "--%s %s: a frequency of 1 to %.9g would be right, such as 720k or 24M", option, text,
                       most);
    }
    return 0;
}

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    const char **const texts[] = {
        [MAP] = &r->timing.map,
        [LIMITS] = &r->timing.limits,
        [WRITE_LIMITS] = &r->write_limits,
        [PART] = &r->part,
        [JSON] = &r->json,
        [REPORT] = &r->report,
        [ITEM] = &r->paper.item,
        [INSTRUMENT] = &r->paper.instrument,
        [DATE] = &r->paper.date,
    };
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->capture, value, &usage, "CAPTURE", diag);
    case CLOCK:
        return hertz(value, "clock", HYOID_CLOCK_MAX, &r->timing.clock_hz, diag);
    case PPM:
        return hy_value_number(value, 0.0, 1e5, "ppm", &r->timing.clock_ppm, diag);
    case GLITCH:
        return take_time(value, "glitch", &r->timing.glitch_ps, diag);
    case SKEW:
        return take_time(value, "skew", &r->timing.skew_ps, diag);
    case SAMPLE_RATE:
        return hertz(value, "sample-rate", 1e11, &r->timing.sample_hz, diag);
    case STRICT:
        r->strict = 1;
        return 0;
    case QUIET:
        r->quiet = 1;
        return 0;
    default:
        if (option < 0 || option > DATE) {
            return hy_fail(diag, "unknown option");
        }
        if (value[0] == '\0') {
            return hy_fail(diag, "--%s needs a value that is not empty", options[option].name);
        }
        *texts[option] = value;
        return 0;
    }
}

static int check(const request *r, hy_diag *diag)
{
    if (r->capture == NULL && r->write_limits == NULL) {
        return hy_fail(diag,
                       "timing needs a CAPTURE: a dump (.vcd), a session (.sr), a table (.csv), or - for standard "
                       "input");
    }
    if (r->capture == NULL && (r->json != NULL || r->report != NULL)) {
        return hy_fail(diag, "--json and --report need a CAPTURE");
    }
    const char *const outputs[] = {r->json, r->report, r->write_limits};
    const char *const inputs[] = {r->timing.limits, r->capture, r->timing.map, r->part};
    const hy_place_form forms[] = {{"json", r->json, "JSON", HY_FORM_JSON},
                                   {"report", r->report, "a page", HY_FORM_PAGE},
                                   {"write-limits", r->write_limits, "a table", HY_FORM_TABLE}};
    return hy_places_check(outputs, 3, inputs, 4, diag) != 0 ? -1 : hy_places_forms(forms, 3, diag);
}

/* ---- running ---- */

static uint64_t fingerprint(FILE *in)
{
    unsigned char block[65536];
    uint64_t hash = HY_FNV_START;
    size_t n;
    rewind(in);
    while ((n = fread(block, 1, sizeof block, in)) > 0) {
        hash = hy_fnv(hash, block, n);
    }
    rewind(in);
    return hash;
}

static hy_outfile *limits_file(const request *r, const hy_partfile *part, hy_diag *diag)
{
    hy_row *rows = calloc(HY_ROWS, sizeof *rows);
    if (rows == NULL) {
        hy_fail(diag, "not enough memory for the limits");
        return NULL;
    }
    hy_rows_start(rows, part);
    const int failed = r->timing.limits != NULL && hy_rows_limits(rows, r->timing.limits, diag) != 0;
    hy_outfile *file = failed ? NULL : hy_rows_file(rows, r->write_limits, diag);
    free(rows);
    return file;
}

/* Limits alone: there is no capture. */
static int write_limits(const request *r, const hy_partfile *part, hy_diag *diag)
{
    hy_outfile *file = limits_file(r, part, diag);
    return file != NULL ? hy_outfile_commit(file, diag) : -1;
}

/* All are complete on the disk before the first appears under its name. */
static int write_files(request *r, const hy_timing *t, const hy_partfile *part, FILE *in, hy_diag *diag)
{
    hy_report *report = NULL;
    hy_outfile *files[] = {NULL, NULL};
    if (r->report != NULL) {
        r->paper.fingerprint = fingerprint(in);
        report = hy_timing_report(t, &r->paper, in, r->report, diag);
    }
    if (r->json != NULL && diag->text[0] == '\0') {
        files[0] = hy_timing_json(t, &r->paper, r->json, diag);
    }
    if (r->write_limits != NULL && diag->text[0] == '\0') {
        files[1] = limits_file(r, part, diag);
    }
    return hy_report_commit_all(report, files, 2, diag->text[0] != '\0', diag);
}

/* Files first: a failure to write them leaves nothing on standard output. */
static int tell(request *r, const hy_timing *t, const hy_partfile *part, FILE *in, hy_diag *diag)
{
    if (!r->quiet) {
        fputs(t->note, stderr);
    }
    r->paper.map = r->timing.map;
    r->paper.sample_hz = r->timing.sample_hz;
    r->paper.glitch_ps = r->timing.glitch_ps;
    if (write_files(r, t, part, in, diag) != 0) {
        return -1;
    }
    const char *const out[] = {r->report, r->json, r->write_limits};
    for (int i = 0; i < 3; i++) {
        if (out[i] != NULL && strcmp(out[i], "-") == 0) {
            return 0;
        }
    }
    if (hy_timing_print(t, r->paper.capture, r->part, r->quiet) != 0) {
        return hy_fail(diag, "cannot write to standard output");
    }
    return 0;
}

static int measure(request *r, const hy_partfile *part, int *status, hy_diag *diag)
{
    r->paper.capture = strcmp(r->capture, "-") == 0 ? "standard input" : r->capture;
    r->paper.part = hy_partfile_part(part);
    r->paper.part_name = r->part;
    FILE *in = hy_input_open(r->capture, r->paper.capture, diag);
    const hy_kind kind = in != NULL ? hy_kind_look(in, r->paper.capture) : HY_KIND_UNKNOWN;
    const int is_other =
        kind != HY_KIND_CAPTURE && hy_kind_refuse(r->paper.capture, kind, "a capture (.vcd, .sr or .csv)", diag) != 0;
    hy_timing *t = in != NULL && !is_other ? malloc(sizeof *t) : NULL;
    int result = -1;
    if (t == NULL && in != NULL && !is_other) {
        hy_fail(diag, "not enough memory to read %s", r->paper.capture);
    }
    if (t != NULL) {
        hy_progress progress;
        hy_progress_start(&progress, "reading");
        r->timing.progress = &progress;
        result = hy_timing_measure(t, in, r->paper.capture, part, &r->timing, diag);
        hy_progress_end(&progress);
        r->timing.progress = NULL;
        result = result == 0 ? tell(r, t, part, in, diag) : -1;
    }
    if (result == 0) {
        unsigned judged = t->passed + t->failed + t->inconclusive;
        hy_verdict verdict = hy_timing_verdict(t);
        *status = verdict == HY_FAIL ? 1 : t->strobes == 0 || judged == 0 || t->passed == 0 ? 2 : 0;
        *status = *status == 0 && r->strict && verdict != HY_PASS ? 1 : *status;
    }
    free(t);
    if (in != NULL) {
        fclose(in);
    }
    return result;
}

static int run(request *r, int *status, hy_diag *diag)
{
    hy_partfile *part = r->part != NULL ? hy_partfile_read(r->part, diag) : hy_partfile_default(diag);
    if (part == NULL) {
        return -1;
    }
    const int result = r->capture != NULL ? measure(r, part, status, diag) : write_limits(r, part, diag);
    hy_partfile_free(part);
    return result;
}

int hy_timing_main(int argc, char **argv)
{
    request r = {.timing = {.clock_ppm = 50.0, .skew_ps = -1}};
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    char *command = hy_report_command(argc, argv);
    r.paper.command = command;
    if (check(&r, &diag) != 0 || run(&r, &status, &diag) != 0) {
        status = hy_refuse(&diag);
    }
    free(command);
    return status;
}
