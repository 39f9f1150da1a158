/* hyoid sweep: one input at many clocks: what a clock circuit would do to the voice, before it is built. */
#include "sweep.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "options.h"
#include "optvalue.h"
#include "outputs.h"
#include "partfile.h"
#include "places.h"
#include "report/report.h"
#include "score.h"
#include "text.h"

enum {
    CLOCK,
    STEPS,
    LINEAR,
    DAC,
    RC,
    RC_CONSTANT,
    DRAWS,
    SEED,
    PHONEME,
    LEVEL,
    OUTPUT,
    GAP,
    RATE,
    BITS,
    TAIL,
    CSV,
    JSON,
    PICTURE,
    REPORT,
    ITEM,
    DATE,
    PART,
    MAP
};

static const hy_option options[] = {
    [CLOCK] = {"clock", 0, "A..B", "from one clock to the other, such as 500k..1.1M"},
    [STEPS] = {"steps", 0, "N", "how many clocks (default 9); with --dac so many of its rows (default: all)"},
    [LINEAR] = {"linear", 0, NULL, "steps of equal differences instead of equal ratios"},
    [DAC] = {"dac", 0, "FILE.csv",
             "the clocks of a board's circuit: a table `code,hz`, a row for each code to be\nplayed"},
    [RC] = {"rc", 0, "R,C,TOL",
            "an RC oscillator, such as 11.5k,150p,5% (or a tolerance for each: R,C,TOLR,TOLC):\n"
            "least, 5 %, median, 95 % and largest clock of many boards"},
    [RC_CONSTANT] = {"rc-constant", 0, "K,TOL",
                     "clock = K / (R C); default: reference/board/clock.csv, recalled and an estimate"},
    [DRAWS] = {"draws", 0, "N", "boards that --rc draws (default 10000)"},
    [SEED] = {"seed", 0, "N", "of the draws (default 1)"},
    [PHONEME] = {"phoneme", 0, "CODE",
                 "symbol or code whose pitch, formants and images are told (default: the voiced one\n"
                 "that sounds longest)"},
    [LEVEL] = {"level", 0, "N", "where inflection starts, 0..3, for an INPUT that does not set it (default 1)"},
    [OUTPUT] = {"output", 'o', "FILE",
                "sound: .wav, .flac or .ogg; one file, or, with %n (number) or %c (clock) in the\n"
                "name, one for each clock"},
    [GAP] = {"gap", 0, "MS", "silence between the steps in one file, 0..10000 ms (default 300)"},
    [RATE] = {"rate", 0, "HZ", "samples per second of the sound, 8000..192000 (default 48000)"},
    [BITS] = {"bits", 0, "N", "16, 24 or 32 bits a sample (default 16; 32 is floating point, WAV only)"},
    [TAIL] = {"tail", 0, "MS", "what sounds after the last phoneme's time, 0..60000 ms (default 50)"},
    [CSV] = {"csv", 0, "FILE", "the table as CSV; - is standard output, in place of the table"},
    [JSON] = {"json", 0, "FILE", "the table as JSON"},
    [PICTURE] = {"picture", 0, "FILE.png", "a spectrogram strip for each clock, at most 32"},
    [REPORT] = {"report", 0, "FILE.html", "one page with picture and table, for a customer or a file"},
    [ITEM] = {"item", 0, "TEXT", "what the report calls the clock circuit"},
    [DATE] = {"date", 0, "TEXT", "a date for the report (default: none)"},
    [PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},
    [MAP] = {"map", 0, "KEY=NAME,...", "which signal of a capture is which pin, as for render"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "sweep",
    "INPUT --clock A..B [--steps N] [options]\n"
    "INPUT --dac FILE.csv [--steps N] [options]\n"
    "INPUT --rc R,C,TOL [options]",
    "What a clock circuit would do to the voice, before it is built: plays INPUT (a score, a write\n"
    "log or a capture) at each of several clocks and prints pitch, tempo, formants and images.\n"
    "Clocks that INPUT itself sets are scaled, so that its bends stay as wide in semitones. A score\n"
    "waits for request at each clock; a write log keeps its times, and `cut` counts the phonemes\n"
    "that are cut short.\n"
    "\n"
    "CAUTION: high clocks are shrill and sweeps jump in loudness. Start quietly, above all with\n"
    "headphones, and mind the small loudspeakers of old boards. What is printed holds for the model;\n"
    "a real chip may stop at clocks that it was not made for.",
    options,
    "Examples:\n"
    "  hyoid sweep docs/scores/hour.score --clock 500k..1.1M --steps 7 --picture sweep.png\n"
    "  echo 'hh eh l ow' | hyoid sweep - --rc 11.5k,150p,5% -o spread.wav",
};

static int take_seed(const char *text, uint64_t *seed, hy_diag *diag)
{
    size_t length = strlen(text);
    if (length == 0 || length > 18 || text[strspn(text, "0123456789")] != '\0') {
        return hy_fail(diag, "--seed %s: a whole number of at most 18 digits would be right", text);
    }
    *seed = strtoull(text, NULL, 10);
    return 0;
}

static int take_sound(hy_sweep_request *r, int option, const char *value, hy_diag *diag)
{
    int rate;
    double ms;
    switch (option) {
    case RATE:
        if (hy_value_whole(value, HYOID_RATE_MIN, HYOID_RATE_MAX, "rate", &rate, diag) != 0) {
            return -1;
        }
        r->rate = (uint32_t)rate;
        return 0;
    case BITS:
        return hy_value_bits(value, &r->bits, diag);
    case GAP:
        return hy_value_number(value, 0, 10000, "gap", &r->gap_ms, diag);
    default:
        if (hy_value_number(value, 0, 60000, "tail", &ms, diag) != 0) {
            return -1;
        }
        r->tail_ps = (int64_t)(ms * 1e9 + 0.5);
        return 0;
    }
}

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    hy_sweep_request *r = user;
    const char **texts[] = {
        [CLOCK] = &r->clock,     [DAC] = &r->dac,       [RC] = &r->rc,     [RC_CONSTANT] = &r->rc_constant,
        [PHONEME] = &r->phoneme, [OUTPUT] = &r->output, [CSV] = &r->csv,   [JSON] = &r->json,
        [PICTURE] = &r->picture, [REPORT] = &r->report, [ITEM] = &r->item, [DATE] = &r->date,
        [PART] = &r->part,       [MAP] = &r->map};
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->input, value, &usage, "INPUT", diag);
    case STEPS:
        return hy_value_whole(value, 1, HY_SWEEP_STEPS_MAX, "steps", &r->steps, diag);
    case LINEAR:
        r->linear = 1;
        return 0;
    case DRAWS:
        r->draws_given = 1;
        return hy_value_whole(value, 100, 1000000, "draws", &r->draws, diag);
    case SEED:
        r->draws_given = 1;
        return take_seed(value, &r->seed, diag);
    case LEVEL:
        return hy_value_whole(value, 0, HYOID_LEVELS - 1, "level", &r->level, diag);
    case GAP:
    case RATE:
    case BITS:
    case TAIL:
        return take_sound(r, option, value, diag);
    default:
        *texts[option] = value;
        return 0;
    }
}

