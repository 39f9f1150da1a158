/* The result as a test report. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare.h"
#include "score.h"

static void limit_row(hy_report *report, const hy_judged_code *code, int q)
{
    const hy_figure *f = &code->figures->figure[q];
    const hy_judged *judged = &code->row[q];
    char name[80], remark[160] = "";
    snprintf(name, sizeof name, "%s 0x%02x: %s", hy_symbols[code->figures->code].symbol, code->figures->code,
             hy_measure_name((hy_measure)q));
    hy_report_row row = hy_report_row_of(name, hy_measure_unit((hy_measure)q));
    int distance = q == HY_M_LSD || q == HY_M_MCD;
    row.min = distance ? NAN : -judged->limit.value;
    row.max = judged->limit.value;
    row.typ = 0;
    row.n = f->count;
    row.low = row.mean = row.high = f->value;
    row.uncertainty = f->uncertainty;
    row.verdict = judged->verdict;
    if (q <= HY_M_F3) {
        snprintf(remark, sizeof remark, "%.4g %s, model %.4g %s", f->recording, q == HY_M_DURATION ? "ms" : "Hz",
                 f->model, q == HY_M_DURATION ? "ms" : "Hz");
    } else if (distance && f->usual > 0.05) {
        snprintf(remark, sizeof remark, "beyond the %.1f dB that a good chip has in this recording", f->usual);
    }
    row.remark = remark[0] != '\0' ? remark : NULL;
    hy_report_limit(report, &row);
}

static void head_exceptions(hy_report *report, int *heading)
{
    if ((*heading)++ == 0) {
        hy_report_section(report, "What fails");
        hy_report_limits(report, "Differences from the model; those of phonemes at the part's own clock");
    }
}

/* A row of the whole recording. */
static void whole_exception(hy_report *report, const char *name, const hy_judged *judged, double value, double doubt,
                            int *heading)
{
    if (!judged->judged || judged->verdict != HY_FAIL) {
        return;
    }
    head_exceptions(report, heading);
    hy_report_row row = hy_report_row_of(name, "%");
    row.min = -judged->limit.value;
    row.max = judged->limit.value;
    row.typ = 0;
    row.n = 1;
    row.low = row.mean = row.high = value;
    row.uncertainty = doubt;
    row.verdict = judged->verdict;
    hy_report_limit(report, &row);
}

/* What fails; the whole of it stands in the table of phonemes. */
static void exceptions(hy_report *report, const hy_comparison *c)
{
    int heading = 0;
    whole_exception(report, "clock against the stated one", &c->clock, c->clock_off, c->clock_doubt, &heading);
    whole_exception(report, "pitch against tempo", &c->tempo_pitch, c->tempo_pitch_off, c->tempo_pitch_doubt,
                    &heading);
    for (size_t i = 0; i < c->figures.count; i++) {
        for (int q = 0; q < HY_MEASURES; q++) {
            if (c->code[i].row[q].judged && c->code[i].row[q].verdict == HY_FAIL) {
                head_exceptions(report, &heading);
                limit_row(report, &c->code[i], q);
            }
        }
    }
    if (heading) {
        hy_report_limits_end(report);
    }
}

static void main_rows(hy_report *report, const hy_comparison *c)
{
    hy_report_section(report, "Spectrum of each phoneme");
    hy_report_limits(report, "Log-spectral distance of long-term spectra (pauses: level)");
    for (size_t i = 0; i < c->figures.count; i++) {
        int q = c->code[i].figures->pause ? HY_M_LEVEL : HY_M_LSD;
        if (c->code[i].figures->figure[q].known == HY_KNOWN) {
            limit_row(report, &c->code[i], q);
        }
    }
    hy_report_limits_end(report);
}

enum { CELLS = HY_MEASURES + 3, CELL = 48 };

