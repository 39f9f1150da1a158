/* hyoid chart: the 64 codes as a table for people, as CSV or as JSON. */
#include "chart.h"

#include <csv.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "acoustics.h"
#include "options.h"
#include "outfile.h"
#include "partfile.h"
#include "partfile_fields.h"
#include "score.h"
#include "text.h"

enum { OPT_JSON, OPT_CSV, OPT_PART, OPT_OUTPUT };

static const hy_option options[] = {
    {"json", 0, NULL, "write JSON"},
    {"csv", 0, NULL, "write CSV"},
    {"part", 0, "DIR", "durations and formants of this part, instead of the built-in default"},
    {"output", 'o', "FILE", "where to write; - is standard output (default)"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "chart",
    "[--csv | --json] [--part DIR] [-o FILE]",
    "The 64 phoneme codes: symbol, IPA, duration at the part's nominal clock, an example, where\n"
    "the formants stand when the phoneme is held, and how these are known.\n"
    "\n"
    "The built-in default part is an ESTIMATE from published, recalled and fitted figures, not a\n"
    "reading of any chip. `hyoid part show CODE` tells the source of every number.",
    options,
    "Examples:\n"
    "  hyoid chart\n"
    "  hyoid chart --csv -o chart.csv",
};

typedef enum form { AS_TABLE, AS_CSV, AS_JSON } form;

typedef struct row {
    const hy_symbol *symbol;
    const char *ms;         /* as the part's file has it */
    const char *confidence; /* of the least sure of the three formants */
    hy_formants hz;
} row;

static const char *least_sure(const hy_partfile *file, unsigned code)
{
    static const char *const words[] = {"measured", "published", "derived", "recalled", "fitted", "estimate"};
    static const char *const formants[] = {"f1", "f2", "f3"};
    size_t worst = 0;
    for (size_t i = 0; i < 3; i++) {
        const char *word = hy_partfile_phoneme(file, code, formants[i])->confidence;
        for (size_t w = 0; w < sizeof words / sizeof words[0]; w++) {
            worst = strcmp(word, words[w]) == 0 && w > worst ? w : worst;
        }
    }
    return words[worst];
}

static row row_of(const hy_partfile *file, unsigned code)
{
    return (row){
        .symbol = &hy_symbols[code],
        .ms = hy_partfile_phoneme(file, code, "duration")->value,
        .confidence = least_sure(file, code),
        .hz = hy_phoneme_formants(hy_partfile_part(file), code),
    };
}

/* What stands above the table and beside the data. `part` is a folder, or null for the built-in one. */
static const char *note_of(const hy_partfile *file, const char *part)
{
    int is_default = hyoid_part_hash(hy_partfile_part(file)) == hyoid_part_hash(hyoid_part_default());
    return part == NULL || is_default
               ? hy_default_part_note
               : "The figures are those of the part that was given; how sure each is stands beside it.";
}

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

/* Whole hertz; a section that is damped beyond resonance has none, which `none` says. */
typedef struct hertz_text {
    char text[24];
} hertz_text;

static hertz_text hertz(double hz, const char *none)
{
    hertz_text out;
    snprintf(out.text, sizeof out.text, "%s", none);
    if (isfinite(hz)) {
        snprintf(out.text, sizeof out.text, "%.0f", hz);
    }
    return out;
}

static void write_table(const hy_partfile *file, const char *part, FILE *out)
{
    fprintf(out, "%s\n", note_of(file, part));
    fprintf(out, "Part: %s, nominal clock %.10g Hz. F1 to F3: held, in Hz; known: the least sure of the three.\n\n",
            part != NULL ? part : "default", hy_partfile_part(file)->nominal_hz);
    fprintf(out, "code  symbol  IPA     ms  example                    F1    F2    F3  known\n");
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        row r = row_of(file, code);
        fprintf(out, "0x%02x  %-6s  ", code, r.symbol->symbol);
        print_padded(out, r.symbol->ipa[0] != '\0' ? r.symbol->ipa : "-", 4);
        fprintf(out, "%6s  ", r.ms);
        print_padded(out, r.symbol->example[0] != '\0' ? r.symbol->example : "(silence)", 24);
        fprintf(out, "%5s %5s %5s  %s\n", hertz(r.hz.f1, "-").text, hertz(r.hz.f2, "-").text,
                hertz(r.hz.f3, "-").text, r.confidence);
    }
}