/* Which options go together, and where outputs go. */
static int check(const hy_sweep_request *r, hy_diag *diag)
{
    int ways = (r->clock != NULL) + (r->dac != NULL) + (r->rc != NULL);
    if (ways != 1) {
        return hy_fail(diag, "sweep needs one of --clock A..B, --dac FILE and --rc R,C,TOL%s",
                       ways > 1 ? ", not several" : "");
    }
    if (r->linear && r->clock == NULL) {
        return hy_fail(diag, "--linear goes with --clock");
    }
    if (r->rc == NULL && (r->rc_constant != NULL || r->draws_given)) {
        return hy_fail(diag, "--rc-constant, --draws and --seed go with --rc");
    }
    if (r->rc != NULL && r->steps > 0) {
        return hy_fail(diag, "--steps goes with --clock and --dac; --rc has five of its own");
    }
    if (r->report == NULL && (r->item != NULL || r->date != NULL)) {
        return hy_fail(diag, "--item and --date go with --report");
    }
    const char *const outputs[] = {r->output, r->csv, r->json, r->picture, r->report};
    const char *const inputs[] = {r->dac, r->input, r->map, r->part};
    const hy_place_form forms[] = {{"csv", r->csv, "a table", HY_FORM_TABLE},
                                   {"json", r->json, "JSON", HY_FORM_JSON},
                                   {"picture", r->picture, "a picture", HY_FORM_PICTURE},
                                   {"report", r->report, "a page", HY_FORM_PAGE}};
    return hy_places_check(outputs, 5, inputs, 4, diag) != 0 ? -1 : hy_places_forms(forms, 4, diag);
}

/* A symbol (the longest variant of the part that has a voice), or a code. -1: neither. */
static int code_of(const char *text, const hyoid_part *part)
{
    int found = -1;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        char hex[8];
        snprintf(hex, sizeof hex, "0x%02x", code);
        if (hy_word_is(text, strlen(text), hex)) {
            return (int)code;
        }
        if (hy_word_is(text, strlen(text), hy_symbols[code].symbol) &&
            (found < 0 || part->phoneme[code].duration > part->phoneme[found].duration)) {
            found = (int)code;
        }
    }
    return found;
}

