/* The diagnosis as a report: what was heard, what a healthy chip gives, what the fault gives, one above the other. */
#include <cairo.h>
#include <math.h>
#include <string.h>

#include "picture_private.h"
#include "report/report.h"
#include "show.h"

enum { WIDTH = 1180, LEFT = 150, PANEL = 150, GAP = 26, TOP = 12, STRIPS = 3 };
#define RANGE_DB 60.0

/* Energies as colours: white is silence, dark is loud. */
static void put_column(cairo_t *cr, double x, double y, double width, const float *energy, double loud,
                       const unsigned char *usable)
{
    const double height = (double)PANEL / HY_BANDS;
    for (int b = 0; b < HY_BANDS; b++) {
        double db = 10.0 * log10(((double)energy[b] + 1e-20) / (loud + 1e-20)) + RANGE_DB - 15.0;
        double dark = db < 0.0 ? 0.0 : db > RANGE_DB ? 1.0 : db / RANGE_DB;
        cairo_set_source_rgb(cr, 1.0 - 0.92 * dark, 1.0 - 0.75 * dark * dark, 1.0 - 0.6 * dark * dark * dark);
        if (!usable[b]) {
            cairo_set_source_rgb(cr, 0.93, 0.93, 0.93);
        }
        cairo_rectangle(cr, x, y + PANEL - (b + 1) * height, width + 0.5, height + 0.5);
        cairo_fill(cr);
    }
}

static void draw_heard(cairo_t *cr, const hy_case *c, double y)
{
    const double per = c->heard->seconds / (WIDTH - LEFT);
    for (int x = 0; x < WIDTH - LEFT; x++) {
        float energy[HY_BANDS] = {0};
        hy_heard_energy(c->heard, x * per, (x + 1) * per, energy);
        put_column(cr, LEFT + x, y, 1.0, energy, c->heard->loud, c->diagnosis->usable);
    }
}

static void draw_reference(cairo_t *cr, const hy_case *c, const hy_candidate *k, double y)
{
    const hy_reference *r = k->reference;
    const double scale = (WIDTH - LEFT) / c->heard->seconds;
    const double loud = r->loud > 0.0 ? c->heard->loud : 1.0;
    for (size_t i = 0; i < r->segments; i++) {
        const hy_segment *s = &r->segment[i];
        double from = hy_fit_time(&k->fit, s), length = hy_fit_time(&k->fit, s + 1) - from;
        for (uint32_t n = 0; n < s->slices; n++) {
            double x0 = (from + length * n / s->slices) * scale, x1 = (from + length * (n + 1) / s->slices) * scale;
            float energy[HY_BANDS];
            for (int b = 0; b < HY_BANDS; b++) {
                energy[b] = r->energy[(size_t)(s->first + n) * HY_BANDS + (size_t)b] *
                            (float)pow(10.0, k->fit.gain_db / 10.0);
            }
            if (x1 > 0.0 && x0 < WIDTH - LEFT) {
                x0 = x0 < 0.0 ? 0.0 : x0;
                x1 = x1 > WIDTH - LEFT ? WIDTH - LEFT : x1;
                put_column(cr, LEFT + x0, y, x1 - x0, energy, loud, c->diagnosis->usable);
            }
        }
    }
}

static void label(cairo_t *cr, double y, const char *name, const char *below)
{
    hy_text(cr, LEFT - 12, y + PANEL / 2.0 - 4, 1, HY_STRONG, 1, HY_INK, name);
    hy_text(cr, LEFT - 12, y + PANEL / 2.0 + 14, 1, HY_SMALL, 0, HY_SOFT, below);
    hy_set_colour(cr, HY_RULE, 1);
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, LEFT - 0.5, y - 0.5, WIDTH - LEFT, PANEL + 1);
    cairo_stroke(cr);
}

static void axis(cairo_t *cr, const hy_case *c, double y)
{
    double step = hy_nice_step(c->heard->seconds, 12);
    for (double t = 0.0; t <= c->heard->seconds; t += step) {
        double x = LEFT + t / c->heard->seconds * (WIDTH - LEFT);
        char text[24];
        snprintf(text, sizeof text, "%.3g s", t);
        hy_text(cr, x, y + 16, t == 0.0 ? 0 : x > WIDTH - 20 ? 1 : 0.5, HY_SMALL, 0, HY_SOFT, text);
    }
}

static int put_picture(hy_report *report, const hy_case *c, hy_diag *diag)
{
    const hy_diagnosis *d = c->diagnosis;
    const int panels = d->finding == HY_IS_HEALTHY ? 2 : STRIPS;
    const int height = TOP + panels * (PANEL + GAP) + 8;
    cairo_surface_t *page = cairo_image_surface_create(CAIRO_FORMAT_RGB24, WIDTH, height);
    cairo_t *cr = cairo_create(page);
    hy_set_colour(cr, 0xffffff, 1);
    cairo_paint(cr);
    draw_heard(cr, c, TOP);
    label(cr, TOP, "recording", "100 Hz to 10 kHz");
    draw_reference(cr, c, &d->candidate[d->healthy], TOP + PANEL + GAP);
    label(cr, TOP + PANEL + GAP, "a healthy chip", "model");
    if (panels == STRIPS) {
        draw_reference(cr, c, &d->candidate[0], TOP + 2 * (PANEL + GAP));
        label(cr, TOP + 2 * (PANEL + GAP), hy_fault_name(d->candidate[0].reference->is.fault), "model");
    }
    axis(cr, c, TOP + (panels - 1) * (PANEL + GAP) + PANEL);
    cairo_destroy(cr);
    int result = hy_report_surface(
        report, "Band levels over time of the recording, of a healthy chip and of the fault that comes first",
        "Levels in 32 bands over time; dark is loud. Grey bands are not carried by the recording and were "
        "not judged.",
        page, diag);
    cairo_surface_destroy(page);
    return result;
}

