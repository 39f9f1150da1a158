#include "outputs.h"

#include <math.h>
#include <string.h>

#include "outfile.h"
#include "partfile_fields.h"
#include "report/report.h"
#include "sounds.h"
#include "strips.h"

typedef struct outputs {
    hy_sounds *sounds;
    hy_strips *strips;
    hy_report *report;
    hy_outfile *picture, *csv, *json, *print;
} outputs;

static const char *input_name(const hy_sweep_request *r)
{
    const char *slash = strrchr(r->input, '/');
    return strcmp(r->input, "-") == 0 ? "standard input" : slash != NULL ? slash + 1 : r->input;
}

static int open_strips(outputs *o, const hy_sweep_request *r, const hy_sweep_table *table, hy_diag *diag)
{
    if (table->count > HY_STRIPS_MAX) {
        return hy_fail(diag, "a picture shows at most %d clocks, not %zu; --steps would choose some", HY_STRIPS_MAX,
                       table->count);
    }
    double longest = 0;
    for (size_t i = 0; i < table->count; i++) {
        longest = fmax(longest, table->steps[i].whole_s);
    }
    char title[300];
    snprintf(title, sizeof title, "%.200s at %zu clock%s", input_name(r), table->count, table->count == 1 ? "" : "s");
    o->strips = hy_strips_new(table->count, longest, title, hy_part_note(table->subject->part), diag);
    return o->strips != NULL ? 0 : -1;
}

static int open_report(outputs *o, const hy_sweep_request *r, const hy_sweep_table *table, hy_diag *diag)
{
    const char *circuit = r->dac != NULL  ? "a table of a clock circuit"
                          : r->rc != NULL ? "an RC oscillator"
                                          : "a range";
    char clock[200];
    double low = INFINITY;
    double high = 0;
    for (size_t i = 0; i < table->count; i++) {
        low = fmin(low, table->steps[i].hz);
        high = fmax(high, table->steps[i].hz);
    }
    snprintf(clock, sizeof clock, "%.6g to %.6g kHz, %s", low / 1000, high / 1000, circuit);
    const hy_report_head head = {.title = "Clock sweep",
                                 .item = r->item,
                                 .conditions = input_name(r),
                                 .clock = clock,
                                 .part = table->subject->part,
                                 .part_name = r->part,
                                 .command = r->command,
                                 .date = r->date};
    o->report = hy_report_open(r->report, &head, diag);
    return o->report != NULL ? 0 : -1;
}

static int open_outputs(outputs *o, const hy_sweep_request *r, const hy_sweep_table *table,
                        const hy_sweep_clocks *clocks, hy_diag *diag)
{
    const hy_sound_options sound = {.rate = r->rate, .bits = r->bits};
    if (((r->picture != NULL || r->report != NULL) && open_strips(o, r, table, diag) != 0) ||
        (r->report != NULL && open_report(o, r, table, diag) != 0) ||
        (r->output != NULL && (o->sounds = hy_sounds_open(r->output, clocks, &sound, r->gap_ms, diag)) == NULL) ||
        (r->picture != NULL && (o->picture = hy_outfile_open(r->picture, diag)) == NULL) ||
        (r->csv != NULL && (o->csv = hy_outfile_open(r->csv, diag)) == NULL) ||
        (r->json != NULL && (o->json = hy_outfile_open(r->json, diag)) == NULL)) {
        return -1;
    }
    const char *const places[] = {r->output, r->csv, r->json, r->picture, r->report};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        if (places[i] != NULL && strcmp(places[i], "-") == 0) {
            return 0; /* standard output is taken */
        }
    }
    return (o->print = hy_outfile_open("-", diag)) != NULL ? 0 : -1;
}

static int play_all(outputs *o, const hy_sweep_request *r, const hy_sweep_subject *subject,
                    const hy_sweep_clocks *clocks, hy_diag *diag)
{
    for (size_t i = 0; (o->sounds != NULL || o->strips != NULL) && i < clocks->count; i++) {
        hy_sweep_step step;
        if (hy_sweep_play(&step, subject, &clocks->clock[i], r->rate, r->tail_ps, diag) != 0) {
            return -1;
        }
        int status = o->sounds != NULL ? hy_sounds_add(o->sounds, &step, diag) : 0;
        if (status == 0 && o->strips != NULL) {
            status = hy_strips_add(o->strips, &step, diag);
        }
        hy_sweep_step_free(&step);
        if (status != 0) {
            return -1;
        }
    }
    return 0;
}