static void write_csv(const hy_partfile *file, const char *part, FILE *out)
{
    fprintf(out, "code,symbol,ipa,duration_ms,example,f1_hz,f2_hz,f3_hz,known,note\n");
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        row r = row_of(file, code);
        fprintf(out, "0x%02x,%s,%s,%s,", code, r.symbol->symbol, r.symbol->ipa, r.ms);
        csv_fwrite(out, r.symbol->example, strlen(r.symbol->example));
        fprintf(out, ",%s,%s,%s,%s,", hertz(r.hz.f1, "").text, hertz(r.hz.f2, "").text, hertz(r.hz.f3, "").text,
                r.confidence);
        const char *note = note_of(file, part);
        csv_fwrite(out, note, strlen(note));
        fputc('\n', out);
    }
}

static json_t *json_hertz(double hz)
{
    return isfinite(hz) ? json_integer(lround(hz)) : json_null();
}

static json_t *json_row(const hy_partfile *file, unsigned code)
{
    row r = row_of(file, code);
    char hex[8];
    snprintf(hex, sizeof hex, "0x%02x", code);
    return json_pack(
        "{s:i, s:s, s:s, s:s, s:o, s:s, s:o, s:o, s:o, s:s}", "code", (int)code, "hex", hex, "symbol",
        r.symbol->symbol, "ipa", r.symbol->ipa, "duration_ms",
        json_real(1000.0 * hy_partfile_part(file)->phoneme[code].duration / hy_cycle_hz(hy_partfile_part(file))),
        "example", r.symbol->example, "f1_hz", json_hertz(r.hz.f1), "f2_hz", json_hertz(r.hz.f2), "f3_hz",
        json_hertz(r.hz.f3), "known", r.confidence);
}

static int write_json(const hy_partfile *file, const char *part, FILE *out, hy_diag *diag)
{
    json_t *phonemes = json_array();
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        json_array_append_new(phonemes, json_row(file, code));
    }
    char hash[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(hy_partfile_part(file)));
    json_t *root =
        json_pack("{s:s, s:s, s:s, s:f, s:o}", "part", part != NULL ? part : "default", "fingerprint", hash, "note",
                  note_of(file, part), "nominal_hz", hy_partfile_part(file)->nominal_hz, "phonemes", phonemes);
    if (root == NULL) {
        return hy_fail(diag, "the chart can't be put into JSON: its names are not UTF-8, or memory is short");
    }
    json_dumpf(root, out, JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(10));
    fputc('\n', out);
    json_decref(root);
    return 0;
}

static int write_chart(form as, const char *part, const char *output, hy_diag *diag)
{
    hy_partfile *file = part != NULL ? hy_partfile_read(part, diag) : hy_partfile_default(diag);
    hy_outfile *out = file != NULL ? hy_outfile_open(output, diag) : NULL;
    int status = out != NULL ? 0 : -1;
    if (status == 0 && as == AS_JSON) {
        status = write_json(file, part, hy_outfile_stream(out), diag);
    } else if (status == 0 && as == AS_CSV) {
        write_csv(file, part, hy_outfile_stream(out));
    } else if (status == 0) {
        write_table(file, part, hy_outfile_stream(out));
    }
    if (status != 0) {
        hy_outfile_abandon(out);
    } else {
        status = hy_outfile_commit(out, diag);
    }
    hy_partfile_free(file);
    return status == 0 ? 0 : hy_refuse(diag);
}

int hy_chart_main(int argc, char **argv)
{
    hy_diag diag = {""};
    form as = AS_TABLE;
    const char *part = NULL;
    const char *output = "-";
    hy_options state;
    hy_options_start(&state, &usage, argc, argv);
    for (;;) {
        int found = hy_options_next(&state, &diag);
        switch (found) {
        case OPT_JSON:
        case OPT_CSV:
            if (as != AS_TABLE) {
                hy_fail(&diag, "chart writes either --csv or --json");
                return hy_refuse(&diag);
            }
            as = found == OPT_JSON ? AS_JSON : AS_CSV;
            break;
        case OPT_PART:
            part = state.value;
            break;
        case OPT_OUTPUT:
            output = state.value;
            break;
        case HY_OPERAND:
            hy_fail(&diag, "chart takes no operand; found %s", hy_show(state.value, strlen(state.value)).text);
            return hy_refuse(&diag);
        case HY_OPTIONS_HELP:
            return hy_options_help(&usage);
        case HY_OPTIONS_BAD:
            return hy_refuse(&diag);
        default:
            return write_chart(as, part, output, &diag);
        }
    }
}
