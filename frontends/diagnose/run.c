#include "run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture.h"
#include "partfile.h"
#include "progress/progress.h"
#include "search.h"
#include "show.h"

static void on_progress(void *user, size_t done, size_t whole)
{
    hy_progress_at(user, done, whole);
}

/* Brings a calibrated recording to the model's scale, where it differs from the pin by the tolerance alone. */
static void calibrate(hy_recording *recording, double gain_db)
{
    const double scale = pow(10.0, -gain_db / 20.0);
    for (size_t i = 0; i < recording->count; i++) {
        recording->samples[i] = (float)((double)recording->samples[i] * scale);
    }
    recording->dc *= scale;
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

/* All outputs are on the disk before the first appears under its name. */
static int write_outputs(const hy_diagnose_request *r, const hy_case *c, hy_diag *diag)
{
    hy_outfile *json = r->json != NULL ? hy_outfile_open(r->json, diag) : NULL;
    if (json != NULL && hy_case_json(c, hy_outfile_stream(json), diag) == 0) {
        hy_outfile_finish(json, diag);
    }
    hy_report *report = r->report != NULL && diag->text[0] == '\0' ? hy_case_report(c, r->report, diag) : NULL;
    if (hy_report_commit_all(report, &json, 1, diag->text[0] != '\0', diag) != 0) {
        return -1;
    }
    const int taken =
        (r->json != NULL && strcmp(r->json, "-") == 0) || (r->report != NULL && strcmp(r->report, "-") == 0);
    if (!r->quiet && !taken) {
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
    hy_search search;
} bag;

static int diagnose(const hy_diagnose_request *r, bag *b, hy_finding *finding, hy_diag *diag)
{
    const hyoid_part *part = hyoid_part_default();
    if (r->part != NULL) {
        if ((b->file = hy_partfile_read(r->part, diag)) == NULL) {
            return -1;
        }
        part = hy_partfile_part(b->file);
    }
    const hy_host_options host = {.clock_hz = r->clock_hz < 0.0 ? part->nominal_hz : r->clock_hz,
                                  .level = r->level < 0 ? HY_LEVEL_DEFAULT : r->level};
    hy_capture_note note;
    b->recording = hy_recording_read(r->recording, r->channel, diag);
    if (b->recording == NULL || hy_input_read_mapped(&b->input, r->input, r->map, part, &host, &note, diag) != 0) {
        return -1;
    }
    if (!r->quiet) {
        fputs(note.text, stderr);
        hy_input_tell_unused(&b->input, r->input, r->clock_hz >= 0.0, r->level >= 0, stderr);
    }
    if (r->gain_known) {
        calibrate(b->recording, r->gain_db);
    }
    hy_progress progress;
    hy_progress_start(&progress, "trying faults");
    const hy_search_setup setup = {/* more of a slow fault than was recorded can't be compared */
                                   .model = {&b->input, part, host, b->recording->seconds + 3.0, 1.0},
                                   .gain_known = r->gain_known,
                                   .gain_tolerance = 1.5,
                                   .progress = on_progress,
                                   .user = &progress};
    int result = hy_heard_make(&b->heard, b->recording, diag);
    result = result == 0 ? hy_search_run(&b->search, &b->heard, &setup, diag) : -1;
    hy_progress_end(&progress);
    if (result != 0) {
        return -1;
    }
    *finding = b->search.best->finding;
    const hy_case c = {.diagnosis = b->search.best,
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
    hy_search_free(&b->search);
    hy_heard_free(&b->heard);
    hy_recording_free(b->recording);
    hy_input_free(&b->input);
    hy_partfile_free(b->file);
}

int hy_diagnose_run(const hy_diagnose_request *request, hy_finding *finding, hy_diag *diag)
{
    bag *b = calloc(1, sizeof *b);
    if (b == NULL) {
        return hy_fail(diag, "memory is short");
    }
    int result = diagnose(request, b, finding, diag);
    empty(b);
    free(b);
    return result;
}
