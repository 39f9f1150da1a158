/* The page: one small picture for each code (recording, before, after), then the figures. */
#include <cairo.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "outcome.h"
#include "partdiff.h"
#include "report/report.h"
#include "score.h"

enum { COLUMNS = 8, CELL_W = 150, CELL_H = 104, TOP = 40 };
static const double RANGE_DB = 60;

static double x_of(int band)
{
    return 6 + (CELL_W - 12) * (double)band / (HY_TICK_BANDS - 1);
}

static double y_of(double db, double top)
{
    double y = (top - db) / RANGE_DB;
    return 18 + (CELL_H - 24) * (y < 0 ? 0 : y > 1 ? 1 : y);
}

static void curve(cairo_t *cr, const float *db, double top, double width)
{
    cairo_new_path(cr);
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        cairo_line_to(cr, x_of(b), y_of((double)db[b], top));
    }
    cairo_set_line_width(cr, width);
    cairo_stroke(cr);
}

static void cell(cairo_t *cr, const hy_outcome *o, unsigned code, const hyoid_part *before)
{
    hy_calibration *s = o->session;
    float recorded[HY_TICK_BANDS], was[HY_TICK_BANDS], now[HY_TICK_BANDS];
    char title[48];
    snprintf(title, sizeof title, "%02x %s", code, hy_symbols[code].symbol);
    cairo_set_source_rgb(cr, 0.97, 0.97, 0.96);
    cairo_rectangle(cr, 2, 2, CELL_W - 4, CELL_H - 4);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 0.15, 0.15, 0.15);
    cairo_set_font_size(cr, 11);
    cairo_move_to(cr, 6, 14);
    cairo_show_text(cr, title);
    if (hy_fit_spectra(s->fit, before, code, recorded, was) != 0) {
        cairo_set_source_rgb(cr, 0.5, 0.5, 0.5);
        cairo_move_to(cr, 6, 0.5 * CELL_H);
        cairo_show_text(cr, "not said");
        return;
    }
    hy_fit_spectra(s->fit, &s->part, code, recorded, now);
    double top = -200;
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        top = fmax(top, fmax((double)recorded[b], (double)now[b]));
    }
    top += 3;
    cairo_set_source_rgb(cr, 0.72, 0.72, 0.70);
    curve(cr, recorded, top, 4);
    const double dash[] = {3, 2};
    cairo_set_dash(cr, dash, 2, 0);
    cairo_set_source_rgb(cr, 0.75, 0.45, 0.10);
    curve(cr, was, top, 1);
    cairo_set_dash(cr, NULL, 0, 0);
    cairo_set_source_rgb(cr, 0.05, 0.30, 0.55);
    curve(cr, now, top, 1.4);
}

static cairo_surface_t *draw(const hy_outcome *o, const hyoid_part *before)
{
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, COLUMNS * CELL_W, TOP + HYOID_PHONEMES / COLUMNS * CELL_H);
    cairo_t *cr = cairo_create(surface);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    cairo_select_font_face(cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
    static const struct {
        const char *text;
        double r, g, b, width;
        int dashed;
    } keys[] = {{"recording", 0.72, 0.72, 0.70, 4, 0},
                {"before", 0.75, 0.45, 0.10, 1, 1},
                {"after", 0.05, 0.30, 0.55, 1.4, 0}};
    double x = 8;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        const double dash[] = {3, 2};
        cairo_set_dash(cr, dash, keys[i].dashed ? 2 : 0, 0);
        cairo_set_source_rgb(cr, keys[i].r, keys[i].g, keys[i].b);
        cairo_set_line_width(cr, keys[i].width);
        cairo_move_to(cr, x, 20);
        cairo_line_to(cr, x + 30, 20);
        cairo_stroke(cr);
        cairo_set_dash(cr, NULL, 0, 0);
        cairo_set_source_rgb(cr, 0.15, 0.15, 0.15);
        cairo_set_font_size(cr, 12);
        cairo_move_to(cr, x + 36, 24);
        cairo_show_text(cr, keys[i].text);
        x += 130;
    }
    cairo_move_to(cr, x, 24);
    cairo_show_text(
        cr, "mean spectrum of each code, 60 dB from top to bottom; bands even to 1.5 kHz, then by ratio to 9 kHz");
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        const unsigned row = c / COLUMNS;
        cairo_save(cr);
        cairo_translate(cr, (double)(c % COLUMNS * CELL_W), TOP + (double)row * CELL_H);
        cell(cr, o, c, before);
        cairo_restore(cr);
    }
    cairo_destroy(cr);
    return surface;
}