/* The one drawing goes to the picture's file, into the report, or both. */
static int write_pictures(outputs *o, const hy_sweep_table *table, hy_diag *diag)
{
    cairo_t *page = hy_strips_draw(o->strips, diag);
    int status = page != NULL ? 0 : -1;
    if (status == 0 && o->picture != NULL) {
        status = hy_page_write(page, o->picture, diag);
    }
    if (status == 0 && o->report != NULL) {
        hy_report_section(o->report, "Pictures");
        status = hy_report_surface(o->report, "Spectrograms of the input at each clock, one below the other",
                                   "Above the dashed line, half the filter rate, everything is images.",
                                   cairo_get_target(page), diag);
        hy_sweep_report(table, o->report);
    }
    if (page != NULL) {
        cairo_destroy(page);
    }
    return status;
}

static int write_all(outputs *o, const hy_sweep_table *table, hy_diag *diag)
{
    if (o->csv != NULL) {
        hy_sweep_csv(table, hy_outfile_stream(o->csv));
    }
    if ((o->json != NULL && hy_sweep_json(table, hy_outfile_stream(o->json), diag) != 0) ||
        (o->strips != NULL && write_pictures(o, table, diag) != 0)) {
        return -1;
    }
    if (o->print != NULL) {
        hy_sweep_print(table, hy_outfile_stream(o->print));
        if (o->sounds != NULL) {
            size_t files = hy_sounds_files(o->sounds);
            fprintf(hy_outfile_stream(o->print), "\n%zu sound file%s, peak %.1f dBFS: start quietly.\n", files,
                    files == 1 ? "" : "s", 20 * log10(fmax((double)hy_sounds_peak(o->sounds), 1e-9)));
        }
    }
    int failed = (o->sounds != NULL && hy_sounds_finish(o->sounds, diag) != 0) ||
                 (o->report != NULL && hy_report_finish(o->report, diag) != 0) ||
                 (o->csv != NULL && hy_outfile_finish(o->csv, diag) != 0) ||
                 (o->json != NULL && hy_outfile_finish(o->json, diag) != 0) ||
                 (o->print != NULL && hy_outfile_finish(o->print, diag) != 0);
    return failed ? -1 : 0;
}

/* Each is forgotten as it is committed. Standard output goes last: what is printed has come true. */
static int commit_all(outputs *o, hy_diag *diag)
{
    int status = o->sounds != NULL ? hy_sounds_commit(o->sounds, diag) : 0;
    o->sounds = NULL;
    if (status == 0 && o->report != NULL) {
        status = hy_report_commit(o->report, diag);
        o->report = NULL;
    }
    hy_outfile **files[] = {&o->picture, &o->csv, &o->json, &o->print};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        if (status == 0 && *files[i] != NULL) {
            status = hy_outfile_commit(*files[i], diag);
            *files[i] = NULL;
        }
    }
    return status;
}

static void abandon_all(outputs *o)
{
    hy_sounds_abandon(o->sounds);
    hy_strips_free(o->strips);
    hy_report_abandon(o->report);
    hy_outfile_abandon(o->picture);
    hy_outfile_abandon(o->csv);
    hy_outfile_abandon(o->json);
    hy_outfile_abandon(o->print);
}

int hy_sweep_write(const hy_sweep_request *request, const hy_sweep_table *table, const hy_sweep_clocks *clocks,
                   hy_diag *diag)
{
    outputs o = {.sounds = NULL};
    int status = open_outputs(&o, request, table, clocks, diag);
    if (status == 0) {
        status = play_all(&o, request, table->subject, clocks, diag);
    }
    if (status == 0) {
        status = write_all(&o, table, diag);
    }
    if (status == 0) {
        status = commit_all(&o, diag);
    }
    abandon_all(&o);
    return status;
}
