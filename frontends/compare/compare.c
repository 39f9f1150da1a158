/* hyoid compare: options, and the order of the work. */
#include "compare.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture.h"
#include "number.h"
#include "options.h"
#include "optvalue.h"
#include "partfile.h"
#include "places.h"
#include "progress/progress.h"

enum {
    INPUT,
    CLOCK,
    LEVEL,
    PART,
    LIMITS,
    WRITE_LIMITS,
    CHANNEL,
    MICROPHONE,
    MAP,
    JSON,
    REPORT,
    PICTURE,
    STRICT,
    QUIET
};

static const hy_option options[] = {
    [INPUT] = {"input", 'i', "FILE", "what was played: a score, a write log or a capture"},
    [CLOCK] = {"clock", 0, "HZ", "the clock that an input without one was played at (default: the part's nominal)"},
    [LEVEL] = {"level", 0, "N", "inflection, 0..3, for an input that does not set it (default 1)"},
    [PART] = {"part", 0, "DIR", "a part folder to compare with (default: the built-in part, an estimate)"},
    [LIMITS] = {"limits", 0, "FILE.csv", "limits in place of the built-in ones"},
    [WRITE_LIMITS] = {"write-limits", 0, "FILE.csv", "write the built-in limits, for editing; needs no recording"},
    [CHANNEL] = {"channel", 0, "N", "take this channel (default: the loudest)"},
    [MICROPHONE] = {"microphone", 0, NULL,
                    "the sound came through the air: take out what all sounds have in common,\n"
                    "the colour of loudspeaker, room and microphone"},
    [MAP] = {"map", 0, "KEY=NAME,...", "which signal of a capture is which pin, as for render"},
    [JSON] = {"json", 0, "FILE", "all figures as JSON; - is standard output"},
    [REPORT] = {"report", 0, "FILE.html", "a test report: one page with pictures"},
    [PICTURE] = {"picture", 0, "FILE.png", "recording and model as spectrograms on one time axis"},
    [STRICT] = {"strict", 0, NULL, "exit status 1 also if the verdict is inconclusive"},
    [QUIET] = {"quiet", 'q', NULL, "the summary line only"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "compare",
    "RECORDING --input FILE [options]\n--write-limits FILE.csv",
    "Is the sound of a part the model's? RECORDING (WAV, FLAC and others, any rate) is laid beside\n"
    "what the model says to the same input: the part's true clock is found, delay, gain, polarity,\n"
    "hum and noise are taken out, and each phoneme is judged by duration, pitch, formants, spectrum,\n"
    "level and onset. Exit status 0 if none fails, 1 if one does, 2 if nothing can be judged.\n"
    "The built-in part is an estimate of the chip, not a reading.\n"
    "\n"
    "Mains and the picture tube's charge can kill; a live chassis and an earthed recorder must be\n"
    "isolated from each other. Leave live work to a licensed technician (docs/compare.md).",
    options,
    "Examples:\n"
    "  hyoid render docs/scores/hour.score -o hour.wav\n"
    "  hyoid compare hour.wav --input docs/scores/hour.score --report hour.html",
};

enum { REPLICAS = 7 };
#define TAIL_S 0.03

typedef struct request {
    const char *recording, *input, *part, *limits, *write_limits, *map, *json, *report, *picture;
    double clock_hz; /* < 0: the part's */
    int level;       /* < 0: not given */
    int channel, colour, strict, quiet;
    const char *command;
} request;

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    const char **const places[] = {
        [INPUT] = &r->input, [PART] = &r->part, [LIMITS] = &r->limits, [WRITE_LIMITS] = &r->write_limits,
        [MAP] = &r->map,     [JSON] = &r->json, [REPORT] = &r->report, [PICTURE] = &r->picture};
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->recording, value, &usage, "RECORDING", diag);
    case CLOCK:
        if (hy_hz_read(value, strlen(value), &r->clock_hz) != 0 ||
            !(r->clock_hz >= 1000 && r->clock_hz <= HYOID_CLOCK_MAX)) {
            return hy_fail(diag, "--clock %s: a frequency of 1k to 100M would be right, such as 650k or 1.02MHz",
                           value);
        }
        return 0;
    case LEVEL:
        return hy_value_whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case CHANNEL:
        return hy_value_whole(value, 1, 64, "channel", &r->channel, diag);
    case MICROPHONE:
        r->colour = 1;
        return 0;
    case STRICT:
        r->strict = 1;
        return 0;
    case QUIET:
        r->quiet = 1;
        return 0;
    default:
        if (value[0] == '\0') {
            return hy_fail(diag, "--%s needs a value that is not empty", options[option].name);
        }
        *places[option] = value;
        return 0;
    }
}

