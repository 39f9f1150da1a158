/* The result as text. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "compare.h"
#include "partfile_fields.h"
#include "score.h"

static void add(hy_compare_line *line, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(hy_compare_line *line, const char *format, ...)
{
    size_t used = strlen(line->text);
    va_list args;
    va_start(args, format);
    vsnprintf(line->text + used, sizeof line->text - used, format, args);
    va_end(args);
}

/* Names of the codes with this verdict; at most a dozen. */
static void add_names(hy_compare_line *line, const hy_comparison *c, hy_verdict verdict)
{
    unsigned n = 0;
    for (size_t i = 0; i < c->figures.count; i++) {
        if (c->code[i].verdict == verdict && n++ < 12) {
            unsigned code = c->code[i].figures->code;
            add(line, "%s%s/0x%02x", n > 1 ? " " : "", hy_symbols[code].symbol, code);
        }
    }
    if (n > 12) {
        add(line, " and %u more", n - 12);
    }
}

hy_compare_line hy_compare_summary(const hy_comparison *c)
{
    hy_compare_line line = {""};
    size_t n = c->figures.count;
    if (c->verdict == HY_FAIL) {
        add(&line, "FAIL: ");
        if (c->failed > 0) {
            add(&line, "%u of %zu phonemes fail%s: ", c->failed, n, c->failed == 1 ? "s" : "");
            add_names(&line, c, HY_FAIL);
        }
        if (c->tempo_pitch.judged && c->tempo_pitch.verdict == HY_FAIL) {
            add(&line, "%spitch is %.2f %% %s than the tempo says", c->failed > 0 ? "; " : "",
                fabs(c->tempo_pitch_off), c->tempo_pitch_off > 0 ? "higher" : "lower");
        }
        if (c->clock.judged && c->clock.verdict == HY_FAIL) {
            add(&line, "%sthe clock is %.2f %% off", c->failed > 0 ? "; " : "", c->clock_off);
            if (c->failed == 0) {
                add(&line, "; no phoneme fails");
            }
        }
    } else if (c->verdict == HY_PASS) {
        add(&line, "PASS: %u of %zu phonemes pass, none fails", c->passed, n);
    } else {
        add(&line, "INCONCLUSIVE: none of %zu phonemes fails, but only %u can be told to pass", n, c->passed);
    }
    if (c->open > 0 && c->verdict != HY_INCONCLUSIVE) {
        add(&line, "; %u phoneme%s can't be told from this recording: ", c->open, c->open == 1 ? "" : "s");
        add_names(&line, c, HY_INCONCLUSIVE);
    }
    return line;
}

hy_compare_line hy_compare_clock(const hy_comparison *c)
{
    const hy_alignment *a = &c->alignment;
    hy_compare_line line = {""};
    add(&line, "%.2f kHz", c->stated_hz * a->scale * 1e-3);
    if (isfinite(c->clock_doubt)) {
        add(&line, " +-%.2f", c->stated_hz * c->clock_doubt * 1e-5);
    }
    add(&line, ", %+.2f %% of the stated %.6g kHz", c->clock_off, c->stated_hz * 1e-3);
    if (isfinite(a->tempo.uncertainty)) {
        add(&line, "; tempo %+.2f %%", 100 * (a->tempo.value - 1));
    }
    if (isfinite(a->pitch.uncertainty)) {
        add(&line, "%s pitch %+.2f %%", isfinite(a->tempo.uncertainty) ? "," : ";", 100 * (a->pitch.value - 1));
    }
    if (!a->tempo_tells && isfinite(a->recorder.uncertainty)) {
        add(&line, "; the input has times of its own: the recording runs %+.3f %% against them",
            100 * (a->recorder.value - 1));
    }
    if (a->wow_peak > 0.004) {
        add(&line, "; the speed swings by %.1f %%, about %.1f times a second", 100 * a->wow_peak, a->wow_hz);
    }
    return line;
}

hy_compare_line hy_compare_place(const hy_comparison *c)
{
    const hy_alignment *a = &c->alignment;
    hy_compare_line line = {""};
    add(&line, "begins at %.3f s, %+.1f dB against the model, %s", a->delay, a->gain_db,
        a->polarity > 0   ? "right way round"
        : a->polarity < 0 ? "inverted"
                          : "polarity can't be told");
    add(&line, "; likeness %.2f", a->likeness);
    return line;
}