static int choose_phoneme(const hy_sweep_request *r, hy_sweep_subject *subject, hy_diag *diag)
{
    subject->code = -1;
    if (r->phoneme == NULL) {
        return 0;
    }
    subject->code = code_of(r->phoneme, subject->part);
    subject->code_given = 1;
    if (subject->code < 0) {
        return hy_fail(diag, "--phoneme %s: a symbol or a code 0x00..0x3f would be right; hyoid chart lists them",
                       r->phoneme);
    }
    if (!hy_sweep_is_voiced(subject->part, (unsigned)subject->code)) {
        return hy_fail(diag, "--phoneme %s has no clear voice in this part, so neither pitch nor formants",
                       r->phoneme);
    }
    return 0;
}

static int list_clocks(const hy_sweep_request *r, hy_sweep_clocks *clocks, hy_rc *rc, hy_diag *diag)
{
    if (r->clock != NULL) {
        return hy_clocks_range(clocks, r->clock, r->steps > 0 ? r->steps : 9, r->linear, diag);
    }
    if (r->dac != NULL) {
        return hy_clocks_dac(clocks, r->dac, r->steps, diag);
    }
    *rc = (hy_rc){.draws = r->draws, .seed = r->seed};
    if (hy_rc_defaults(rc, diag) != 0 ||
        (r->rc_constant != NULL && hy_rc_read_constant(rc, r->rc_constant, diag) != 0) ||
        hy_rc_read(rc, r->rc, diag) != 0) {
        return -1;
    }
    return hy_clocks_rc(clocks, rc, diag);
}

static int sweep_clocks(const hy_sweep_request *r, const hy_sweep_subject *subject, const hy_sweep_clocks *clocks,
                        const hy_rc *rc, hy_diag *diag)
{
    hy_sweep_step *steps = calloc(clocks->count, sizeof *steps);
    if (steps == NULL) {
        return hy_fail(diag, "out of memory");
    }
    int status = 0;
    for (size_t i = 0; status == 0 && i < clocks->count; i++) {
        status = hy_sweep_play(&steps[i], subject, &clocks->clock[i], 0, r->tail_ps, diag);
    }
    const hy_sweep_table table = {subject, r->input, r->part, rc, steps, clocks->count};
    status = status == 0 ? hy_sweep_write(r, &table, clocks, diag) : status;
    for (size_t i = 0; i < clocks->count; i++) {
        hy_sweep_step_free(&steps[i]);
    }
    free(steps);
    return status;
}

static int sweep(const hy_sweep_request *r, hy_diag *diag)
{
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : NULL;
    if (r->part != NULL && file == NULL) {
        return -1;
    }
    hy_sweep_subject subject = {.path = r->input,
                                .part = file != NULL ? hy_partfile_part(file) : hyoid_part_default(),
                                .level = r->level < 0 ? HY_LEVEL_DEFAULT : r->level};
    hy_sweep_clocks clocks = {NULL, 0};
    hy_rc rc = {0};
    int status = choose_phoneme(r, &subject, diag);
    if (status == 0) {
        status = list_clocks(r, &clocks, &rc, diag);
    }
    hy_input input = {.log = NULL};
    subject.input = &input;
    if (status == 0) {
        const hy_host_options host = {.clock_hz = subject.part->nominal_hz, .level = subject.level};
        hy_capture_note note;
        status = hy_input_read_mapped(&input, r->input, r->map, subject.part, &host, &note, diag);
        if (status == 0) {
            hy_input_tell_unused(&input, r->input, 0, r->level >= 0, stderr);
        }
        status = status == 0 ? hy_sweep_look(&subject, diag) : status;
    }
    if (status == 0) {
        status = sweep_clocks(r, &subject, &clocks, r->rc != NULL ? &rc : NULL, diag);
    }
    hy_input_free(&input);
    hy_clocks_free(&clocks);
    hy_partfile_free(file);
    return status;
}

static int run(hy_sweep_request *r, int argc, char **argv, hy_diag *diag)
{
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, r, &status, diag) != 0) {
        return status;
    }
    if (r->input == NULL) {
        hy_fail(diag,
                "sweep needs an INPUT: a score (.score), a write log (.csv), a capture (.vcd), or - for standard "
                "input");
        return hy_refuse(diag);
    }
    return check(r, diag) != 0 || sweep(r, diag) != 0 ? hy_refuse(diag) : 0;
}

int hy_sweep_main(int argc, char **argv)
{
    hy_sweep_request r = {.draws = 10000,
                          .seed = 1,
                          .level = -1,
                          .bits = 16,
                          .gap_ms = 300,
                          .tail_ps = INT64_C(50000000000),
                          .rate = 48000,
                          .command = hy_report_command(argc, argv)};
    hy_diag diag = {""};
    int status = run(&r, argc, argv, &diag);
    free(r.command);
    return status;
}