static int check(const request *r, hy_diag *diag)
{
    const char *const outputs[] = {r->json, r->report, r->picture, r->write_limits};
    const char *const inputs[] = {r->recording, r->input, r->limits, r->map, r->part};
    const hy_place_form forms[] = {{"json", r->json, "JSON", HY_FORM_JSON},
                                   {"report", r->report, "a page", HY_FORM_PAGE},
                                   {"picture", r->picture, "a picture", HY_FORM_PICTURE},
                                   {"write-limits", r->write_limits, "a table", HY_FORM_TABLE}};
    if (r->recording == NULL && r->write_limits == NULL) {
        return hy_fail(diag, "compare needs a RECORDING (WAV or FLAC), or - for standard input");
    }
    if (r->recording == NULL &&
        (r->input != NULL || r->limits != NULL || r->json != NULL || r->report != NULL || r->picture != NULL)) {
        return hy_fail(diag, "--input, --limits, --json, --report and --picture need a RECORDING");
    }
    if (r->recording != NULL && r->input == NULL) {
        return hy_fail(diag, "compare needs --input: the score, write log or capture that was played");
    }
    if (r->recording != NULL && r->input != NULL && strcmp(r->recording, "-") == 0 && strcmp(r->input, "-") == 0) {
        return hy_fail(diag, "recording and input can't both be standard input");
    }
    return hy_places_check(outputs, 4, inputs, 5, diag) != 0 ? -1 : hy_places_forms(forms, 4, diag);
}

/* ---- the work ---- */

typedef struct work {
    const request *r;
    hy_comparison *c;
    hy_recording *recording;
    hy_input input;
    hy_limits limits;
    hy_model_setup model;
    hy_progress progress;
} work;

static void on_progress(void *user, double done)
{
    work *w = user;
    hy_progress_at(&w->progress, (uint64_t)(600 * done), 1000);
}

static int align(work *w, double known_scale, hy_diag *diag)
{
    const hy_align_setup setup = {
        .recording = w->recording, .model = w->model, .known_scale = known_scale, .progress = on_progress, .user = w};
    return hy_align(&w->c->alignment, &setup, diag);
}

static int figures(work *w, hy_diag *diag)
{
    const hy_figures_setup setup = {
        .alignment = &w->c->alignment, .model = w->model, .colour = w->r->colour, .replicas = REPLICAS};
    return hy_figures_make(&w->c->figures, &setup, diag);
}

/* By how much the formants lie off, ratio; 0 if none is known. */
static double formants_off(const hy_figures *f)
{
    double value[3 * HYOID_PHONEMES];
    size_t n = 0;
    for (size_t i = 0; i < f->count; i++) {
        for (int q = HY_M_F1; q <= HY_M_F3; q++) {
            if (f->code[i].figure[q].known == HY_KNOWN) {
                value[n++] = f->code[i].figure[q].value / 100;
            }
        }
    }
    return n >= 5 ? hy_quantile(value, n, 0.5) : 0.0;
}

/* Tempo and pitch contradict each other. The formants follow the clock, too: if they side with the pitch, it is the timer that
 * is off, and the clock is the pitch's. */
static int take_side(work *w, hy_diag *diag)
{
    const hy_estimate tempo = w->c->alignment.tempo, pitch = w->c->alignment.pitch;
    double pitch_off = pitch.value / tempo.value - 1, off = formants_off(&w->c->figures);
    if (w->c->alignment.agree || fabs(off - pitch_off) >= fabs(off)) {
        return 0;
    }
    const hy_hum hum = w->c->alignment.hum; /* it has been taken out of the recording */
    hy_alignment_free(&w->c->alignment);
    if (align(w, pitch.value, diag) != 0 || figures(w, diag) != 0) {
        return -1;
    }
    w->c->alignment.hum = hum;
    w->c->alignment.tempo = tempo;
    w->c->alignment.pitch = pitch;
    w->c->alignment.agree = 0;
    return 0;
}

