#include "table.h"

#include <math.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "jsonfile.h"
#include "partfile_fields.h"
#include "score.h"

/* What there is none of is an empty text. */
typedef struct figure {
    char text[32];
} figure;

static figure fixed(double value, int decimals)
{
    figure out = {""};
    if (isfinite(value)) {
        snprintf(out.text, sizeof out.text, "%.*f", decimals, value);
    }
    return out;
}

static double per_second(const hy_sweep_step *s, unsigned count)
{
    return s->played && s->seconds > 0 ? count / s->seconds : NAN;
}

/* `end`: what stands where a line of a terminal would be full. */
static void rc_text(const hy_rc *rc, const char *end, char *text, size_t size)
{
    snprintf(text, size,
             "RC oscillator: clock = k / (R C), R %.6g ohm within %.4g %%, C %.6g pF within %.4g %%,%s"
             "k %.6g (%s) within %.4g %% (%s), each evenly likely in its range; %d draws, seed %llu.",
             rc->ohm, 100 * rc->ohm_spread, rc->farad * 1e12, 100 * rc->farad_spread, end, rc->k, rc->k_known,
             100 * rc->k_spread, rc->k_spread_known, rc->draws, (unsigned long long)rc->seed);
}

static void print_subject(const hy_sweep_table *t, FILE *out)
{
    const hy_sweep_subject *s = t->subject;
    if (s->code < 0) {
        fprintf(out, "Nothing in the input has a clear voice: no pitch, no formants.\n");
        return;
    }
    fprintf(
        out,
        "f0, F1 to F3 and the first image are those of 0x%02x %s, held, at inflection level %d. Everything above\n"
        "half the filter rate is images; the one told is that of the harmonic next to F1, against that.\n",
        (unsigned)s->code, hy_symbols[s->code].symbol, s->code_level);
}

void hy_sweep_print(const hy_sweep_table *t, FILE *out)
{
    fprintf(out, "%s, part: %s, nominal clock %.10g Hz\n", t->input, t->part != NULL ? t->part : "default",
            t->subject->part->nominal_hz);
    const char *note = hy_part_note(t->subject->part);
    if (note[0] != '\0') {
        fprintf(out, "%s\n", note);
    }
    if (t->rc != NULL) {
        char text[400];
        rc_text(t->rc, "\n", text, sizeof text);
        fprintf(out, "%s\n", text);
    }
    print_subject(t, out);
    fprintf(out, "\n%8s %11s %6s %6s %7s %6s %6s %6s %8s %7s %6s %5s %9s %9s %6s\n", "", "clock Hz", "ratio",
            "semit.", "f0 Hz", "F1", "F2", "F3", "seconds", "phon/s", "syll/s", "cut", "filter Hz", "image Hz", "dB");
    int slow = 0;
    for (size_t i = 0; i < t->count; i++) {
        const hy_sweep_step *s = &t->steps[i];
        fprintf(out, "%8s %11.1f %6.3f %6s %7s %6s %6s %6s %8s %7s %6s ", s->label, s->hz, s->ratio,
                fixed(s->semitones, 2).text, fixed(s->f0, 2).text, fixed(s->f1, 0).text, fixed(s->f2, 0).text,
                fixed(s->f3, 0).text, fixed(s->seconds, 3).text, fixed(per_second(s, s->phonemes), 2).text,
                fixed(per_second(s, s->syllables), 2).text);
        if (s->played) {
            fprintf(out, "%5u", s->cut);
        } else {
            fprintf(out, "%5s", "");
            slow++;
        }
        fprintf(out, " %9.1f %9s %6s\n", s->filter_hz, fixed(s->image_hz, 0).text, fixed(s->image_db, 1).text);
    }
    if (slow > 0) {
        fprintf(out, "\nClocks below %.0f Hz are listed but not played: %d.\n", HY_SWEEP_SLOWEST_HZ, slow);
    }
}

void hy_sweep_csv(const hy_sweep_table *t, FILE *out)
{
    fprintf(out,
            "step,clock_hz,ratio,semitones,f0_hz,f1_hz,f2_hz,f3_hz,seconds,phonemes,syllables,cut,phonemes_per_s,"
            "syllables_per_s,filter_hz,image_hz,image_db\n");
    for (size_t i = 0; i < t->count; i++) {
        const hy_sweep_step *s = &t->steps[i];
        fprintf(out, "%s,%.4f,%.8f,%s,%s,%s,%s,%s,%s,", s->label, s->hz, s->ratio, fixed(s->semitones, 4).text,
                fixed(s->f0, 4).text, fixed(s->f1, 2).text, fixed(s->f2, 2).text, fixed(s->f3, 2).text,
                fixed(s->seconds, 6).text);
        if (s->played) {
            fprintf(out, "%u,%u,%u,", s->phonemes, s->syllables, s->cut);
        } else {
            fputs(",,,", out);
        }
        fprintf(out, "%s,%s,%.4f,%s,%s\n", fixed(per_second(s, s->phonemes), 4).text,
                fixed(per_second(s, s->syllables), 4).text, s->filter_hz, fixed(s->image_hz, 3).text,
                fixed(s->image_db, 3).text);
    }
}