static void put_ranking(hy_report *report, const hy_case *c)
{
    static const char *const headings[] = {
        "Fault", "What it is", "Evidence", "#Level difference, dB", "#Pitch difference, semitones", "Share"};
    const hy_diagnosis *d = c->diagnosis;
    const int explained = d->finding != HY_NOT_EXPLAINED;
    hy_report_table(report, explained ? "Most likely first" : "Nearest in level first, none near enough", headings,
                    6);
    for (size_t i = 0; i < hy_case_shown(c, 10); i++) {
        const hy_candidate *k = &d->candidate[i];
        hy_evidence evidence;
        char all[1100] = "", share[16], name[48];
        hy_evidence_find(&evidence, d, k, c->heard);
        for (size_t e = 0; e < evidence.lines; e++) {
            size_t used = strlen(all);
            snprintf(all + used, sizeof all - used, "%s%s", e > 0 ? "; " : "", evidence.line[e]);
        }
        snprintf(share, sizeof share, explained ? "%.1f %%" : "none", 100.0 * k->probability);
        const int fault = k->reference->is.fault;
        const int strength = fault != HY_HEALTHY && hyoid_fault_describe((hyoid_fault)fault)->graded;
        snprintf(name, sizeof name, strength ? "%s, about %.2f" : "%s", hy_fault_name(fault),
                 k->reference->is.strength);
        const hy_report_figure level = hy_report_number(k->fit.spectrum_db, 0.01);
        const hy_report_figure pitch = hy_report_number(k->fit.pitch, 0.01);
        const char *const cells[] = {name, hy_fault_what(fault), all, level.text, pitch.text, share};
        hy_report_cells_bar(report, cells, k->probability);
    }
    hy_report_table_end(report);
}

hy_report *hy_case_report(const hy_case *c, const char *path, hy_diag *diag)
{
    const hy_diagnosis *d = c->diagnosis;
    const hy_fit *fit = &d->candidate[0].fit;
    char conditions[200], instrument[320], level[120];
    snprintf(conditions, sizeof conditions, "%.1f s, sounds %.0f dB above the floor, %.0f to %.0f Hz judged%s",
             c->heard->seconds, fmax(c->heard->snr_db, 0.0), d->low_hz, d->high_hz,
             c->heard->hum.nominal_hz > 0.0 ? ", mains hum taken out" : "");
    snprintf(instrument, sizeof instrument, "sound recording, %.0f samples/s, channel %d of %d", c->recording->rate,
             c->recording->channel, c->recording->channels);
    if (!hy_case_placed(c)) {
        snprintf(level, sizeof level, "not known");
    } else {
        snprintf(level, sizeof level, "%+.1f dB against the model's pin, %s", fit->gain_db,
                 c->gain_known ? "calibrated" : "not calibrated");
    }
    const hy_verdict_line clock = hy_case_clock(c);
    const hy_report_line more[] = {{"Recording", c->recording->name}, {"Input", c->input}, {"Level", level}};
    const hy_report_head head = {.title = "Diagnosis by sound",
                                 .item = c->item != NULL ? c->item : c->recording->name,
                                 .conditions = conditions,
                                 .clock = clock.text,
                                 .instrument = instrument,
                                 .part = c->part,
                                 .part_name = c->part_name,
                                 .command = c->command,
                                 .date = c->date,
                                 .more = more,
                                 .more_count = 3};
    hy_report *report = hy_report_open(path, &head, diag);
    if (report == NULL) {
        return NULL;
    }
    const hy_verdict_line limits = hy_case_limits(c);
    hy_report_verdict_word(report,
                           d->finding == HY_IS_HEALTHY  ? HY_PASS
                           : d->finding == HY_IS_FAULTY ? HY_FAIL
                                                        : HY_INCONCLUSIVE,
                           d->finding == HY_IS_HEALTHY  ? "healthy"
                           : d->finding == HY_IS_FAULTY ? "faulty"
                                                        : "not explained",
                           hy_case_verdict(c).text, limits.text[0] != '\0' ? limits.text : NULL);
    const hy_verdict_line next = hy_case_next(c);
    if (next.text[0] != '\0') {
        hy_report_note(report, next.text);
    }
    hy_report_section(report, "What was heard");
    int result = put_picture(report, c, diag);
    hy_report_section(report, "Ranking");
    put_ranking(report, c);
    hy_report_note(
        report,
        "Shares compare the faults of the list, one at a time; two faults at once, or one that is not in the list, "
        "are not among them. A fault of the board (supply, amplifier, wires) can sound like one of the chip: "
        "measure before you replace.");
    if (result != 0 || hy_report_finish(report, diag) != 0) {
        hy_report_abandon(report);
        return NULL;
    }
    return report;
}
