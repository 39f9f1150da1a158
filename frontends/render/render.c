/* hyoid render: a score or a write log becomes sound, pins, labels and a picture. */
#include "render.h"

#include <stdio.h>

#include "choices.h"
#include "input.h"
#include "optvalue.h"
#include "partfile.h"

enum { CLOCK = HY_CHOICES, LEVEL, MAP, FAULT };

/* A board that waits for a request that never comes is taken to lose patience then. */
#define PATIENCE_PS INT64_C(2000000000000)

static const hy_option options[] = {
    HY_CHOICE_ROWS,
    [CLOCK] = {"clock", 0, "HZ",
               "where the clock starts, such as 650k, for an INPUT that does not set it\n"
               "(default: the part's nominal clock)"},
    [LEVEL] = {"level", 0, "N", "where inflection starts, 0..3, for an INPUT that does not set it (default 1)"},
    [MAP] = {"map", 0, "KEY=NAME,...",
             "which signal of a capture is which pin: p0..p5 or p, i0, i1, strobe, request,\n"
             "clock or clock_hz (default: by these names); or a file with one KEY=NAME a line"},
    [FAULT] = {"fault", 0, "NAME[:STRENGTH]",
               "a chip with this fault, such as no-noise or hum:0.3, to try hyoid compare and\n"
               "diagnose on; hyoid(1) lists them"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "render",
    "INPUT -o FILE [options]",
    "Says what a good chip must say. INPUT is a score (.score), a write log (.csv) or a capture\n"
    "(.vcd, .sr or .csv of a logic analyser); - is standard input. 1.0 on the model's audio pin is full scale in "
    "files: nothing is\n"
    "normalised, so two renderings can be compared. The built-in part is an estimate of the chip,\n"
    "not a reading.",
    options,
    "Examples:\n"
    "  hyoid render docs/scores/hour.score -o hour.wav --picture hour.png\n"
    "  echo 'hh eh l ow' | hyoid render - -o low.flac --clock 600k --level 2",
};

typedef struct request {
    hy_choices choices;
    const char *input, *map;
    double clock_hz; /* < 0: the part's */
    int level;       /* < 0: not given */
} request;

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->input, value, &usage, "INPUT", diag);
    case CLOCK:
        return hy_value_clock(value, "clock", &r->clock_hz, diag);
    case LEVEL:
        return hy_value_whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case MAP:
        r->map = value;
        return 0;
    case FAULT:
        return hy_fault_read(value, &r->choices.render.fault, diag);
    default:
        return hy_choices_take(&r->choices, option, value, diag);
    }
}

/* The score once more, to a host that the faulty chip answers. */
static int play_faulty(hy_input *input, const hyoid_part *part, hy_host_options host, hy_fault *fault, hy_diag *diag)
{
    host.prepare = hy_fault_prepare;
    host.user = fault;
    host.longest_ps = 4 * hy_log_end(input->log) + PATIENCE_PS;
    hy_score_rewind(input->score);
    hy_log *log = hy_host_play(input->score, part, &host, diag);
    if (log == NULL) {
        return -1;
    }
    hy_log_free(input->log);
    input->log = log;
    return 0;
}

static int render(const request *r, hy_diag *diag)
{
    hy_partfile *file = NULL;
    const hyoid_part *part = hyoid_part_default();
    if (r->choices.part != NULL) {
        file = hy_partfile_read(r->choices.part, diag);
        if (file == NULL) {
            return -1;
        }
        part = hy_partfile_part(file);
    }
    const hy_host_options host = {.clock_hz = r->clock_hz < 0.0 ? part->nominal_hz : r->clock_hz,
                                  .level = r->level < 0 ? HY_LEVEL_DEFAULT : r->level};
    hy_input input;
    hy_capture_note note;
    int result = hy_input_read_mapped(&input, r->input, r->map, part, &host, &note, diag);
    if (result == 0 && r->choices.render.fault.given && input.score != NULL) {
        hy_fault fault = r->choices.render.fault;
        result = play_faulty(&input, part, host, &fault, diag);
    }
    if (result == 0) {
        fputs(r->choices.quiet ? "" : note.text, stderr);
        hy_render_summary summary;
        result = hy_render(&input, part, &r->choices.render, &summary, diag);
        if (result == 0 && !r->choices.quiet) {
            hy_input_tell_unused(&input, r->input, r->clock_hz >= 0.0, r->level >= 0, stderr);
            hy_render_print(&summary, &r->choices.render, r->choices.part);
        }
    }
    hy_input_free(&input);
    hy_partfile_free(file);
    return result;
}

int hy_render_main(int argc, char **argv)
{
    request r = {.clock_hz = -1.0, .level = -1};
    hy_choices_start(&r.choices);
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    if (r.input == NULL) {
        hy_fail(&diag, "render needs an INPUT: a score (.score), a write log (.csv), a capture (.vcd, .sr, .csv), or "
                       "- for standard input");
        return hy_refuse(&diag);
    }
    const char *const inputs[] = {r.input, r.map};
    if (hy_choices_check(&r.choices, "render", inputs, 2, &diag) != 0 || render(&r, &diag) != 0) {
        return hy_refuse(&diag);
    }
    return 0;
}
