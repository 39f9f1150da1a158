/* hyoid vectors: stimulus and expected pins by clock, for a test bench in Verilog. */
#include "vectors.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "options.h"
#include "optvalue.h"
#include "partfile.h"
#include "perform.h"
#include "write.h"

enum { OUTPUT, CLOCKS, BITS, FRACTION, IGNORE, SLACK, CLOCK, LEVEL, TAIL, PART, PART_ONLY, MAP, QUIET };

static const hy_option options[] = {
    [OUTPUT] = {"output", 'o', "DIR", "the folder to make; it must not exist yet"},
    [CLOCKS] = {"clocks", 0, "N", "take the first N clocks, 1..33554432 (default: the whole INPUT)"},
    [BITS] = {"bits", 0, "N", "bits of a level of the audio pin, 2..32 (default 24)"},
    [FRACTION] = {"fraction", 0, "N",
                  "of them behind the point: 1.0 is 2^N (default: all but 4, so that +-8.0 fits)"},
    [IGNORE] = {"ignore", 0, "A..B,...", "clocks in which nothing is compared (don't care)"},
    [SLACK] = {"slack", 0, "N", "request may change up to N clocks early or late, 0..1000000 (default 0)"},
    [CLOCK] = {"clock", 0, "HZ", "where the clock starts, for an INPUT that does not set it"},
    [LEVEL] = {"level", 0, "N", "where inflection starts, 0..3, for an INPUT that does not set it (default 1)"},
    [TAIL] = {"tail", 0, "MS", "how long to go on after the last phoneme's time, 0..60000 ms (default 5)"},
    [PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},
    [PART_ONLY] = {"part-only", 0, NULL, "no INPUT: only what a design needs of the part, part.vh and durations.hex"},
    [MAP] = {"map", 0, "KEY=NAME,...", "which signal of a capture is which pin, as for render"},
    [QUIET] = {"quiet", 'q', NULL, "no summary on standard error"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "vectors",
    "INPUT -o DIR [options]\n--part-only -o DIR [--part DIR]",
    "Turns INPUT (a score, write log or capture, as for render) into test vectors for a chip in\n"
    "Verilog: what the pins are given and what they must answer, clock by clock, as $readmemh\n"
    "files, with a test bench for Icarus Verilog, a VCD and a manifest. The clock may move in\n"
    "INPUT; vectors count clocks. The built-in part is an estimate of the chip, not a reading.",
    options,
    "Examples:\n"
    "  hyoid vectors docs/scores/hour.score -o hour --clocks 200000 && cat hour/manifest.json\n"
    "  hyoid vectors --part-only -o part && cat part/part.vh",
};

typedef struct request {
    const char *input, *output, *part, *map;
    uint64_t clocks;
    unsigned bits;
    int fraction; /* < 0: not given */
    hy_mask_setup mask;
    double clock_hz; /* < 0: the part's */
    int level;       /* < 0: not given */
    int part_only, quiet;
    int64_t tail_ps;
} request;

static int take_number(request *r, int option, const char *text, hy_diag *diag)
{
    static const struct {
        int option;
        int low, high;
    } ranges[] = {{CLOCKS, 1, (int)HY_TRACK_MOST}, {BITS, 2, 32},   {FRACTION, 0, 31}, {SLACK, 0, 1000000},
                  {LEVEL, 0, HYOID_LEVELS - 1},    {TAIL, 0, 60000}};
    size_t i = 0;
    while (ranges[i].option != option) {
        i++;
    }
    int value = 0;
    if (hy_value_whole(text, ranges[i].low, ranges[i].high, options[option].name, &value, diag) != 0) {
        return -1;
    }
    switch (option) {
    case CLOCKS:
        r->clocks = (uint64_t)value;
        break;
    case BITS:
        r->bits = (unsigned)value;
        break;
    case FRACTION:
        r->fraction = value;
        break;
    case SLACK:
        r->mask.slack = (uint64_t)value;
        break;
    case LEVEL:
        r->level = value;
        break;
    default:
        r->tail_ps = value * INT64_C(1000000000);
        break;
    }
    return 0;
}

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->input, value, &usage, "INPUT", diag);
    case OUTPUT:
        r->output = value;
        return 0;
    case IGNORE:
        r->mask.ignore = value;
        return hy_mask_check(value, diag);
    case CLOCK:
        return hy_value_clock(value, "clock", &r->clock_hz, diag);
    case PART:
        r->part = value;
        return 0;
    case PART_ONLY:
        r->part_only = 1;
        return 0;
    case MAP:
        r->map = value;
        return 0;
    case QUIET:
        r->quiet = 1;
        return 0;
    default:
        return take_number(r, option, value, diag);
    }
}

