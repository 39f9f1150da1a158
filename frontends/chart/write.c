/* The chart as text: a table for people, CSV and JSON for programs. */
#include <csv.h>
#include <math.h>
#include <string.h>

#include "jsonfile.h"
#include "rows.h"
#include "text.h"

/* Terminal columns: a combining mark or a tie bar takes none. Nothing in the IPA takes two. */
static int columns_of(const char *text)
{
    int columns = 0;
    size_t left = strlen(text);
    while (left > 0) {
        uint32_t point = 0;
        size_t length = hy_utf8(text, left, &point);
        if (length == 0) {
            break;
        }
        columns += !((point >= 0x300 && point <= 0x36f) || (point >= 0x1ab0 && point <= 0x1aff) ||
                     (point >= 0x1dc0 && point <= 0x1dff));
        text += length;
        left -= length;
    }
    return columns;
}

static void print_padded(FILE *out, const char *text, int width)
{
    int pad = width - columns_of(text);
    fprintf(out, "%s%*s", text, pad > 0 ? pad : 0, "");
}

/* What there is none of (a section damped beyond resonance, a formant of silence) is said by `none`. */
typedef struct figure {
    char text[24];
} figure;

static figure with_decimals(double value, int decimals, const char *none)
{
    figure out;
    snprintf(out.text, sizeof out.text, "%s", none);
    if (isfinite(value)) {
        double unit = decimals > 0 ? 10 : 1;
        double whole = round(value * unit) / unit;
        snprintf(out.text, sizeof out.text, "%.*f", decimals, whole == 0 ? 0 : whole); /* no minus zero */
    }
    return out;
}

static figure hertz(double hz, const char *none)
{
    return with_decimals(hz, 0, none);
}

void hy_chart_table(const hy_chart *chart, FILE *out)
{
    fprintf(out, "%s\n", chart->note);
    fprintf(out,
            "Part: %s, nominal clock %.10g Hz. Held, in Hz: where the capacitors put F1 to F3; measured on the\n",
            chart->part != NULL ? chart->part : "default", hy_partfile_part(chart->file)->nominal_hz);
    fprintf(out,
            "sound: F1 to F3, level in dB of full scale, centre of gravity. Known: the least sure of the three.\n\n");
    fprintf(out, "%51s----- held -----  ----------- measured ------------\n", "");
    fprintf(
        out,
        "code  symbol  IPA     ms  example                         F1    F2    F3     F1    F2    F3     dB    CoG  "
        "known\n");
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hy_chart_row *r = &chart->row[code];
        const hy_measured *m = &r->measured;
        fprintf(out, "0x%02x  %-6s  ", code, r->symbol->symbol);
        print_padded(out, r->symbol->ipa[0] != '\0' ? r->symbol->ipa : "-", 4);
        fprintf(out, "%6s  ", r->ms);
        print_padded(out, r->symbol->example[0] != '\0' ? r->symbol->example : "(silence)", 29);
        fprintf(out, "%5s %5s %5s  %5s %5s %5s  %5s  %5s  %s\n", hertz(r->hz.f1, "-").text, hertz(r->hz.f2, "-").text,
                hertz(r->hz.f3, "-").text, hertz(m->f1, "").text, hertz(m->f2, "").text, hertz(m->f3, "").text,
                with_decimals(m->level_db, 1, "").text, hertz(m->gravity_hz, "").text, r->known);
    }
}

void hy_chart_csv(const hy_chart *chart, FILE *out)
{
    fprintf(out, "code,symbol,ipa,duration_ms,example,f1_hz,f2_hz,f3_hz,known,note,measured_f1_hz,measured_f2_hz,"
                 "measured_f3_hz,level_db,gravity_hz\n");
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hy_chart_row *r = &chart->row[code];
        const hy_measured *m = &r->measured;
        fprintf(out, "0x%02x,%s,%s,%s,", code, r->symbol->symbol, r->symbol->ipa, r->ms);
        csv_fwrite(out, r->symbol->example, strlen(r->symbol->example));
        fprintf(out, ",%s,%s,%s,%s,", hertz(r->hz.f1, "").text, hertz(r->hz.f2, "").text, hertz(r->hz.f3, "").text,
                r->known);
        csv_fwrite(out, chart->note, strlen(chart->note));
        fprintf(out, ",%s,%s,%s,%s,%s\n", hertz(m->f1, "").text, hertz(m->f2, "").text, hertz(m->f3, "").text,
                with_decimals(m->level_db, 1, "").text, hertz(m->gravity_hz, "").text);
    }
}

static json_t *json_hertz(double hz)
{
    return isfinite(hz) ? json_integer(lround(hz)) : json_null();
}

static json_t *json_level(double db)
{
    return isfinite(db) ? json_real(round(db * 10) / 10) : json_null();
}

static json_t *json_row(const hy_chart *chart, unsigned code)
{
    const hy_chart_row *r = &chart->row[code];
    const hy_measured *m = &r->measured;
    const hyoid_part *part = hy_partfile_part(chart->file);
    char hex[8];
    snprintf(hex, sizeof hex, "0x%02x", code);
    return json_pack("{s:i, s:s, s:s, s:s, s:o, s:s, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o}", "code", (int)code,
                     "hex", hex, "symbol", r->symbol->symbol, "ipa", r->symbol->ipa, "duration_ms",
                     json_real(1000.0 * part->phoneme[code].duration / hy_cycle_hz(part)), "example",
                     r->symbol->example, "f1_hz", json_hertz(r->hz.f1), "f2_hz", json_hertz(r->hz.f2), "f3_hz",
                     json_hertz(r->hz.f3), "known", r->known, "measured_f1_hz", json_hertz(m->f1), "measured_f2_hz",
                     json_hertz(m->f2), "measured_f3_hz", json_hertz(m->f3), "level_db", json_level(m->level_db),
                     "gravity_hz", json_hertz(m->gravity_hz));
}

int hy_chart_json(const hy_chart *chart, FILE *out, hy_diag *diag)
{
    json_t *phonemes = json_array();
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        json_array_append_new(phonemes, json_row(chart, code));
    }
    const hyoid_part *part = hy_partfile_part(chart->file);
    char hash[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(part));
    json_t *root =
        json_pack("{s:s, s:s, s:s, s:f, s:o}", "part", chart->part != NULL ? chart->part : "default", "fingerprint",
                  hash, "note", chart->note, "nominal_hz", part->nominal_hz, "phonemes", phonemes);
    return hy_json_write(root, out, 10, diag);
}
