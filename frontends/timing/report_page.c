/* The result as a page. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "pictures.h"
#include "timing.h"

enum { TRACES = 3 };

/* ---- which moments are shown ---- */

/* How badly a row stands: fails first, then what lies nearest to its limit. */
static double badness(const hy_row *row)
{
    if (!row->judged || row->worst_ps < 0) {
        return -INFINITY;
    }
    double width = isnan(row->min) || isnan(row->max) ? 1.0 : row->max - row->min;
    double by = row->counts ? -row->mean : row->worst_by;
    return (row->verdict == HY_FAIL           ? 1e9
            : row->verdict == HY_INCONCLUSIVE ? 1e6
                                              : 0.0) -
           by / (width > 0.0 ? width : 1.0);
}

static int worst_row(const hy_timing *t, const char *taken)
{
    int worst = -1;
    for (int i = 0; i < HY_ROWS; i++) {
        if (taken[i] == 0 && isfinite(badness(&t->rows[i])) &&
            (worst < 0 || badness(&t->rows[i]) > badness(&t->rows[worst]))) {
            worst = i;
        }
    }
    return worst;
}

/* The stretch about a row's worst event: a few clocks for what happens at a strobe, the whole phoneme for durations; and where
 * request's edge may lie. */
static void frame(hy_trace *trace, const hy_row *row, int id, const hy_timing *t)
{
    double clock = t->clock_hz > 0.0 ? 1e12 / t->clock_hz : 1.4e6;
    double about = 16.0 * clock;
    double length = id == HY_ROW_LATENCY ? row->high * clock : 0.0;
    int by_code = id >= HY_ROW_DURATION && id < HY_ROW_AFTER_CUT;
    if (by_code || id == HY_ROW_AFTER_CUT || id == HY_ROW_INFLECTED || id == HY_ROW_OVERDUE) {
        length = by_code ? row->high * clock : 60000.0 * clock;
        about = 0.08 * length;
    }
    int allowed = (by_code || id == HY_ROW_LATENCY) && !isnan(row->min) && !isnan(row->max);
    double end = allowed && row->max * clock > length ? row->max * clock : length;
    *trace = (hy_trace){.from = row->worst_ps - llround(about),
                        .to = row->worst_ps + llround(end + about),
                        .mark = row->worst_ps,
                        .mark_end = row->worst_ps + llround(length),
                        .allowed = allowed ? row->worst_ps + llround(row->min * clock) : -1,
                        .allowed_end = allowed ? row->worst_ps + llround(row->max * clock) : -1};
    trace->from = trace->from < 0 ? 0 : trace->from;
    trace->to = trace->to > t->duration_ps ? t->duration_ps : trace->to;
    trace->to = trace->to <= trace->from ? trace->from + 1000 : trace->to;
    snprintf(trace->title, sizeof trace->title, "%s: %s, %s", row->key, row->name,
             row->verdict == HY_FAIL           ? row->counts ? "the first case" : "the case farthest beyond its limit"
             : row->verdict == HY_INCONCLUSIVE ? "the case that can't be told"
                                               : "the case nearest to its limit");
    if (allowed) {
        size_t used = strlen(trace->title);
        snprintf(trace->title + used, sizeof trace->title - used, "; green: where request's edge may lie");
    }
}

static int show_pins(hy_report *report, const hy_timing *t, const hy_timing_paper *paper, FILE *in, hy_diag *diag)
{
    hy_trace *traces = calloc(TRACES, sizeof *traces);
    char taken[HY_ROWS] = {0};
    unsigned count = 0;
    if (traces == NULL) {
        return hy_fail(diag, "not enough memory for the pictures");
    }
    for (int at; count < TRACES && (at = worst_row(t, taken)) >= 0; count++) {
        taken[at] = 1;
        frame(&traces[count], &t->rows[at], at, t);
    }
    int result =
        hy_traces_fill(traces, count, in, paper->capture, paper->map, paper->sample_hz, paper->glitch_ps, diag);
    for (unsigned i = 0; result == 0 && i < count; i++) {
        char *svg = hy_picture_pins(&traces[i], t->origin_ps);
        hy_report_svg(report, traces[i].title, traces[i].title, svg);
        free(svg);
    }
    free(traces);
    return result;
}

/* ---- the page ---- */

/* "+-" as a page shows it: as long in UTF-8. */
static void typeset(char *text)
{
    for (char *at = strstr(text, "+-"); at != NULL; at = strstr(at, "+-")) {
        memcpy(at, "\xc2\xb1", 2);
    }
}

