/* sample_report FILE: a report with everything that a report can hold, and texts that try to break it. */
#include <cairo-svg.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "options.h"
#include "report/report.h"

static void waves(cairo_t *cr, int width, int height)
{
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    for (int i = 0; i < 4; i++) {
        cairo_set_source_rgb(cr, 0.1 + 0.2 * i, 0.3, 0.6 - 0.1 * i);
        for (int x = 0; x < width; x++) {
            cairo_line_to(cr, x, height * (0.5 + 0.4 * sin(0.01 * x * (i + 1))));
        }
        cairo_stroke(cr);
    }
    cairo_set_source_rgb(cr, 0.1, 0.1, 0.1);
    cairo_set_font_size(cr, 14);
    cairo_move_to(cr, 20, 30);
    cairo_show_text(cr, "what cairo draws");
}

static cairo_status_t append(void *user, const unsigned char *bytes, unsigned size)
{
    return fwrite(bytes, 1, size, user) == size ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

static void pictures(hy_report *report, hy_diag *diag)
{
    cairo_surface_t *page = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1400, 300);
    cairo_t *cr = cairo_create(page);
    waves(cr, 1400, 300);
    cairo_destroy(cr);
    hy_report_surface(report, "Four waves", "A picture of 1400 pixels <as PNG>.", page, diag);
    cairo_surface_destroy(page);
    for (int i = 0; i < 2; i++) { /* two: their ids must not meet */
        char *text = NULL;
        size_t size = 0;
        FILE *memory = open_memstream(&text, &size);
        cairo_surface_t *svg = cairo_svg_surface_create_for_stream(append, memory, 700, 160);
        cr = cairo_create(svg);
        waves(cr, 700, 160);
        cairo_destroy(cr);
        cairo_surface_destroy(svg);
        fclose(memory);
        hy_report_svg(report, "Four waves", "The same as SVG.", text);
        free(text);
    }
}

static void limits(hy_report *report)
{
    hy_report_limits(report, "Every kind of row");
    hy_report_row row = hy_report_row_of("strobe to request", "clocks");
    row.max = 4, row.typ = 1, row.n = 310, row.low = 1, row.mean = 1.24, row.high = 2, row.uncertainty = 0.5;
    row.source = "docs/handshake.md (estimate)";
    row.verdict = hy_report_judge(&row);
    hy_report_limit(report, &row);
    for (int i = 0; i < 40; i++) {
        char name[64];
        snprintf(name, sizeof name, "duration of phoneme 0x%02x", i);
        row = hy_report_row_of(name, "ms");
        row.min = 70 + i, row.typ = 71 + i, row.max = 72 + i, row.n = (uint64_t)(i % 7);
        if (row.n > 0) {
            row.low = 70.6 + i + 0.09 * (i - 20), row.mean = row.low + 0.4, row.high = row.low + 0.7;
            row.uncertainty = 0.042;
        }
        row.source = "the part, as 1/f";
        row.remark =
            i == 39 ? "a long remark with a_long_word_that_nobody_would_break_and_that_goes_on_and_on_and_on" : NULL;
        row.verdict = hy_report_judge(&row);
        hy_report_limit(report, &row);
    }
    row = hy_report_row_of("hum at 50 Hz", "dBFS");
    row.max = -40, row.n = 1, row.mean = -57.3, row.uncertainty = 0.5;
    row.verdict = hy_report_judge(&row);
    hy_report_limit(report, &row);
    row = hy_report_row_of("clock", "Hz");
    row.n = 1, row.mean = 719832.25, row.uncertainty = 42;
    hy_report_limit(report, &row);
    row = hy_report_row_of("far outside", "Hz");
    row.min = 1, row.max = 2, row.n = 2, row.low = -1e9, row.mean = 0, row.high = 1e9;
    row.verdict = hy_report_judge(&row);
    hy_report_limit(report, &row);
    hy_report_limits_end(report);
}

static void faults(hy_report *report)
{
    static const char *const headings[] = {"Fault", "Evidence", "#Likelihood"};
    static const char *const first[] = {"no-noise", "noise sounds are missing in all 14 fricatives", "93 %"};
    static const char *const second[] = {"weak <b>", "& the rest", NULL};
    hy_report_table(report, "Most likely first", headings, 3);
    hy_report_cells_bar(report, first, 0.93);
    hy_report_cells(report, second);
    hy_report_table_end(report);
}

int main(int argc, char **argv)
{
    hy_diag diag = {""};
    if (argc != 2) {
        fprintf(stderr, "usage: sample_report FILE\n");
        return 2;
    }
    char *const words[] = {"timing", "board 7.vcd", "--note", "it's <new>"};
    char *command = hy_report_command(4, words);
    const hy_report_line more[] = {{"Limits", "limits.csv & defaults"}};
    const hy_report_head head = {
        .title = "Handshake timing",
        .item = "board 7.vcd <\"the spare\">",
        .conditions = "24 MHz sampling, 12.4 s, 310 phonemes",
        .clock = "719.832 kHz \u00b1 0.042 kHz, from the clock pin",
        .instrument =
            "a_logic_analyser_with_a_name_that_has_no_place_at_which_a_line_could_be_broken_at_all_whatsoever",
        .part = hyoid_part_default(),
        .command = command,
        .more = more,
        .more_count = 1,
    };
    hy_report *report = hy_report_open(argv[1], &head, &diag);
    free(command);
    if (report == NULL) {
        return hy_refuse(&diag);
    }
    hy_report_verdict(report, HY_FAIL, "18 of 43 rows fail", "Bad bytes: \xff\x01 and a <script>alert(1)</script>.");
    hy_report_verdict(report, HY_PASS, "all rows pass", NULL);
    hy_report_verdict_word(report, HY_INCONCLUSIVE, "not explained", "nothing fits", NULL);
    hy_report_section(report, "Pictures");
    pictures(report, &diag);
    hy_report_section(report, "Limits");
    hy_report_text(report, "A row passes if it is within its limits by at least its uncertainty.");
    limits(report);
    hy_report_section(report, "Faults");
    faults(report);
    hy_report_note(report, "A remark.");
    if (diag.text[0] != '\0' || hy_report_finish(report, &diag) != 0) {
        hy_report_abandon(report);
        return hy_refuse(&diag);
    }
    return hy_report_commit(report, &diag) == 0 ? 0 : hy_refuse(&diag);
}