static int compare(work *w, const hyoid_part *part, hy_diag *diag)
{
    const request *r = w->r;
    hy_capture_note note;
    w->recording = hy_recording_read(r->recording, r->channel, diag);
    if (w->recording == NULL || hy_recording_must_sound(w->recording, diag) != 0) {
        return -1;
    }
    const hy_host_options host = {.clock_hz = r->clock_hz < 0 ? part->nominal_hz : r->clock_hz,
                                  .level = r->level < 0 ? HY_LEVEL_DEFAULT : r->level};
    if (hy_input_read_mapped(&w->input, r->input, r->map, part, &host, &note, diag) != 0) {
        return -1;
    }
    if (!r->quiet) {
        fputs(note.text, stderr);
        hy_input_tell_unused(&w->input, r->input, r->clock_hz >= 0, r->level >= 0, stderr);
    }
    w->model = (hy_model_setup){
        .input = &w->input, .part = part, .host = host, .tail = TAIL_S, .longest = HY_RECORDING_SECONDS_MAX};
    w->c->recording = w->recording;
    hy_progress_start(&w->progress, "comparing");
    int failed = align(w, 0, diag) != 0 || figures(w, diag) != 0 || take_side(w, diag) != 0;
    hy_progress_end(&w->progress);
    if (!failed) {
        hy_compare_judge(w->c, &w->limits);
    }
    return failed ? -1 : 0;
}

/* All are complete on the disk before the first appears under its name. */
static int write_files(const request *r, const hy_comparison *c, hy_diag *diag)
{
    hy_report *report = r->report != NULL ? hy_compare_report(c, r->report, diag) : NULL;
    hy_outfile *files[] = {NULL, NULL, NULL};
    if (r->picture != NULL && diag->text[0] == '\0') {
        files[0] = hy_compare_picture(c, r->picture, diag);
    }
    if (r->json != NULL && diag->text[0] == '\0') {
        files[1] = hy_compare_json(c, r->json, diag);
    }
    if (r->write_limits != NULL && diag->text[0] == '\0') {
        files[2] = hy_limits_file(r->write_limits, diag);
    }
    return hy_report_commit_all(report, files, 3, diag->text[0] != '\0', diag);
}

/* Files first: a failure to write them leaves nothing on standard output. */
static int tell(const request *r, const hy_comparison *c, hy_diag *diag)
{
    if (write_files(r, c, diag) != 0) {
        return -1;
    }
    const char *const out[] = {r->report, r->picture, r->json, r->write_limits};
    for (int i = 0; i < 4; i++) {
        if (out[i] != NULL && strcmp(out[i], "-") == 0) {
            return 0;
        }
    }
    return hy_compare_print(c, r->quiet) == 0 ? 0 : hy_fail(diag, "cannot write to standard output");
}

/* The whole of it, once part and memory are there. */
static int judge_part(const request *r, hy_comparison *c, const hyoid_part *part, int *status, hy_diag *diag)
{
    work w = {.r = r, .c = c};
    if (hy_limits_read(&w.limits, r->limits, diag) != 0) {
        return -1;
    }
    c->recording_name = strcmp(r->recording, "-") == 0 ? "standard input" : r->recording;
    c->input_name = strcmp(r->input, "-") == 0 ? "standard input" : r->input;
    c->part = part;
    c->part_name = r->part;
    c->command = r->command;
    c->colour = r->colour;
    int result = compare(&w, part, diag);
    result = result == 0 ? tell(r, c, diag) : -1;
    if (result == 0) {
        *status = c->verdict == HY_FAIL ? 1 : c->passed == 0 ? 2 : c->verdict != HY_PASS && r->strict ? 1 : 0;
    }
    hy_alignment_free(&c->alignment);
    hy_limits_free(&w.limits);
    hy_input_free(&w.input);
    hy_recording_free(w.recording);
    return result;
}

static int run(const request *r, int *status, hy_diag *diag)
{
    if (r->recording == NULL) {
        hy_outfile *file = hy_limits_file(r->write_limits, diag);
        return file != NULL ? hy_outfile_commit(file, diag) : -1;
    }
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : NULL;
    if (r->part != NULL && file == NULL) {
        return -1;
    }
    const hyoid_part *part = file != NULL ? hy_partfile_part(file) : hyoid_part_default();
    hy_comparison *c = calloc(1, sizeof *c);
    int result = c != NULL ? judge_part(r, c, part, status, diag) : hy_fail(diag, "memory is out");
    free(c);
    hy_partfile_free(file);
    return result;
}

int hy_compare_main(int argc, char **argv)
{
    request r = {.clock_hz = -1.0, .level = -1};
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    char *command = hy_report_command(argc, argv);
    r.command = command;
    if (check(&r, &diag) != 0 || run(&r, &status, &diag) != 0) {
        status = hy_refuse(&diag);
    }
    free(command);
    return status;
}
