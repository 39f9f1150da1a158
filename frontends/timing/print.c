/* The result as text. */
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "score.h"
#include "timing.h"

static void add(hy_timing_line *line, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(hy_timing_line *line, const char *format, ...)
{
    size_t used = strlen(line->text);
    va_list args;
    va_start(args, format);
    vsnprintf(line->text + used, sizeof line->text - used, format, args);
    va_end(args);
}

static const char *time_text(double ps, char *text, size_t size)
{
    const char *unit = ps < 1e3 ? "ps" : ps < 1e6 ? "ns" : ps < 1e9 ? "us" : "ms";
    double scale = ps < 1e3 ? 1.0 : ps < 1e6 ? 1e-3 : ps < 1e9 ? 1e-6 : 1e-9;
    snprintf(text, size, "%.3g %s", ps * scale, unit);
    return text;
}

hy_timing_line hy_timing_summary(const hy_timing *t)
{
    hy_timing_line line = {""};
    hy_verdict verdict = hy_timing_verdict(t);
    unsigned judged = t->passed + t->failed + t->inconclusive;
    if (judged == 0 || (t->strobes == 0 && verdict != HY_FAIL)) {
        add(&line, "INCONCLUSIVE: nothing could be judged");
        return line;
    }
    if (verdict == HY_FAIL) {
        add(&line, "FAIL: %u of %u rows fail%s", t->failed, judged, t->failed == 1 ? "s" : "");
        if (t->failed_host == t->failed) {
            add(&line, " (the host's doing, not the part's)");
        } else if (t->failed_host > 0) {
            add(&line, " (%u of them the host's doing)", t->failed_host);
        }
        add(&line, "%s", t->inconclusive > 0 ? "" : ", the others pass");
    } else if (verdict == HY_PASS) {
        add(&line, "PASS: all %u rows pass", judged);
    } else {
        add(&line, "INCONCLUSIVE: none of %u rows fails, %u pass", judged, t->passed);
    }
    if (t->inconclusive > 0) {
        add(&line, ", %u can't be told from this capture", t->inconclusive);
    }
    return line;
}

hy_timing_line hy_timing_clock(const hy_timing *t)
{
    hy_timing_line line = {""};
    if (t->clock_by == HY_CLOCK_UNKNOWN) {
        add(&line, "not found");
        return line;
    }
    double doubt = t->clock_hz * t->clock_doubt;
    double resolution = doubt > 1e-3 ? doubt : 1e-3;
    hy_report_figure mean = hy_report_number(t->clock_hz * 1e-3, resolution * 1e-3);
    add(&line, "%s kHz", mean.text);
    if (t->clock_moved) {
        add(&line, " on average (%.6g..%.6g kHz)", t->clock_least * 1e-3, t->clock_most * 1e-3);
    } else if (t->clock_doubt > 1e-8) {
        add(&line, " +-%.2g ppm", t->clock_doubt * 1e6);
    }
    double off = t->clock_hz / t->nominal_hz - 1.0;
    if (fabs(off) >= 1e-3) {
        add(&line, " (%+.2f %% off the part's nominal)", off * 100.0);
    } else if (fabs(off) >= 1e-6) {
        add(&line, " (%+.0f ppm off the part's nominal)", off * 1e6);
    }
    add(&line, ", %s", hy_clock_by_text(t->clock_by));
    if (t->clock_by == HY_CLOCK_COUNTED) {
        add(&line, ": %" PRIu64 " edges", t->clock_n);
        if (t->jitter_ps > t->resolution_ps) {
            char text[32];
            add(&line, ", periods scatter by %s", time_text(t->jitter_ps, text, sizeof text));
        }
    } else if (t->clock_by == HY_CLOCK_FITTED || t->clock_by == HY_CLOCK_FOLLOWED) {
        add(&line, ": %" PRIu64 " of them", t->clock_n);
    }
    return line;
}

hy_timing_line hy_timing_resolution(const hy_timing *t)
{
    hy_timing_line line = {""};
    char text[32];
    add(&line, "+-%s", time_text(t->resolution_ps, text, sizeof text));
    if (t->sample_ps > 0.0) {
        add(&line, " (samples at %.6g MHz%s)", 1e6 / t->sample_ps, t->sample_guessed ? ", guessed" : "");
    }
    if (t->skew_ps > 0) {
        add(&line, ", between two pins +-%s", time_text(t->resolution_ps + (double)t->skew_ps, text, sizeof text));
    }
    return line;
}

/* ---- the table ---- */

/* With as many decimals as the resolution calls for. */
static const char *figure(double value, double resolution, char *text, size_t size)
{
    int decimals = 0;
    for (double unit = 1.0; decimals < 6 && resolution < unit * 0.99; unit *= 0.1) {
        decimals++;
    }
    if (isnan(value)) {
        snprintf(text, size, "-");
    } else {
        snprintf(text, size, "%.*f", decimals, fabs(value) < 0.5 * pow(10.0, -decimals) ? 0.0 : value);
    }
    return text;
}

static double resolution_of(const hy_row *row)
{
    if (row->counts) {
        return 1.0;
    }
    return row->uncertainty > 0.002 ? row->uncertainty : 0.002;
}

/* "duration:0x2c iy": a limits file has the key alone. */
static const char *row_name(const hy_row *row, const hy_timing *t, char *text, size_t size)
{
    const ptrdiff_t code = row - &t->rows[HY_ROW_DURATION];
    const int is_code = code >= 0 && code < HYOID_PHONEMES;
    snprintf(text, size, "%s%s%s", row->key, is_code ? " " : "", is_code ? hy_symbols[code].symbol : "");
    return text;
}

/* As whoever set it wrote it down. */
static const char *limit(double value, char *text, size_t size)
{
    snprintf(text, size, isnan(value) ? "-" : "%.10g", value);
    return text;
}

/* The line below a row that does not pass. */
static void explain(const hy_row *row, const hy_timing *t)
{
    static const char *const doings[] = {[HY_SIDE_PART] = " (part)", [HY_SIDE_HOST] = " (host)", [HY_SIDE_INFO] = ""};
    printf("                  %s", row->name);
    if (row->counts) {
        if (row->maybe > 0) {
            printf(": %" PRIu64 " more may be", row->maybe);
        }
    } else if (row->worst_ps < 0) { /* one figure, of the whole capture */
        printf(": %s", row->beyond > 0  ? "beyond the limit"
                       : row->maybe > 0 ? "within the uncertainty of the limit"
                                        : "the uncertainty is more than a quarter of the limits' width");
    } else {
        printf(": %" PRIu64 " of %" PRIu64 " beyond the limit%s", row->beyond, row->n, row->maybe > 0 ? ", " : "");
        if (row->maybe > 0) {
            printf("%" PRIu64 " within the uncertainty of it", row->maybe);
        } else if (row->beyond == 0) {
            printf("; the uncertainty is more than a quarter of the limits' width");
        }
    }
    if (row->worst_ps >= 0) {
        printf("; %s at %.9f s", row->counts ? "first" : "worst", (double)(row->worst_ps + t->origin_ps) * 1e-12);
    }
    printf("%s\n", doings[hy_timing_doing(t, row)]);
}

static void print_row(const hy_row *row, const hy_timing *t)
{
    char name[40];
    char low[40];
    char mean[40];
    char high[40];
    char min[40];
    char max[40];
    char margin[40];
    double r = resolution_of(row);
    char uncertain[40];
    hy_report_row figures = hy_row_report(row);
    printf("%-17s %7" PRIu64 " %10s %10s %10s %8s %9s %9s  %-6s %9s  %s\n", row_name(row, t, name, sizeof name),
           row->n, row->counts ? "" : figure(row->low, r, low, sizeof low), figure(row->mean, r, mean, sizeof mean),
           row->counts ? "" : figure(row->high, r, high, sizeof high),
           row->counts ? "" : figure(row->uncertainty, row->uncertainty / 2.0, uncertain, sizeof uncertain),
           limit(row->min, min, sizeof min), limit(row->max, max, sizeof max), row->unit,
           row->judged ? figure(hy_report_margin(&figures), r, margin, sizeof margin) : "",
           row->judged ? hy_verdict_text(row->verdict) : "");
    if (row->judged && row->verdict != HY_PASS) {
        explain(row, t);
    }
}

int hy_timing_print(const hy_timing *t, const char *name, const char *part, int quiet)
{
    if (!quiet) {
        printf("%s: %.3f s, %" PRIu64 " strobes; clock %s; times %s; part: %s\n\n", name,
               (double)t->duration_ps * 1e-12, t->strobes, hy_timing_clock(t).text, hy_timing_resolution(t).text,
               part != NULL ? part : "built-in (an estimate)");
        printf("%-17s %7s %10s %10s %10s %8s %9s %9s  %-6s %9s  %s\n", "row", "n", "least", "mean", "most", "+-",
               "min", "max", "unit", "margin", "verdict");
        for (int i = 0; i < HY_ROWS; i++) {
            if (t->rows[i].n > 0) {
                print_row(&t->rows[i], t);
            }
        }
        printf("\n");
    }
    printf("%s\n", hy_timing_summary(t).text);
    return fflush(stdout) == 0 ? 0 : -1;
}