hy_compare_line hy_compare_floor(const hy_comparison *c)
{
    const hy_alignment *a = &c->alignment;
    hy_compare_line line = {""};
    if (a->snr_db > 90) {
        add(&line, "no noise to speak of");
    } else {
        add(&line, "noise %.0f dB below the speech", a->snr_db);
    }
    if (a->hum.nominal_hz > 0) {
        add(&line, "; hum of %.2f Hz at %.0f dBFS, taken out", a->hum.mains_hz, a->hum.level_db);
    } else {
        add(&line, "; no hum found");
    }
    add(&line, "; band %.0f to %.0f Hz", a->low_hz, a->high_hz);
    if (c->recording->clipped > 0) {
        add(&line, "; CLIPPED: %llu samples in flat tops", (unsigned long long)c->recording->clipped);
    }
    if (fabs(c->recording->dc) > 0.001) {
        add(&line, "; DC %.3f of full scale, taken out", c->recording->dc);
    }
    return line;
}

/* ---- the table ---- */

static void print_figure(const hy_judged_code *code, int q)
{
    const hy_figure *f = &code->figures->figure[q];
    const hy_judged *row = &code->row[q];
    char text[24];
    if (f->known != HY_KNOWN) {
        snprintf(text, sizeof text, "%s", f->known == HY_NOT_THERE ? "" : "-");
    } else {
        char mark = !row->judged ? ' ' : row->verdict == HY_FAIL ? '!' : row->verdict == HY_PASS ? ' ' : '?';
        snprintf(text, sizeof text, q == HY_M_LSD || q == HY_M_MCD ? "%.1f%c" : "%+.1f%c", f->value, mark);
    }
    printf(" %8s", text);
}

static void print_table(const hy_comparison *c)
{
    printf("\n%-11s %4s", "code", "n");
    for (int q = 0; q < HY_MEASURES; q++) {
        printf(" %7s ", hy_measure_name((hy_measure)q));
    }
    printf("  verdict\n%-11s %4s", "", "");
    for (int q = 0; q < HY_MEASURES; q++) {
        printf(" %7s ", hy_measure_unit((hy_measure)q));
    }
    printf("\n");
    for (size_t i = 0; i < c->figures.count; i++) {
        const hy_judged_code *code = &c->code[i];
        printf("0x%02x %-6s %4zu", code->figures->code, hy_symbols[code->figures->code].symbol,
               code->figures->inside);
        for (int q = 0; q < HY_MEASURES; q++) {
            print_figure(code, q);
        }
        printf("  %s\n", hy_verdict_text(code->verdict));
    }
    printf("(! outside its limit, ? too uncertain to say, - can't be measured here; at the part's own clock)\n");
    int heading = 0;
    for (size_t i = 0; i < c->figures.count; i++) {
        const hy_judged_code *code = &c->code[i];
        if (code->verdict != HY_PASS) {
            printf("%s0x%02x %-6s %s: %s\n", heading++ == 0 ? "\n" : "", code->figures->code,
                   hy_symbols[code->figures->code].symbol, hy_verdict_text(code->verdict), code->why);
        }
    }
    printf("\n");
}

int hy_compare_print(const hy_comparison *c, int quiet)
{
    if (!quiet) {
        printf("%s (%.1f s, %.0f Hz%s%s) against %s\n", c->recording_name, c->recording->seconds, c->recording->rate,
               c->recording->channel_note[0] != '\0' ? ", " : "", c->recording->channel_note, c->input_name);
        printf("  clock  %s\n", hy_compare_clock(c).text);
        printf("  place  %s\n", hy_compare_place(c).text);
        printf("  floor  %s\n", hy_compare_floor(c).text);
        if (c->colour) {
            printf("  colour what all sounds have in common was taken out: a defect of all sounds alike can't be "
                   "seen\n");
        }
        print_table(c);
    }
    printf("%s\n", hy_compare_summary(c).text);
    if (!quiet && hy_part_note(c->part)[0] != '\0') {
        printf("%s\n", hy_part_note(c->part));
    }
    return fflush(stdout) == 0 && !ferror(stdout) ? 0 : -1;
}
