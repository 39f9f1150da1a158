/* A test report: one HTML page that needs nothing else, for people who have to show what was measured.
 *
 * The page has no script and loads nothing (its own policy forbids it); it prints on A4 and reads on a phone. Text that is
 * handed in is escaped; bytes that are no UTF-8, and control characters, become U+FFFD. The page is streamed: it is written
 * in the order of the calls and memory does not grow with it. No date, no locale: the same calls give the same bytes.
 *
 *     hy_report_head head = {
 *         .title = "Handshake timing",
 *         .item = "board.vcd",
 *         .conditions = "24 MHz sampling, 12.4 s, 310 phonemes",
 *         .clock = "719.83 kHz \u00b1 0.04 kHz, from the clock pin",
 *         .instrument = "logic analyser capture (VCD)",
 *         .part = part, .part_name = NULL,
 *         .command = command,                              // hy_report_command(argc, argv)
 *     };
 *     hy_report *report = hy_report_open(path, &head, &diag);
 *     hy_report_verdict(report, HY_FAIL, "2 of 71 rows fail", "Phoneme durations are 4 % short.");
 *     hy_report_section(report, "Pictures");               // pictures are what people look at first
 *     hy_report_surface(report, "Spectrograms", "Above the part, below the model.", cairo_surface);
 *     hy_report_section(report, "Limits");
 *     hy_report_limits(report, "Handshake");
 *     hy_report_row row = hy_report_row_of("strobe to request", "clocks");
 *     row.max = 4, row.n = 310, row.low = 1, row.mean = 1.2, row.high = 2, row.uncertainty = 0.5;
 *     row.verdict = hy_report_judge(&row);
 *     hy_report_limit(report, &row);
 *     hy_report_limits_end(report);
 *     hy_report_note(report, "Limits are estimates: see docs/handshake.md.");
 *     hy_report_cautions(report);
 *     if (hy_report_finish(report, &diag) == 0) hy_report_commit(report, &diag); else hy_report_abandon(report);
 *
 * Errors of writing are kept until hy_report_finish. A null report is allowed everywhere and does nothing, so that a verb
 * needs no `if` around what only a report shows. */
#ifndef HY_REPORT_H
#define HY_REPORT_H

#include <cairo.h>
#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

#include "diag.h"
#include "outfile.h"

typedef struct hy_report hy_report;

typedef enum hy_verdict { HY_PASS, HY_FAIL, HY_INCONCLUSIVE } hy_verdict;

/* "pass", "fail" or "inconclusive"; static storage. */
const char *hy_verdict_text(hy_verdict verdict);

/* One more line of the header. */
typedef struct hy_report_line {
    const char *name, *value;
} hy_report_line;

/* What an electronics test report says at its top. Null strings leave their line out, except the title. Nothing is kept after
 * hy_report_open returns. The model's version, the part's fingerprint, and, where the part is the built-in one, the
 * statement that it is an estimate are added by themselves. */
typedef struct hy_report_head {
    const char *title;
    const char *item;           /* what was tested: file, or the user's own words */
    const char *conditions;     /* length, sampling, what was played */
    const char *clock;          /* as measured, with its uncertainty and how it was found */
    const char *instrument;     /* what recorded or captured it */
    const hyoid_part *part;     /* what it was held against; null: no part was needed */
    const char *part_name;      /* its folder; null: built-in */
    const char *command;        /* see hy_report_command */
    const char *date;           /* only what the user gave: a report is the same whenever it is made */
    const hy_report_line *more; /* further lines, after the conditions; may be null */
    size_t more_count;
} hy_report_head;

/* "hyoid VERB ...", quoted as a shell would want it. argv[0] is the verb. The caller frees it; null if memory is out. */
char *hy_report_command(int argc, char *const *argv);

/* Opens a temporary file beside the destination and writes the header. Null on error. */
hy_report *hy_report_open(const char *path, const hy_report_head *head, hy_diag *diag);

/* The banner: the verdict as a word and a colour, one line, and (may be null) a sentence or two. `word` replaces
 * pass, fail or inconclusive where the verb has better ones ("healthy"). */