/* What the new part says otherwise than the one before. The glottal pulse is one thing, not a hundred numbers. */
static int changes_table(hy_report *report, const hy_outcome *o, hy_diag *diag)
{
    static const char *const headings[] = {"Number",  "#Before", "#After", "As it sounds",
                                           "#Before", "#After",  "Known"};
    hy_diff diff;
    if (hy_diff_make(&diff, o->prior, "before", o->found, "after", diag) != 0) {
        return -1;
    }
    size_t pulse = 0;
    hy_report_table(report, "Every number that is another than in the part before; sounds at the nominal clock",
                    headings, 7);
    for (size_t i = 0; i < diff.count; i++) {
        const hy_difference *d = &diff.difference[i];
        if (strncmp(d->name, "pulse[", 6) == 0) {
            pulse++;
            continue;
        }
        const hy_sense_text before = hy_sense_say(&d->sense[0]), after = hy_sense_say(&d->sense[1]);
        const char *cells[7] = {d->name,
                                d->known[0] != NULL ? d->known[0]->value : "-",
                                d->known[1] != NULL ? d->known[1]->value : "-",
                                d->sense[1].what,
                                before.text,
                                after.text,
                                d->known[1] != NULL ? d->known[1]->confidence : "-"};
        hy_report_cells(report, cells);
    }
    hy_report_table_end(report);
    if (pulse > 0) {
        char text[80];
        snprintf(text, sizeof text, "Besides, %zu steps of the glottal pulse are others.", pulse);
        hy_report_note(report, text);
    }
    hy_diff_free(&diff);
    return 0;
}

static void codes_table(hy_report *report, const hy_outcome *o)
{
    static const char *const headings[] = {"Code",        "Symbol",     "#Said",     "#Duration, ms",
                                           "#Before, dB", "#After, dB", "#Measured", "Kept: not told"};
    double ms = o->session->part.nominal_hz / o->session->part.filter_clocks / 1000;
    hy_report_table(
        report,
        "Log-spectral distance of each code's mean spectra; numbers measured, and numbers that the recordings do not "
        "tell (they keep the prior's value and say so in the part)",
        headings, 8);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        hy_outcome_code of = hy_outcome_of(o, c);
        char code[8], items[16], measured[16];
        snprintf(code, sizeof code, "0x%02x", c);
        snprintf(items, sizeof items, "%zu", of.items);
        snprintf(measured, sizeof measured, "%u", of.measured);
        hy_report_figure duration = hy_report_number(o->session->part.phoneme[c].duration / ms, 0.1);
        hy_report_figure before = hy_report_number(of.before_db >= 0 ? of.before_db : NAN, 0.01);
        hy_report_figure after = hy_report_number(of.after_db >= 0 ? of.after_db : NAN, 0.01);
        const char *cells[] = {code,        hy_symbols[c].symbol, items,    duration.text,
                               before.text, after.text,           measured, of.kept_names};
        hy_report_cells(report, cells);
    }
    hy_report_table_end(report);
}

hy_report *hy_outcome_report(const hy_outcome *o, const char *path, hy_diag *diag)
{
    hy_calibration *s = o->session;
    char conditions[200], clock[160], verdict[640], *command = hy_report_command(o->argc, o->argv);
    snprintf(conditions, sizeof conditions, "%zu recording%s, %zu phonemes fitted, %zu held out", s->take_count,
             s->take_count == 1 ? "" : "s", s->fitted, s->held);
    snprintf(clock, sizeof clock, "%.1f Hz (first recording)", s->takes[0].clock_hz);
    char hash[20];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(&s->part));
    const hy_report_line more[] = {{"New part", o->folder}, {"Its fingerprint", hash}};
    hy_report_head head = {.title = "Calibration",
                           .item = s->takes[0].recording->name,
                           .conditions = conditions,
                           .clock = clock,
                           .instrument = "sound recording",
                           .part = s->prior,
                           .part_name = o->part_name,
                           .command = command,
                           .more = more,
                           .more_count = 2};
    hy_report *report = hy_report_open(path, &head, diag);
    free(command);
    if (report == NULL) {
        return NULL;
    }
    if (s->held_after_db < 0) {
        snprintf(verdict, sizeof verdict,
                 "no phonemes could be held out: frames differ by %.2f dB before, %.2f dB after", s->before_db,
                 s->after_db);
    } else {
        snprintf(verdict, sizeof verdict, "held-out log-spectral distance %.2f dB before, %.2f dB after%s%s",
                 s->held_before_db, s->held_after_db,
                 s->prior_stands         ? ": the part before stands, but for durations and pitch"
                 : s->doubted[0] != '\0' ? ". Not borne out and kept as they were: "
                                         : "",
                 s->prior_stands ? "" : s->doubted);
    }
    int better = !s->prior_stands &&
                 (s->held_after_db < 0 ? s->after_db < s->before_db : s->held_after_db < s->held_before_db);
    hy_report_verdict_word(
        report, better ? HY_PASS : HY_INCONCLUSIVE, better ? "fitted" : "not better", verdict,
        "The held-out phonemes were not used for the fit; what is left is partly chance: noise and the place of "
        "the pitch pulses differ from one utterance to the next.");
    hyoid_part before = *s->prior;
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        before.phoneme[c].duration = s->part.phoneme[c].duration;
    }
    if (s->pins != NULL) {
        hy_report_note(report, hy_pins_say(s->pins).text);
    }
    hy_report_section(report, "Before, after, recording");
    cairo_surface_t *picture = draw(o, &before);
    int status =
        hy_report_surface(report, "Mean spectrum of each of the 64 codes: recording, before and after",
                          "Grey: the recording. Dashed: the part before. Blue: the calibrated part.", picture, diag);
    cairo_surface_destroy(picture);
    hy_report_section(report, "What changed");
    status = status == 0 ? changes_table(report, o, diag) : -1;
    hy_report_section(report, "Phonemes");
    codes_table(report, o);
    hy_report_cautions(report);
    if (status != 0 || hy_report_finish(report, diag) != 0) {
        hy_report_abandon(report);
        return NULL;
    }
    return report;
}
