/* Tables: limits with bars, and plain ones. On a narrow screen a row becomes a card, whose cells repeat their heading. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report_private.h"

enum { NO_TABLE, LIMITS, PLAIN };

void hy_report_close_table(hy_report *report)
{
    if (report->table != NO_TABLE) {
        fputs("</tbody></table>\n", report->out);
    }
    report->table = NO_TABLE;
    for (size_t i = 0; i < report->columns; i++) {
        free(report->heading[i]);
        report->heading[i] = NULL;
    }
    report->columns = 0;
}

static void open_table(hy_report *report, int kind, const char *caption)
{
    hy_report_close_table(report);
    report->table = kind;
    fprintf(report->out, "<table class=\"%s\">", kind == LIMITS ? "limits" : "plain");
    if (caption != NULL) {
        fputs("<caption>", report->out);
        hy_report_put(report->out, caption);
        fputs("</caption>", report->out);
    }
}

void hy_report_limits(hy_report *report, const char *caption)
{
    if (report == NULL) {
        return;
    }
    open_table(report, LIMITS, caption);
    fputs("<thead><tr><th rowspan=\"2\">Checked</th><th colspan=\"3\" class=\"group\">Limit</th>"
          "<th rowspan=\"2\" class=\"num\">n</th><th colspan=\"3\" class=\"group\">Measured</th>"
          "<th rowspan=\"2\" class=\"num\">\u00b1</th><th rowspan=\"2\" class=\"num\">Margin</th>"
          "<th rowspan=\"2\">Within limits</th><th rowspan=\"2\">Verdict</th></tr>\n"
          "<tr><th class=\"num\">min</th><th class=\"num\">typ</th><th class=\"num\">max</th>"
          "<th class=\"num\">min</th><th class=\"num\">mean</th><th class=\"num\">max</th></tr></thead><tbody>\n",
          report->out);
}

/* The bar's own scale: limits at a fifth and four fifths of its width, so that what lies outside can be seen. */
enum { WIDTH = 136, HEIGHT = 22, LEFT = 28, RIGHT = 108 };

typedef struct scale {
    double at, x, per; /* the value `at` stands at `x`; pixels per unit */
} scale;

static double largest(double a, double b)
{
    return fmax(fabs(a), fabs(b)); /* passes over a NaN */
}

static scale scale_of(const hy_report_row *row)
{
    double known = isnan(row->max) ? row->min : row->max;
    double span = row->max - row->min;
    if (!(span > 0.0) || isinf(span)) { /* one limit: what was measured, or was expected, is half the bar away */
        span = largest(row->mean - known, row->typ - known) * 1.5;
        span = fmax(span, largest(row->low - known, row->high - known));
    }
    if (!(span > 0.0) || isinf(span)) {
        span = fmax(fabs(known) * 0.01, 1e-9);
    }
    return (scale){known, isnan(row->max) ? LEFT : RIGHT, (RIGHT - LEFT) / span};
}

/* Anything, anywhere: kept on the bar. */
static double place(const scale *s, double value)
{
    double x = s->x + (value - s->at) * s->per;
    return x < 3.0 ? 3.0 : x > WIDTH - 3.0 ? WIDTH - 3.0 : x;
}

static void tick(FILE *out, double x, const char *colour, double width, const char *dash)
{
    fprintf(out, "<path d=\"M%.1f 3V19\" stroke=\"%s\" stroke-width=\"%.1f\"%s fill=\"none\"/>", x, colour, width,
            dash);
}

static void span(FILE *out, double from, double to, double height, const char *colour)
{
    fprintf(out, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"%s\"/>", from,
            (HEIGHT - height) / 2, fmax(to - from, 0.1), height, colour);
}

static void bar(FILE *out, const hy_report_row *row)
{
    static const char *const colours[] = {
        [HY_PASS] = "#1d6b3a", [HY_FAIL] = "#a3271c", [HY_INCONCLUSIVE] = "#8a6100"};
    const char *colour = colours[row->verdict];
    double low = isnan(row->low) ? row->mean : row->low;
    double high = isnan(row->high) ? row->mean : row->high;
    if (isnan(row->min) && isnan(row->max)) {
        return;
    }
    const scale s = scale_of(row);
    fprintf(out,
            "<svg class=\"bar\" viewBox=\"0 0 %d %d\" preserveAspectRatio=\"xMinYMid meet\" aria-hidden=\"true\">",
            WIDTH, HEIGHT);
    span(out, 0, WIDTH, 12, "#eef0f0");
    span(out, isnan(row->min) ? 0 : place(&s, row->min), isnan(row->max) ? WIDTH : place(&s, row->max), 12,
         "#cfe3d6");
    if (!isnan(row->min)) {
        tick(out, place(&s, row->min), "#3f5a49", 1.5, "");
    }
    if (!isnan(row->max)) {
        tick(out, place(&s, row->max), "#3f5a49", 1.5, "");
    }
    if (!isnan(row->typ)) {
        tick(out, place(&s, row->typ), "#3f5a49", 1.0, " stroke-dasharray=\"2 2\"");
    }
    if (!isnan(low) && !isnan(high)) {
        if (row->uncertainty > 0.0) {
            span(out, place(&s, low - row->uncertainty), place(&s, high + row->uncertainty), 1.5, colour);
        }
        span(out, place(&s, low), place(&s, high), 5, colour);
        double x = place(&s, isnan(row->mean) ? (low + high) / 2 : row->mean);
        fprintf(out, "<path d=\"M%.1f 6l4 5l-4 5l-4-5z\" fill=\"%s\" stroke=\"#fff\" stroke-width=\".8\"/>", x,
                colour);
    }
    fputs("</svg>", out);
}

