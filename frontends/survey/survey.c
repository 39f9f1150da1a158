/* hyoid survey: writes the score, log, C arrays and sound of a test recording. */
#include "survey.h"

#include <stdlib.h>
#include <string.h>

#include "host.h"
#include "number.h"
#include "options.h"
#include "outfile.h"
#include "partfile.h"
#include "perform.h"
#include "places.h"
#include "sound.h"
#include "text.h"

enum { OUTPUT, LOG, C_ARRAY, SOUND, CALIBRATION, SHORT, CLOCK, FIXED_CLOCK, PART, QUIET };

static const hy_option options[] = {
    [OUTPUT] = {"output", 'o', "FILE.score", "the score (default: standard output, if nothing else is asked for)"},
    [LOG] = {"log", 0, "FILE.csv", "the writes with their times, as a board that waits for request makes them"},
    [C_ARRAY] = {"c", 0, "FILE.h", "C arrays for a microcontroller: code, inflection, waits, clock steps"},
    [SOUND] = {"sound", 0, "FILE.wav", "what a good chip says to it (48000 samples a second; .wav, .flac or .ogg)"},
    [CALIBRATION] = {"calibration", 0, NULL,
                     "the sequence for `hyoid calibrate`: every phoneme behind a burst, about 60 s"},
    [SHORT] = {"short", 0, NULL, "about 23 s instead of 80 s (--calibration: 35 s instead of 60 s)"},
    [CLOCK] = {"clock", 0, "HZ", "the board's clock, 50k to 5M (default: the part's nominal clock)"},
    [FIXED_CLOCK] = {"fixed-clock", 0, NULL, "no clock steps: the board can't change its clock"},
    [PART] = {"part", 0, "DIR",
              "a part folder, for the times in the log and for the sound (default: built-in,\n"
              "an estimate); the score is the same for every part at one clock"},
    [QUIET] = {"quiet", 'q', NULL, "no summary on standard error"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "survey",
    "[-o FILE.score] [--log FILE.csv] [--c FILE.h] [--sound FILE] [options]",
    "The recommended test sequence: what a recording must contain with which `hyoid compare`,\n"
    "`hyoid diagnose` or `hyoid calibrate` can judge a chip. All codes, all inflection levels, held\n"
    "sounds, transitions between all classes of sounds, cut phonemes, clock steps, clicks for\n"
    "alignment at both ends, silence for the noise floor; the score says why each is there.\n"
    "With --calibration: the sequence that `hyoid calibrate` needs, in which a burst stands ahead of\n"
    "each phoneme.\n"
    "\n"
    "Recordings are made at a working board: mains and the picture tube's charge can kill, a\n"
    "live chassis and an earthed recorder must be isolated from each other (docs/diagnose.md).",
    options,
    "Examples:\n"
    "  hyoid survey --short -o survey.score --log survey.csv\n"
    "  hyoid survey --c survey.h --fixed-clock",
};

typedef struct request {
    const char *place[SOUND + 1]; /* by option; null: not asked for */
    hy_survey_options survey;
    const char *part;
    int quiet;
} request;

typedef struct outputs {
    hy_outfile *file[SOUND]; /* score, log, C array */
    hy_sound *sound;
    hy_diag *diag;
    size_t phonemes;
} outputs;

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    switch (option) {
    case HY_OPERAND:
        return hy_fail(diag, "survey takes no operand; found %s", hy_show(value, strlen(value)).text);
    case OUTPUT:
    case LOG:
    case C_ARRAY:
    case SOUND:
        r->place[option] = value;
        return 0;
    case CALIBRATION:
        r->survey.calibration = 1;
        return 0;
    case SHORT:
        r->survey.brief = 1;
        return 0;
    case CLOCK:
        if (hy_hz_read(value, strlen(value), &r->survey.clock_hz) != 0 ||
            !(r->survey.clock_hz >= 50e3 && r->survey.clock_hz <= 5e6)) {
            return hy_fail(diag, "--clock %s: a frequency of 50k to 5M would be right, such as 720k", value);
        }
        return 0;
    case FIXED_CLOCK:
        r->survey.fixed_clock = 1;
        return 0;
    case PART:
        r->part = value;
        return 0;
    default:
        r->quiet = 1;
        return 0;
    }
}

static int check_places(request *r, hy_diag *diag)
{
    const hy_place_form forms[] = {{"output", r->place[OUTPUT], "a score", HY_FORM_SCORE},
                                   {"log", r->place[LOG], "a write log", HY_FORM_TABLE},
                                   {"c", r->place[C_ARRAY], "C", HY_FORM_C}};
    if (hy_places_check(r->place, SOUND + 1, &r->part, 1, diag) != 0 || hy_places_forms(forms, 3, diag) != 0) {
        return -1;
    }
    int any = 0;
    for (int i = OUTPUT; i <= SOUND; i++) {
        any = any || r->place[i] != NULL;
    }
    r->place[OUTPUT] = any ? r->place[OUTPUT] : "-";
    return 0;
}

/* The survey as text, and read again as any other score: so it holds to the grammar. */
static hy_score *write_score(const request *r, char **text, size_t *size, hy_diag *diag)
{
    FILE *memory = open_memstream(text, size);
    if (memory == NULL) {
        hy_fail(diag, "memory is short for the score");
        return NULL;
    }
    if (r->survey.calibration) {
        hy_survey_calibration(memory, &r->survey);
    } else {
        hy_survey_score(memory, &r->survey);
    }
    if (fclose(memory) != 0) {
        hy_fail(diag, "memory is short for the score");
        return NULL;
    }
    FILE *in = fmemopen(*text, *size, "r");
    hy_score *score = in != NULL ? hy_score_read(in, "survey", diag) : NULL;
    if (in != NULL) {
        fclose(in);
    }
    return score;
}