static int check(request *r, hy_diag *diag)
{
    if (r->part_only ? r->input != NULL : r->input == NULL) {
        return r->part_only ? hy_fail(diag, "--part-only takes no INPUT; %s is one", r->input)
                            : hy_fail(diag, "vectors needs an INPUT: a score (.score), a write log (.csv), a capture "
                                            "(.vcd), or - for standard input");
    }
    if (r->output == NULL) {
        return hy_fail(diag, "vectors needs the name of a new folder: -o DIR");
    }
    if (r->fraction < 0) {
        r->fraction = r->bits > 4 ? (int)r->bits - 4 : 0;
    } else if ((unsigned)r->fraction >= r->bits) {
        return hy_fail(diag, "--fraction %d: fewer than the %u bits of a level would be right", r->fraction, r->bits);
    }
    return 0;
}

static int write_folder(const hy_vectors *v, const char *path, hy_diag *diag)
{
    hy_outfolder *folder = hy_outfolder_open(path, diag);
    if (folder == NULL) {
        return -1;
    }
    if (hy_vectors_write(v, folder, diag) != 0) {
        hy_outfolder_abandon(folder);
        return -1;
    }
    return hy_outfolder_commit(folder, diag);
}

static void print(const request *r, const hy_track *t)
{
    fprintf(stderr,
            "%" PRIu64 " clocks, %" PRIu64 " strobes, request rises %" PRIu64 " times, %" PRIu64
            " levels, part: %s\n",
            t->clocks, t->strobes, t->rises, t->levels, r->part != NULL ? r->part : "built-in (an estimate)");
    if (t->clipped > 0) {
        fprintf(stderr, "note: %" PRIu64 " levels did not fit into %u bits with %d behind the point and were held\n",
                t->clipped, r->bits, r->fraction);
    }
    if (t->strobes == 0) {
        fprintf(stderr, "note: strobe does not rise in these clocks\n");
    }
}

static int with_track(const request *r, const hy_input *input, hy_vectors v, hy_diag *diag)
{
    const int64_t over = input->from_score ? hy_log_end(input->log) : hy_perform_end(input->log, v.part, diag);
    if (over < 0) {
        return -1;
    }
    hy_track track;
    hy_track_setup setup = {v.part, over + r->tail_ps, r->clocks, r->bits, (unsigned)r->fraction};
    if (hy_track_play(&track, input->log, &setup, diag) != 0) {
        return -1;
    }
    uint8_t *mask = hy_mask_make(&track, &r->mask, diag);
    int result = -1;
    if (mask != NULL) {
        v.input = input;
        v.track = &track;
        v.mask = mask;
        v.end_ps = setup.end_ps;
        result = write_folder(&v, r->output, diag);
    }
    if (result == 0 && !r->quiet) {
        print(r, &track);
    }
    free(mask);
    hy_track_free(&track);
    return result;
}

static int vectors(const request *r, hy_diag *diag)
{
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : NULL;
    if (r->part != NULL && file == NULL) {
        return -1;
    }
    const hyoid_part *part = file != NULL ? hy_partfile_part(file) : hyoid_part_default();
    const hy_vectors v = {.part = part,
                          .part_name = r->part,
                          .input_name = r->input,
                          .masked = r->mask,
                          .bits = r->bits,
                          .fraction = (unsigned)r->fraction};
    int result;
    if (r->part_only) {
        result = write_folder(&v, r->output, diag);
    } else {
        const hy_host_options host = {.clock_hz = r->clock_hz < 0.0 ? part->nominal_hz : r->clock_hz,
                                      .level = r->level < 0 ? HY_LEVEL_DEFAULT : r->level};
        hy_input input;
        hy_capture_note note;
        result = hy_input_read_mapped(&input, r->input, r->map, part, &host, &note, diag);
        if (result == 0) {
            if (!r->quiet) {
                fputs(note.text, stderr);
                hy_input_tell_unused(&input, r->input, r->clock_hz >= 0.0, r->level >= 0, stderr);
            }
            result = with_track(r, &input, v, diag);
        }
        hy_input_free(&input);
    }
    hy_partfile_free(file);
    return result;
}

int hy_vectors_main(int argc, char **argv)
{
    request r = {.bits = 24, .fraction = -1, .clock_hz = -1.0, .level = -1, .tail_ps = INT64_C(5000000000)};
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    if (check(&r, &diag) != 0 || vectors(&r, &diag) != 0) {
        return hy_refuse(&diag);
    }
    return 0;
}