static void figure(FILE *out, const char *label, const char *text)
{
    fprintf(out, "<td class=\"num\" data-label=\"%s\">", label);
    hy_report_put(out, text);
    fputs("</td>", out);
}

/* As whoever set it wrote it down. */
static void limit(FILE *out, const char *label, double value)
{
    double size = fabs(value);
    hy_report_figure text = hy_report_number(value, 1.0);
    if (isfinite(value) && (size < 1e5 || size >= 1e9)) {
        snprintf(text.text, sizeof text.text, "%s%.6g", value < 0.0 ? "\u2212" : "", size);
    }
    figure(out, label, text.text);
}

static int whole(double value)
{
    return isnan(value) || value == floor(value);
}

static int all_whole(const hy_report_row *row)
{
    return whole(row->low) && whole(row->mean) && whole(row->high);
}

/* What the last decimal of the measured figures is to show: a tenth of their uncertainty, and four digits at most. */
static double resolution_of(const hy_report_row *row)
{
    if (all_whole(row)) {
        return 1.0;
    }
    double size = fmax(largest(row->low, row->high), fabs(row->mean));
    double from_doubt = row->uncertainty > 0.0 && isfinite(row->uncertainty) ? row->uncertainty / 10 : 0.0;
    return fmax(fmax(size * 1e-4, from_doubt), 1e-9);
}

static void measured(FILE *out, const char *label, double value, double resolution)
{
    figure(out, label, hy_report_number(value, resolution).text);
}

void hy_report_limit(hy_report *report, const hy_report_row *row)
{
    if (report == NULL) {
        return;
    }
    FILE *out = report->out;
    const double resolution = resolution_of(row);
    const double margin = hy_report_margin(row);
    const char *class = hy_report_class(row->verdict);
    fprintf(out, "<tr class=\"%s\"><td class=\"wide\">", class);
    hy_report_put(out, row->name);
    if (row->unit != NULL) {
        fputs(", ", out);
        hy_report_put(out, row->unit);
    }
    const char *const small[] = {row->source, row->remark};
    for (size_t i = 0; i < 2; i++) {
        if (small[i] != NULL) {
            fputs("<small>", out);
            hy_report_put(out, small[i]);
            fputs("</small>", out);
        }
    }
    fputs("</td>", out);
    limit(out, "limit min", row->min);
    limit(out, "typ", row->typ);
    limit(out, "limit max", row->max);
    char count[24];
    snprintf(count, sizeof count, "%llu", (unsigned long long)row->n);
    figure(out, "n", count);
    measured(out, "measured min", row->low, resolution);
    measured(out, "mean", row->mean, resolution);
    measured(out, "measured max", row->high, resolution);
    measured(out, "\u00b1", row->uncertainty, row->uncertainty > 0.0 ? row->uncertainty / 10 : 1.0);
    if (all_whole(row)) { /* then its decimals are the limit's */
        limit(out, "margin", margin);
    } else {
        measured(out, "margin", margin, whole(margin) ? 1.0 : resolution);
    }
    fputs("<td class=\"bars\" data-label=\"within limits\">", out);
    bar(out, row);
    fprintf(out, "</td><td data-label=\"verdict\"><span class=\"word %s\">%s</span></td></tr>\n", class,
            hy_verdict_text(row->verdict));
}

void hy_report_limits_end(hy_report *report)
{
    if (report != NULL) {
        hy_report_close_table(report);
    }
}

void hy_report_table(hy_report *report, const char *caption, const char *const *headings, size_t columns)
{
    if (report == NULL) {
        return;
    }
    open_table(report, PLAIN, caption);
    report->columns = columns < HY_REPORT_COLUMNS ? columns : HY_REPORT_COLUMNS;
    fputs("<thead><tr>", report->out);
    for (size_t i = 0; i < report->columns; i++) {
        report->number[i] = headings[i][0] == '#';
        report->heading[i] = strdup(headings[i] + report->number[i]); /* null: a card without a heading */
        fputs(report->number[i] ? "<th class=\"num\">" : "<th>", report->out);
        hy_report_put(report->out, report->heading[i]);
        fputs("</th>", report->out);
    }
    fputs("</tr></thead><tbody>\n", report->out);
}

static void cells(hy_report *report, const char *const *texts, double share)
{
    if (report == NULL || report->table != PLAIN) {
        return;
    }
    FILE *out = report->out;
    fputs("<tr>", out);
    for (size_t i = 0; i < report->columns; i++) {
        fprintf(out, "<td%s data-label=\"", report->number[i] ? " class=\"num\"" : "");
        hy_report_put(out, report->heading[i]);
        fputs("\"><span>", out);
        if (i + 1 == report->columns && !isnan(share)) {
            double width = share < 0.0 ? 0.0 : share > 1.0 ? 1.0 : share;
            fputs("<svg class=\"share\" viewBox=\"0 0 100 6\" preserveAspectRatio=\"none\" aria-hidden=\"true\">"
                  "<rect width=\"100\" height=\"6\" fill=\"#e4e8e8\"/>",
                  out);
            fprintf(out, "<rect width=\"%.1f\" height=\"6\" fill=\"#2f5d7c\"/></svg>", 100.0 * width);
        }
        hy_report_put(out, texts[i]);
        fputs("</span></td>", out);
    }
    fputs("</tr>\n", out);
}

void hy_report_cells(hy_report *report, const char *const *texts)
{
    cells(report, texts, NAN);
}

void hy_report_cells_bar(hy_report *report, const char *const *texts, double share)
{
    cells(report, texts, isnan(share) ? 0.0 : share);
}

void hy_report_table_end(hy_report *report)
{
    if (report != NULL) {
        hy_report_close_table(report);
    }
}