static void figures_table(hy_report *report, const hy_comparison *c)
{
    static const char *const headings[CELLS] = {"phoneme",     "#n",        "#duration %", "#f0 %",   "#F1 %",
                                                "#F2 %",       "#F3 %",     "#LSD dB",     "#MCD dB", "#level dB",
                                                "#closure dB", "#onset ms", "verdict"};
    hy_report_section(report, "All figures");
    hy_report_text(
        report,
        "Part minus model, at the part's own clock. ! outside its limit, ? too uncertain to say, a dash: can't be "
        "measured in this recording; empty: this sound has none.");
    hy_report_table(report, NULL, headings, CELLS);
    for (size_t i = 0; i < c->figures.count; i++) {
        const hy_judged_code *code = &c->code[i];
        char text[CELLS][CELL] = {{0}};
        const char *cells[CELLS];
        snprintf(text[0], CELL, "%s 0x%02x", hy_symbols[code->figures->code].symbol, code->figures->code);
        snprintf(text[1], CELL, "%zu", code->figures->inside);
        for (int q = 0; q < HY_MEASURES; q++) {
            const hy_figure *f = &code->figures->figure[q];
            const hy_judged *row = &code->row[q];
            if (f->known == HY_KNOWN) {
                const char *mark = !row->judged              ? ""
                                   : row->verdict == HY_FAIL ? " !"
                                   : row->verdict == HY_PASS ? ""
                                                             : " ?";
                snprintf(text[q + 2], CELL, "%s%s", hy_report_number(f->value, 0.1).text, mark);
            } else {
                snprintf(text[q + 2], CELL, "%s", f->known == HY_NOT_THERE ? "" : "\u2013");
            }
        }
        snprintf(text[CELLS - 1], CELL, "%s", hy_verdict_text(code->verdict));
        for (int k = 0; k < CELLS; k++) {
            cells[k] = text[k];
        }
        hy_report_cells(report, cells);
    }
    hy_report_table_end(report);
}

static void open_questions(hy_report *report, const hy_comparison *c)
{
    int heading = 0;
    for (size_t i = 0; i < c->figures.count; i++) {
        if (c->code[i].verdict == HY_INCONCLUSIVE) {
            char text[300];
            if (!heading++) {
                hy_report_section(report, "What can't be told from this recording");
            }
            snprintf(text, sizeof text, "%s 0x%02x: %s", hy_symbols[c->code[i].figures->code].symbol,
                     c->code[i].figures->code, c->code[i].why);
            hy_report_text(report, text);
        }
    }
}

static int same_limit(const hy_limit *a, const hy_limit *b)
{
    const int alike = isnan(a->value) ? isnan(b->value) : a->value == b->value;
    return alike && strcmp(a->source, b->source) == 0;
}

static void source_row(hy_report *report, const char *name, const char *what, const char *unit, const hy_limit *limit)
{
    char value[32] = "\u2013";
    if (isfinite(limit->value)) {
        snprintf(value, sizeof value, "%.4g", limit->value);
    }
    const char *cells[] = {name, what, value, unit, limit->source};
    hy_report_cells(report, cells);
}

/* One row for each limit that the quantity has; where there are several, with the codes that each is for. */
static void measure_sources(hy_report *report, const hy_comparison *c, hy_measure q)
{
    char done[HYOID_PHONEMES] = {0};
    for (size_t first = 0; first < c->figures.count; first++) {
        const hy_limit *limit = &c->code[first].row[q].limit;
        char name[16 + 5 * HYOID_PHONEMES];
        size_t used = (size_t)snprintf(name, sizeof name, "%s", hy_measure_name(q)), sharing = 0;
        for (size_t i = first; i < c->figures.count && !done[first]; i++) {
            if (same_limit(limit, &c->code[i].row[q].limit)) {
                used += (size_t)snprintf(name + used, sizeof name - used, " 0x%02x", c->code[i].figures->code);
                sharing++;
            }
        }
        for (size_t i = first; i < c->figures.count && sharing > 0; i++) {
            done[i] |= (char)(i > first && same_limit(limit, &c->code[i].row[q].limit));
        }
        if (sharing > 0) {
            source_row(report, sharing == c->figures.count ? hy_measure_name(q) : name, hy_measure_what(q),
                       hy_measure_unit(q), limit);
        }
    }
}