static void on_frames(void *user, const float *frames, size_t count)
{
    outputs *o = user;
    hy_sound_write(o->sound, frames, count, o->diag);
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    outputs *o = user;
    (void)cycle;
    (void)ps;
    (void)code;
    o->phonemes++;
}

static int play(outputs *o, hy_log *log, const hyoid_part *part)
{
    const int with_sound = o->sound != NULL;
    const hy_performance performance = {
        .log = log,
        .part = part,
        .rate = with_sound ? 48000 : 0,
        .end_ps = hy_log_end(log) + INT64_C(50000000000),
        .observer = {o, with_sound ? on_frames : NULL, NULL, on_latch, NULL},
    };
    return hy_perform(&performance, o->diag);
}

static int open_outputs(outputs *o, const request *r)
{
    for (int i = OUTPUT; i < SOUND; i++) {
        if (r->place[i] != NULL && (o->file[i] = hy_outfile_open(r->place[i], o->diag)) == NULL) {
            return -1;
        }
    }
    const hy_sound_options sound = {.rate = 48000, .bits = 16};
    return r->place[SOUND] == NULL || (o->sound = hy_sound_open(r->place[SOUND], &sound, o->diag)) != NULL ? 0 : -1;
}

static int write_c(outputs *o, const request *r, hy_score *score)
{
    char what[200];
    snprintf(what, sizeof what, "hyoid survey%s%s%s --clock %.10g: a test sequence for a phoneme speech chip.",
             r->survey.calibration ? " --calibration" : "", r->survey.brief ? " --short" : "",
             r->survey.fixed_clock ? " --fixed-clock" : "", r->survey.clock_hz);
    return hy_survey_c(hy_outfile_stream(o->file[C_ARRAY]), score, what, o->diag);
}

static int finish(outputs *o)
{
    int failed = o->sound != NULL && hy_sound_finish(o->sound, o->diag) != 0;
    for (int i = OUTPUT; i < SOUND && !failed; i++) {
        failed = o->file[i] != NULL && hy_outfile_finish(o->file[i], o->diag) != 0;
    }
    /* each is forgotten by its commit, whatever comes of it */
    for (int i = OUTPUT; i < SOUND && !failed; i++) {
        failed = o->file[i] != NULL && hy_outfile_commit(o->file[i], o->diag) != 0;
        o->file[i] = NULL;
    }
    if (o->sound != NULL && !failed) {
        failed = hy_sound_commit(o->sound, o->diag) != 0;
        o->sound = NULL;
    }
    return failed ? -1 : 0;
}

static void abandon(outputs *o)
{
    for (int i = OUTPUT; i < SOUND; i++) {
        hy_outfile_abandon(o->file[i]);
    }
    if (o->sound != NULL) {
        hy_sound_abandon(o->sound);
    }
}

static int survey(request *r, hy_diag *diag)
{
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : NULL;
    if (r->part != NULL && file == NULL) {
        return -1;
    }
    const hyoid_part *part = file != NULL ? hy_partfile_part(file) : hyoid_part_default();
    r->survey.nominal_hz = part->nominal_hz;
    r->survey.clock_hz = r->survey.clock_hz > 0.0 ? r->survey.clock_hz : part->nominal_hz;
    const hy_host_options host = {.clock_hz = part->nominal_hz,
                                  .level = 1}; /* as for any score: it sets its clock itself */
    char *text = NULL;
    size_t size = 0;
    outputs o = {.diag = diag};
    hy_score *score = write_score(r, &text, &size, diag);
    hy_log *log = score != NULL ? hy_host_play(score, part, &host, diag) : NULL;
    int result = log != NULL ? open_outputs(&o, r) : -1;
    if (result == 0 && o.file[OUTPUT] != NULL) {
        fwrite(text, 1, size, hy_outfile_stream(o.file[OUTPUT])); /* finishing tells whether it went well */
    }
    if (result == 0 && o.file[LOG] != NULL) {
        result = hy_log_write_csv(log, hy_outfile_stream(o.file[LOG]), diag);
    }
    if (result == 0 && o.file[C_ARRAY] != NULL) {
        result = write_c(&o, r, score);
    }
    if (result == 0) {
        result = play(&o, log, part);
    }
    if (result == 0) {
        result = finish(&o);
    }
    if (result != 0) {
        abandon(&o);
    } else if (!r->quiet) {
        fprintf(stderr, "%.1f s, %zu phonemes, clock %.10g kHz, part: %s\n", (double)hy_log_end(log) * 1e-12,
                o.phonemes, r->survey.clock_hz / 1000.0, r->part != NULL ? r->part : "built-in (an estimate)");
    }
    hy_log_free(log);
    if (score != NULL) {
        hy_score_free(score);
    }
    free(text);
    hy_partfile_free(file);
    return result;
}

int hy_survey_main(int argc, char **argv)
{
    request r = {.survey = {.clock_hz = -1.0}};
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    return check_places(&r, &diag) == 0 && survey(&r, &diag) == 0 ? 0 : hy_refuse(&diag);
}