void hy_report_verdict(hy_report *report, hy_verdict verdict, const char *text, const char *detail);
void hy_report_verdict_word(hy_report *report, hy_verdict verdict, const char *word, const char *text,
                            const char *detail);

/* Begins a section; the one before ends. */
void hy_report_section(hy_report *report, const char *title);
/* A paragraph. */
void hy_report_text(hy_report *report, const char *text);
/* A remark, set apart. */
void hy_report_note(hy_report *report, const char *text);

/* Pictures. `alt` says what is to be seen there, for those who can't see it; `caption` (may be null) stands below. On a
 * narrow screen a wide picture keeps a readable size and scrolls within its frame. */

/* Markup from `<svg` on (what stands ahead of it is dropped), by the caller, well-formed and with a viewBox: it is not escaped. Its ids are made unique within
 * the page, so that several pictures by cairo can stand on one. Nothing is drawn if there is no <svg> in it. */
void hy_report_svg(hy_report *report, const char *alt, const char *caption, const char *svg);
void hy_report_png(hy_report *report, const char *alt, const char *caption, const unsigned char *bytes, size_t size);
/* A cairo surface, as PNG. -1 with the diagnosis if cairo can't write it. */
int hy_report_surface(hy_report *report, const char *alt, const char *caption, cairo_surface_t *surface,
                      hy_diag *diag);

/* The table of limits: one row for each thing that was judged, with a bar that shows where it lies between its limits. */
typedef struct hy_report_row {
    const char *name;
    const char *unit;       /* of all figures of the row; may be null */
    double min, typ, max;   /* limits; NaN: there is none */
    uint64_t n;             /* how many were measured */
    double low, mean, high; /* what was measured; NaN: nothing was */
    double uncertainty;     /* of a single measurement, +-; NaN: not known */
    hy_verdict verdict;
    const char *source; /* of the limit; may be null */
    const char *remark; /* may be null */
} hy_report_row;

/* A row with all figures NaN, n 0, verdict inconclusive. */
hy_report_row hy_report_row_of(const char *name, const char *unit);

/* Distance of what was measured from the nearer limit, in the row's unit, the uncertainty not taken off; negative: outside
 * it. NaN if there is no limit or no measurement. */
double hy_report_margin(const hy_report_row *row);

/* Pass if every measurement is within the limits by at least its uncertainty, fail if one is outside by more than that;
 * otherwise, or if nothing was measured, inconclusive. */
hy_verdict hy_report_judge(const hy_report_row *row);

void hy_report_limits(hy_report *report, const char *caption);
void hy_report_limit(hy_report *report, const hy_report_row *row);
void hy_report_limits_end(hy_report *report);

/* A plain table. A heading that begins with '#' marks a column of numbers, which is set flush right. Up to 16 columns. */
void hy_report_table(hy_report *report, const char *caption, const char *const *headings, size_t columns);
/* As many cells as there are columns; null: an empty one. */
void hy_report_cells(hy_report *report, const char *const *texts);
/* The same with a share of 0..1 drawn as a bar in the last cell, ahead of its text. */
void hy_report_cells_bar(hy_report *report, const char *const *texts, double share);
void hy_report_table_end(hy_report *report);

/* A number with as many decimals as `resolution` calls for (0.05: two), at most nine; NaN is a dash. */
typedef struct hy_report_figure {
    char text[40];
} hy_report_figure;
hy_report_figure hy_report_number(double value, double resolution);

/* What has to be said to whoever works on such a machine: mains, picture tube, static, isolation, supplies, law. Stands on
 * every report, once; hy_report_finish adds it if it was not asked for. */
void hy_report_cautions(hy_report *report);

/* As for hy_outfile: finish (all bytes are on disk), then commit (rename; frees) or abandon (remove; frees). */
int hy_report_finish(hy_report *report, hy_diag *diag);
int hy_report_commit(hy_report *report, hy_diag *diag);
void hy_report_abandon(hy_report *report);

/* The end of a verb with several outputs, all finished: gives each its place, or, if `failed` or as soon as one can't have its own,
 * abandons those that have none. Any may be null. 0, or -1. */
int hy_report_commit_all(hy_report *report, hy_outfile *const *files, size_t count, int failed, hy_diag *diag);

#endif