static void sources(hy_report *report, const hy_comparison *c)
{
    static const char *const headings[] = {"quantity", "what it is", "#limit", "unit", "source of the limit"};
    hy_report_section(report, "Limits");
    hy_report_table(report, NULL, headings, 5);
    for (int q = 0; q < HY_MEASURES; q++) {
        measure_sources(report, c, (hy_measure)q);
    }
    source_row(report, hy_limit_row_name(HY_CLOCK_ROW), "the part's clock against the stated one",
               hy_limit_row_unit(HY_CLOCK_ROW), &c->clock.limit);
    source_row(report, hy_limit_row_name(HY_TEMPO_PITCH_ROW), "the clock that pitch tells against that of the tempo",
               hy_limit_row_unit(HY_TEMPO_PITCH_ROW), &c->tempo_pitch.limit);
    hy_report_table_end(report);
    hy_report_note(
        report,
        "Limits are what listeners just notice, or estimates; none is a maker's. How well a figure is known comes "
        "from "
        "good chips: the model rendered again with other histories and this recording's own noise. Distances are "
        "over 32 bands equally wide on the mel scale from 100 Hz to 10 kHz, means over all of a phoneme's sounding "
        "time, level left out; MCD = 10 / ln 10 * sqrt(2 sum of squared differences of c1..c13), ln|H| = c0 + sum "
        "c[m] "
        "cos(m w).");
    if (c->colour) {
        hy_report_note(report,
                       "What all sounds have in common was taken out as the colour of a microphone and a room: a "
                       "defect that bends all sounds alike can't be seen this way.");
    }
}

hy_report *hy_compare_report(const hy_comparison *c, const char *path, hy_diag *diag)
{
    char conditions[1200], instrument[1000];
    snprintf(conditions, sizeof conditions, "%.1f s, %zu phonemes of %s; %s", c->recording->seconds,
             c->alignment.model->spoken_count, c->input_name, hy_compare_place(c).text);
    snprintf(instrument, sizeof instrument, "recording of %.0f Hz%s%s; %s", c->recording->rate,
             c->recording->channel_note[0] != '\0' ? ", " : "", c->recording->channel_note, hy_compare_floor(c).text);
    const hy_compare_line clock = hy_compare_clock(c);
    const hy_report_head head = {.title = "Sound of a part",
                                 .item = c->recording_name,
                                 .conditions = conditions,
                                 .clock = clock.text,
                                 .instrument = instrument,
                                 .part = c->part,
                                 .part_name = c->part_name,
                                 .command = c->command};
    hy_report *report = hy_report_open(path, &head, diag);
    if (report == NULL) {
        return NULL;
    }
    const hy_compare_line summary = hy_compare_summary(c);
    const char *text = strchr(summary.text, ':'); /* behind the verdict, which the banner has as a word of its own */
    hy_report_verdict(report, c->verdict, text != NULL ? text + 2 : summary.text, NULL);
    hy_report_section(report, "Recording and model");
    cairo_surface_t *page = hy_compare_draw(c, diag);
    int failed =
        page == NULL ||
        hy_report_surface(report, "Spectrograms of the recording, above, and of the model, below, on one time axis",
                          "One scale of levels for both; frequencies under a veil are outside the recording's band.",
                          page, diag) != 0;
    if (page != NULL) {
        cairo_surface_destroy(page);
    }
    exceptions(report, c);
    main_rows(report, c);
    figures_table(report, c);
    open_questions(report, c);
    sources(report, c);
    hy_report_cautions(report);
    if (failed || hy_report_finish(report, diag) != 0) {
        hy_report_abandon(report);
        return NULL;
    }
    return report;
}