static hy_report *open_page(const hy_timing *t, const hy_timing_paper *paper, const char *path, hy_diag *diag)
{
    char conditions[200];
    char hash[40];
    hy_timing_line resolution = hy_timing_resolution(t);
    hy_timing_line clock = hy_timing_clock(t);
    typeset(resolution.text);
    typeset(clock.text);
    snprintf(conditions, sizeof conditions, "%.3f s, %" PRIu64 " strobes, %" PRIu64 " edges",
             (double)t->duration_ps * 1e-12, t->strobes, t->edges);
    snprintf(hash, sizeof hash, "%016" PRIx64 " (FNV-1a)", paper->fingerprint);
    const hy_report_line more[] = {
        {"Capture", paper->capture}, {"Its fingerprint", hash}, {"Times are known to", resolution.text}};
    const hy_report_head head = {.title = "Handshake timing",
                                 .item = paper->item != NULL ? paper->item : paper->capture,
                                 .conditions = conditions,
                                 .clock = clock.text,
                                 .instrument = paper->instrument != NULL ? paper->instrument : hy_timing_form(t),
                                 .part = paper->part,
                                 .part_name = paper->part_name,
                                 .command = paper->command,
                                 .date = paper->date,
                                 .more = more,
                                 .more_count = sizeof more / sizeof more[0]};
    return hy_report_open(path, &head, diag);
}

static void show_rows(hy_report *report, const hy_timing *t)
{
    hy_report_limits(report, "Everything that was judged; figures in the unit of the row");
    for (int i = 0; i < HY_ROWS; i++) {
        const hy_row *row = &t->rows[i];
        if (row->judged) {
            hy_report_row shown = hy_row_report(row);
            char remark[120] = "";
            if (hy_timing_doing(t, row) == HY_SIDE_HOST) {
                snprintf(remark, sizeof remark, "the host's doing");
            } else if (!row->counts && row->worst_ps >= 0 && row->verdict != HY_PASS) {
                snprintf(remark, sizeof remark,
                         "%" PRIu64 " beyond the limit, %" PRIu64 " within the uncertainty of it", row->beyond,
                         row->maybe);
            }
            shown.remark = remark[0] != '\0' ? remark : NULL;
            shown.uncertainty = row->counts ? NAN : shown.uncertainty;
            hy_report_limit(report, &shown);
        }
    }
    hy_report_limits_end(report);
}

static void show_information(hy_report *report, const hy_timing *t)
{
    static const char *const headings[] = {"What", "#n", "#least", "#mean", "#most", "unit"};
    hy_report_table(report, "Measured, but without a limit", headings, 6);
    for (int i = 0; i < HY_ROWS; i++) {
        const hy_row *row = &t->rows[i];
        if (row->judged || row->n == 0) {
            continue;
        }
        char n[24];
        double resolution = row->counts ? 1.0 : row->uncertainty;
        snprintf(n, sizeof n, "%" PRIu64, row->n);
        hy_report_figure least = hy_report_number(row->counts ? NAN : row->low, resolution);
        hy_report_figure mean = hy_report_number(row->mean, resolution);
        hy_report_figure most = hy_report_number(row->counts ? NAN : row->high, resolution);
        const char *cells[] = {row->name, n, least.text, mean.text, most.text, row->unit};
        hy_report_cells(report, cells);
    }
    hy_report_table_end(report);
}

/* The notes, one a paragraph. */
static void show_notes(hy_report *report, const hy_timing *t)
{
    char line[700];
    for (const char *at = t->note; *at != '\0';) {
        size_t length = strcspn(at, "\n");
        const char *text = strncmp(at, "note: ", 6) == 0 ? at + 6 : at;
        snprintf(line, sizeof line, "%.*s", (int)(length - (size_t)(text - at)), text);
        hy_report_text(report, line);
        at += length + (at[length] == '\n');
    }
}

static const char decision[] =
    "Decision rule: every figure is a measured value and the most by which it may be off (sampling, skew between "
    "pins, the "
    "clock's own uncertainty). A row fails if a value lies beyond a limit by more than that. It passes if none does "
    "and the "
    "uncertainty is at most a quarter of the width between the limits, since a good chip's values reach the limits "
    "themselves, or if every value keeps its uncertainty's distance from them. Otherwise it is inconclusive. "
    "Durations are "
    "in clocks of the chip and so do not depend on its frequency. The result holds for the captured item only.";

hy_report *hy_timing_report(const hy_timing *t, const hy_timing_paper *paper, FILE *in, const char *path,
                            hy_diag *diag)
{
    hy_report *report = open_page(t, paper, path, diag);
    if (report == NULL) {
        return NULL;
    }
    hy_timing_line summary = hy_timing_summary(t);
    const char *text = strchr(summary.text, ':');
    hy_report_verdict(report, hy_timing_verdict(t), text != NULL ? text + 2 : summary.text, NULL);
    hy_report_section(report, "Pictures");
    if (t->point_count > 0) {
        char *svg = hy_picture_durations(t, paper->part);
        hy_report_svg(report, "Duration of each phoneme off nominal over the time of the capture",
                      "Each phoneme's duration, in clocks off nominal; the green band is allowed, red is beyond it "
                      "(what is far beyond lies "
                      "on the edge)",
                      svg);
        free(svg);
    }
    int result = show_pins(report, t, paper, in, diag);
    hy_report_section(report, "Limits and measurements");
    show_rows(report, t);
    show_information(report, t);
    hy_report_section(report, "How it was measured");
    show_notes(report, t);
    hy_report_note(report, decision);
    hy_report_cautions(report);
    if (result != 0 || hy_report_finish(report, diag) != 0) {
        hy_report_abandon(report);
        return NULL;
    }
    return report;
}