void hy_sweep_report(const hy_sweep_table *t, hy_report *report)
{
    static const char *const headings[] = {"step",     "#clock Hz", "#ratio",    "#semitones", "#f0 Hz",
                                           "#F1",      "#F2",       "#F3",       "#seconds",   "#phon./s",
                                           "#syll./s", "#cut",      "#image Hz", "#image dB"};
    enum { COLUMNS = sizeof headings / sizeof headings[0] };
    hy_report_section(report, "Figures");
    hy_report_table(report, "What becomes of the voice at each clock", headings, COLUMNS);
    for (size_t i = 0; i < t->count; i++) {
        const hy_sweep_step *s = &t->steps[i];
        const figure f[] = {fixed(s->hz, 1),
                            fixed(s->ratio, 3),
                            fixed(s->semitones, 2),
                            fixed(s->f0, 2),
                            fixed(s->f1, 0),
                            fixed(s->f2, 0),
                            fixed(s->f3, 0),
                            fixed(s->seconds, 3),
                            fixed(per_second(s, s->phonemes), 2),
                            fixed(per_second(s, s->syllables), 2),
                            fixed(s->played ? (double)s->cut : NAN, 0),
                            fixed(s->image_hz, 0),
                            fixed(s->image_db, 1)};
        const char *cells[COLUMNS] = {s->label};
        for (size_t k = 1; k < COLUMNS; k++) {
            cells[k] = f[k - 1].text;
        }
        hy_report_cells(report, cells);
    }
    hy_report_table_end(report);
    char text[400];
    if (t->subject->code >= 0) {
        snprintf(
            text, sizeof text,
            "f0, F1 to F3 and the first image are those of 0x%02x %s, held, at inflection level %d. The image is "
            "that of the harmonic next to F1, and its level is against that harmonic.",
            (unsigned)t->subject->code, hy_symbols[t->subject->code].symbol, t->subject->code_level);
        hy_report_text(report, text);
    }
    if (t->rc != NULL) {
        rc_text(t->rc, " ", text, sizeof text);
        hy_report_note(report, text);
    }
    hy_report_note(report,
                   "High clocks are shrill and sweeps jump in loudness: start quietly, above all with headphones. "
                   "The figures are the model's; a real chip may stop at clocks that it was not made for.");
}

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *count_of(const hy_sweep_step *s, unsigned count)
{
    return s->played ? json_integer((json_int_t)count) : json_null();
}

static json_t *json_step(const hy_sweep_step *s)
{
    return json_pack("{s:s, s:f, s:f, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:f, s:o, s:o}", "step",
                     s->label, "clock_hz", s->hz, "ratio", s->ratio, "semitones", number(s->semitones), "f0_hz",
                     number(s->f0), "f1_hz", number(s->f1), "f2_hz", number(s->f2), "f3_hz", number(s->f3), "seconds",
                     number(s->seconds), "phonemes", count_of(s, s->phonemes), "syllables", count_of(s, s->syllables),
                     "cut", count_of(s, s->cut), "phonemes_per_s", number(per_second(s, s->phonemes)),
                     "syllables_per_s", number(per_second(s, s->syllables)), "filter_hz", s->filter_hz, "image_hz",
                     number(s->image_hz), "image_db", number(s->image_db));
}

static json_t *json_rc(const hy_rc *rc)
{
    return rc == NULL
               ? json_null()
               : json_pack("{s:f, s:f, s:f, s:f, s:f, s:s, s:f, s:s, s:i, s:I}", "ohm", rc->ohm, "farad", rc->farad,
                           "ohm_spread", rc->ohm_spread, "farad_spread", rc->farad_spread, "constant", rc->k,
                           "constant_known", rc->k_known, "constant_spread", rc->k_spread, "constant_spread_known",
                           rc->k_spread_known, "draws", rc->draws, "seed", (json_int_t)rc->seed);
}

static json_t *json_phoneme(const hy_sweep_subject *s)
{
    return s->code < 0 ? json_null()
                       : json_pack("{s:i, s:s, s:i}", "code", s->code, "symbol", hy_symbols[s->code].symbol, "level",
                                   s->code_level);
}

int hy_sweep_json(const hy_sweep_table *t, FILE *out, hy_diag *diag)
{
    json_t *steps = json_array();
    for (size_t i = 0; i < t->count; i++) {
        json_array_append_new(steps, json_step(&t->steps[i]));
    }
    char hash[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(t->subject->part));
    json_t *root = json_pack("{s:s, s:s, s:s, s:s, s:f, s:o, s:o, s:o}", "input", t->input, "part",
                             t->part != NULL ? t->part : "default", "fingerprint", hash, "note",
                             hy_part_note(t->subject->part), "nominal_hz", t->subject->part->nominal_hz, "phoneme",
                             json_phoneme(t->subject), "rc", json_rc(t->rc), "steps", steps);
    return hy_json_write(root, out, 10, diag);
}
