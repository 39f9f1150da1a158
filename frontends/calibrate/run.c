#include "run.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "input.h"
#include "outcome.h"
#include "partwrite.h"
#include "progress/progress.h"

typedef struct steps {
    const hy_calibrate_request *r;
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
static void source_text(const hy_calibrate_request *r, const hy_calibration *s, char *text, size_t size)
{
    char more[40] = "";
    if (r->count > 1) {
        snprintf(more, sizeof more, " and %zu more", r->count - 1);
    }
    snprintf(text, size, "measured: %s%s, %s, with hyoid calibrate; the whole fit's residual is %.2f dB",
             plain(r->recordings[0]).text, more, r->date != NULL ? r->date : "undated", s->after_db);
}

/* The same for what the pins told. */
static void pins_text(const hy_calibrate_request *r, const hy_pins *pins, char *text, size_t size)
{
    snprintf(text, size, "measured: %s, %s, the pins, %lu strobes, clock by %s, with hyoid calibrate",
             plain(pins->path).text, r->date != NULL ? r->date : "undated", pins->strobes, pins->clock_from);
}

/* What was fitted to another text, or to no speech of a chip, is no part. */
static int must_be_near(const hy_calibrate_request *r, const hy_calibration *s, hy_diag *diag)
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

/* The summary, unless standard output carries a page or JSON. */
static int say(const hy_calibrate_request *r, const hy_outcome *outcome, hy_diag *diag)
{
    const int taken =
        (r->json != NULL && strcmp(r->json, "-") == 0) || (r->report != NULL && strcmp(r->report, "-") == 0);
    if (taken) {
        hy_outcome_warn(outcome);
        return 0;
    }
    return hy_outcome_print(outcome, diag);
}

static int deliver(const hy_calibrate_request *r, const hy_partfile *prior, hy_calibration *s, hy_diag *diag)
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
    hy_partfile *found = NULL;
    hy_outfolder *folder = hy_partwrite_new(&write, r->output, &found, diag);
    hy_outcome outcome = {s, r->output, r->part, prior, found, r->argc, r->argv};
    hy_outfile *json = r->json != NULL && folder != NULL ? hy_outcome_json(&outcome, r->json, diag) : NULL;
    hy_report *report =
        r->report != NULL && diag->text[0] == '\0' ? hy_outcome_report(&outcome, r->report, diag) : NULL;
    /* the folder last: a second run would meet it */
    int status = hy_report_commit_all(report, &json, 1, diag->text[0] != '\0', diag);
    if (status != 0) {
        hy_outfolder_abandon(folder);
    } else {
        status = hy_outfolder_commit(folder, diag);
    }
    if (status == 0) {
        hy_partwrite_remove(r->unfinished);
        status = say(r, &outcome, diag);
    }
    hy_partfile_free(found);
    return status;
}

/* A capture that shows one clock, and a user who measured another: one of them is of something else. */
static int clocks_agree(const hy_calibrate_request *r, const hy_pins *pins, hy_diag *diag)
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
static int run_pins(const hy_calibrate_request *r, const hy_partfile *prior, hy_diag *diag)
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
    hy_partfile *found = NULL;
    hy_outfolder *folder = hy_partwrite_new(&write, r->output, &found, diag);
    hy_partfile_free(found);
    if (folder == NULL || hy_outfolder_commit(folder, diag) != 0) {
        return -1;
    }
    printf("%s\nwrote %s; all sounds were kept: a recording tells them\n", hy_pins_say(&pins).text, r->output);
    return fflush(stdout) == 0 ? 0 : hy_fail(diag, "standard output: %s", strerror(errno));
}

int hy_calibrate_run(const hy_calibrate_request *r, hy_diag *diag)
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
