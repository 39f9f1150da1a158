/* The default part in its three forms (folder, compiled-in tables, C initialiser), its laws, and what is said of
 * part folders that are wrong. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <criterion/criterion.h>
#include <csv.h>
#include <hyoid/hyoid.h>

#include "acoustics.h"
#include "partfile.h"
#include "partfile_private.h"
#include "score.h"
#include "source_dir.h"

static char *source_path(const char *name)
{
    static char path[4096];
    snprintf(path, sizeof path, "%s/%s", source_dir(), name);
    return path;
}

static char *slurp(const char *path)
{
    FILE *in = fopen(path, "rb");
    cr_assert(in != NULL, "%s is missing", path);
    char *text = calloc(1, 1 << 20);
    cr_assert(fread(text, 1, (1 << 20) - 1, in) > 0);
    fclose(in);
    return text;
}

static hy_partfile *read_default_folder(void)
{
    hy_diag diag = {""};
    hy_partfile *file = hy_partfile_read(source_path("reference/parts/default"), &diag);
    cr_assert(file != NULL, "%s", diag.text);
    return file;
}

/* --- the three forms --- */

static void expect_same_phoneme(unsigned code, const hyoid_phoneme *a, const hyoid_phoneme *b)
{
    cr_expect(a->f1 == b->f1 && a->f2 == b->f2 && a->f3 == b->f3, "formants of 0x%02x", code);
    cr_expect(a->bw2 == b->bw2, "bw2 of 0x%02x", code);
    cr_expect(a->va == b->va && a->fa == b->fa && a->fc == b->fc, "amplitudes or spectrum of 0x%02x", code);
    cr_expect(a->vd == b->vd && a->cld == b->cld, "delays of 0x%02x", code);
    cr_expect(a->closure == b->closure && a->pause == b->pause, "flags of 0x%02x", code);
    cr_expect(a->duration == b->duration, "duration of 0x%02x", code);
}

static void expect_same_part(const hyoid_part *a, const hyoid_part *b)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        expect_same_phoneme(code, &a->phoneme[code], &b->phoneme[code]);
    }
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        size_t size = c->kind == HY_KIND_REAL   ? sizeof(double)
                      : c->kind == HY_KIND_STEP ? sizeof(int16_t)
                                                : sizeof(uint32_t);
        size *= c->count > 0 ? c->count : 1;
        cr_expect(memcmp((const char *)a + c->offset, (const char *)b + c->offset, size) == 0, "%s", c->name);
    }
    cr_expect_eq(hyoid_part_hash(a), hyoid_part_hash(b));
}

Test(part, folder_is_the_default_part)
{
    hy_partfile *file = read_default_folder();
    expect_same_part(hy_partfile_part(file), hyoid_part_default());
    hy_partfile_free(file);
}

Test(part, compiled_in_tables_are_the_default_part)
{
    hy_diag diag = {""};
    hy_partfile *file = hy_partfile_default(&diag);
    cr_assert(file != NULL, "%s", diag.text);
    expect_same_part(hy_partfile_part(file), hyoid_part_default());
    hy_partfile_free(file);
}

Test(part, export_c_is_the_file_in_the_core)
{
    char *wanted = slurp(source_path("core/part_default.inc"));
    hy_partfile *file = read_default_folder();
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    cr_assert(out != NULL);
    hy_part_write_c(hy_partfile_part(file), out);
    fclose(out);
    cr_expect(strcmp(text, wanted) == 0, "run: hyoid part export --c -o core/part_default.inc");
    free(text);
    free(wanted);
    hy_partfile_free(file);
}

Test(part, every_field_of_the_struct_has_a_row)
{
    /* the tables cover hyoid_part without gaps but for padding */
    size_t bytes = sizeof(hyoid_phoneme) * HYOID_PHONEMES;
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        size_t size = c->kind == HY_KIND_REAL   ? sizeof(double)
                      : c->kind == HY_KIND_STEP ? sizeof(int16_t)
                                                : sizeof(uint32_t);
        bytes += size * (c->count > 0 ? c->count : 1);
    }
    cr_expect(bytes <= sizeof(hyoid_part) && bytes + 16 > sizeof(hyoid_part),
              "%zu bytes in the tables, %zu in the struct", bytes, sizeof(hyoid_part));
}

/* --- provenance --- */

static void expect_known(const hy_provenance *known, const char *name)
{
    static const char words[] = " published recalled derived fitted measured estimate ";
    cr_assert(known != NULL, "%s has no provenance", name);
    char word[40];
    snprintf(word, sizeof word, " %s ", known->confidence);
    cr_expect(strstr(words, word) != NULL, "%s: %s", name, known->confidence);
    cr_expect(known->value[0] != '\0' && known->unit[0] != '\0' && strlen(known->source) >= 8, "%s", name);
    /* what a search has moved is no longer the published, derived or recalled number that its source tells of */
    const int moved = strstr(known->source, "moved from") != NULL || strstr(known->source, "by a search") != NULL ||
                      strstr(known->source, "by the search") != NULL;
    cr_expect(!moved || strcmp(known->confidence, "fitted") == 0, "%s is called %s, but: %s", name, known->confidence,
              known->source);
}

Test(part, every_number_has_its_provenance)
{
    hy_partfile *file = read_default_folder();
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (size_t i = 0; i < HY_QUANTITIES; i++) {
            expect_known(hy_partfile_phoneme(file, code, hy_quantities[i].name), hy_quantities[i].name);
        }
    }
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        for (unsigned k = 0; k < hy_constant_entries(&hy_constants[i], hy_partfile_part(file)); k++) {
            char buffer[64];
            const char *name = hy_constant_name(&hy_constants[i], k, buffer, sizeof buffer);
            expect_known(hy_partfile_constant(file, name), name);
        }
    }
    cr_expect_null(hy_partfile_constant(file, "pulse[90]"));
    cr_expect_null(hy_partfile_constant(file, "pulse"));
    cr_expect_null(hy_partfile_constant(file, "pulse[01]"));
    cr_expect_null(hy_partfile_constant(file, "f1"));
    cr_expect_null(hy_partfile_phoneme(file, 64, "f1"));
    cr_expect_null(hy_partfile_phoneme(file, 0, "f4"));
    cr_expect_str_eq(hy_partfile_phoneme(file, 0x2c, "duration")->value, "185");
    hy_partfile_free(file);
}

/* --- the chart --- */

typedef struct chart_rows {
    const hyoid_part *part;
    unsigned rows, column;
    char cells[8][120];
} chart_rows;

static void chart_field(void *text, size_t size, void *user)
{
    chart_rows *rows = user;
    cr_assert(rows->column < 8);
    snprintf(rows->cells[rows->column++], sizeof rows->cells[0], "%.*s", (int)size, (const char *)text);
}

static void chart_row(int terminator, void *user)
{
    (void)terminator;
    chart_rows *rows = user;
    rows->column = 0;
    unsigned code = rows->rows++;
    if (code == 0) {
        return; /* the header */
    }
    code--;
    cr_assert(code < HYOID_PHONEMES);
    cr_expect_eq(strtoul(rows->cells[0], NULL, 16), code);
    cr_expect_str_eq(rows->cells[1], hy_symbols[code].symbol);
    cr_expect_str_eq(rows->cells[2], hy_symbols[code].ipa);
    cr_expect_str_eq(rows->cells[4], hy_symbols[code].example);
    int ms = atoi(rows->cells[3]);
    cr_expect_eq(ms, hy_symbols[code].nominal_ms);
    cr_expect_eq(rows->part->phoneme[code].duration, ms * 20, "0x%02x: %d ms at 20 kHz", code, ms);
}

Test(part, symbols_and_durations_are_those_of_the_chart)
{
    char *text = slurp(source_path("reference/chart.csv"));
    chart_rows rows = {.part = hyoid_part_default()};
    struct csv_parser parser;
    cr_assert_eq(csv_init(&parser, CSV_STRICT), 0);
    cr_expect_eq(csv_parse(&parser, text, strlen(text), chart_field, chart_row, &rows), strlen(text));
    csv_fini(&parser, chart_field, chart_row, &rows);
    csv_free(&parser);
    cr_expect_eq(rows.rows, 65);
    free(text);
}

Test(part, durations_round_to_the_nearest_filter_cycle)
{
    /* 700 / (k + 2.8): a check on the recalled column, stated in reference/README.md */
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        double nearest = 1e9;
        for (int k = 0; k <= 12; k++) {
            nearest = fmin(nearest, fabs(700 / (k + 2.8) - hy_symbols[code].nominal_ms));
        }
        cr_expect(nearest < 0.8, "0x%02x", code);
    }
}

/* --- the laws --- */

typedef struct law {
    double low, high; /* Hz at register 0 and 255 */
    double limit;     /* largest relative error, as docs/chip.md states it */
} law;

static double largest_error(const hyoid_section *s, double k6, const law *l)
{
    double worst = 0;
    for (unsigned r = 0; r < 256; r++) {
        double wanted = l->low + (l->high - l->low) * r / 255;
        worst = fmax(worst, fabs(hy_resonance_hz(s->k0 + s->ks * r, k6, 20000) / wanted - 1));
    }
    return worst;
}

Test(part, capacitors_follow_the_linear_laws)
{
    const hyoid_part *p = hyoid_part_default();
    const law f1 = {200, 850, 0.00064};
    const law f2 = {600, 2500, 0.0185};
    const law f3 = {1400, 3100, 0.00475};
    /* the stated figures, to their last digit */
    double e1 = largest_error(&p->f1, p->f1.k6, &f1);
    double e3 = largest_error(&p->f3, p->f3.k6, &f3);
    cr_expect(fabs(e1 - f1.limit) < 0.000005, "F1 %.6f", e1);
    cr_expect(fabs(e3 - f3.limit) < 0.00005, "F3 %.6f", e3);
    double at_code_2 = largest_error(&p->f2, p->f2.k6 + 2 * p->f2_k6_step, &f2);
    cr_expect(fabs(at_code_2 - 0.015) < 0.0005, "F2 at bw2 = 2: %.6f", at_code_2);
    double worst = 0;
    for (int c = 0; c < 16; c++) {
        worst = fmax(worst, largest_error(&p->f2, p->f2.k6 + c * p->f2_k6_step, &f2));
    }
    cr_expect(fabs(worst - f2.limit) < 0.00005, "F2 over all: %.6f", worst);
    double f4 = hy_resonance_hz(p->f4_k, p->f4_k6, 20000);
    cr_expect(fabs(f4 / 3900 - 1) < 1e-8, "F4 %.9f", f4);
}

Test(part, dampings_give_the_stated_bandwidths)
{
    const hyoid_part *p = hyoid_part_default();
    cr_expect(fabs(hy_bandwidth_hz(p->f1.k6, 20000) - 70) < 1e-5);
    cr_expect(fabs(hy_bandwidth_hz(p->f3.k6, 20000) - 90) < 1e-5);
    cr_expect(fabs(hy_bandwidth_hz(p->f4_k6, 20000) - 130) < 1e-5);
    for (int c = 0; c < 16; c++) {
        double bw = hy_bandwidth_hz(p->f2.k6 + c * p->f2_k6_step, 20000);
        cr_expect(fabs(bw - (30 + 14 * c)) < 2, "bw2 = %d: %.2f Hz", c, bw);
    }
}

/* The helper itself, against values that were computed elsewhere (reference/tables/sc_resonator_values.csv). */
Test(part, acoustics_agree_with_the_published_table)
{
    char *text = slurp(source_path("reference/tables/sc_resonator_values.csv"));
    int rows = 0;
    for (char *line = strchr(text, '\n'); line != NULL && line[1] != '\0'; line = strchr(line + 1, '\n')) {
        double f0, bw, fclk, k, k6;
        cr_assert_eq(sscanf(line + 1, "%lf,%lf,%lf,%lf,%lf", &f0, &bw, &fclk, &k, &k6), 5);
        cr_expect(fabs(hy_resonance_hz(k, k6, fclk) - f0) < 1e-3, "%g Hz", f0);
        cr_expect(fabs(hy_bandwidth_hz(k6, fclk) - bw) < 1e-3, "%g Hz wide", bw);
        rows++;
    }
    cr_expect_eq(rows, 5);
    free(text);
}

Test(part, pulse_is_the_differentiated_flow)
{
    const double pi = acos(-1.0);
    const hyoid_part *p = hyoid_part_default();
    double before = 0;
    int sum = 0;
    cr_expect_eq(p->pulse_length, 90);
    for (unsigned i = 0; i < p->pulse_length; i++) {
        double flow = i < 75 ? 0.5 * (1 - cos(pi * i / 75)) : cos(pi * (i - 75.0) / 28);
        cr_expect_eq(p->pulse[i], (int)floor(1024 * (flow - before) + 0.5), "pulse[%u]", i);
        before = flow;
        sum += p->pulse[i];
    }
    cr_expect_eq(p->pulse[89], -115);
    cr_expect(sum > -8 && sum < 8, "the flow returns to rest, up to rounding: %d", sum);
}

Test(part, spectrum_shares_sum_to_one)
{
    for (unsigned c = 0; c < 16; c++) {
        hy_noise_shares s = hy_spectrum_shares(c);
        cr_expect(fabs(s.fixed + s.f3 + s.f2 - 1) < 1e-12);
    }
    cr_expect_eq(hy_spectrum_shares(0).fixed, 1);
    cr_expect_eq(hy_spectrum_shares(15).f2, 1);
}

/* --- what is wrong with a part --- */

typedef struct bad_part {
    int table;
    const char *find, *put; /* the first occurrence is replaced; an empty `put` takes it away */
    const char *said;       /* the whole message, from the table's name on */
} bad_part;

#define LONG_50 "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx"

static const bad_part bad_parts[] = {
    {HY_CONSTANTS_CSV, "filter_clocks,36", "filter_clocks,36.5",
     "constants.csv:3:15: value \"36.5\"; filter_clocks is a whole number 2..4096"},
    {HY_CONSTANTS_CSV, "filter_clocks,36", "filter_clocks,1",
     "constants.csv:3:15: value \"1\"; filter_clocks is a whole number 2..4096"},
    {HY_CONSTANTS_CSV, "filter_clocks,36", "filter_clocks,99999999999999999999",
     "constants.csv:3:15: value \"99999999999999999999\"; filter_clocks is a whole number 2..4096"},
    {HY_CONSTANTS_CSV, "filter_clocks,36,clock", "filter_clocks,36,Hz",
     "constants.csv:3:18: unit \"Hz\"; filter_clocks is given in \"clock\""},
    {HY_CONSTANTS_CSV, "filter_clocks,36", "filter_clock,36",
     "constants.csv:3:1: no constant \"filter_clock\"; did you mean filter_clocks?"},
    {HY_CONSTANTS_CSV, "filter_clocks,36", "zzz,36",
     "constants.csv:3:1: no constant \"zzz\"; `hyoid part show` lists their names"},
    {HY_CONSTANTS_CSV, "filter_clocks,36", "nominal_hz,720000,Hz,recalled,again\nfilter_clocks,36",
     "constants.csv:3:1: nominal_hz stands on line 2 already"},
    {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,7e400",
     "constants.csv:2:12: value \"7e400\"; nominal_hz is a number 1..100000000"},
    {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,nan",
     "constants.csv:2:12: value \"nan\"; nominal_hz is a number 1..100000000"},
    {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,inf",
     "constants.csv:2:12: value \"inf\"; nominal_hz is a number 1..100000000"},
    {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,0x1p19",
     "constants.csv:2:12: value \"0x1p19\"; nominal_hz is a number 1..100000000"},
    {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,\"720000,0\"",
     "constants.csv:2:12: value \"720000,0\"; nominal_hz is a number 1..100000000"},
    {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,",
     "constants.csv:2:12: value \"\"; nominal_hz is a number 1..100000000"},
    {HY_CONSTANTS_CSV, "f4_k,1.161995613", "f4_k,2",
     "constants.csv:125:6: value \"2\"; f4_k is a number above 0 and below 2"},
    {HY_CONSTANTS_CSV, "pulse[3],", "pulse[256],",
     "constants.csv:22:1: no constant \"pulse[256]\"; pulse has entries pulse[0]..pulse[255]"},
    {HY_CONSTANTS_CSV, "pulse_length,90", "pulse_length,89",
     "constants.csv:108:1: pulse[89] lies beyond pulse_length 89"},
    {HY_CONSTANTS_CSV, "pulse_length,90", "pulse_length,100", "constants.csv: no row for pulse[90], nor for 9 more"},
    {HY_CONSTANTS_CSV, "output_clocks,18", "output_clocks,36",
     "constants.csv:4:1: output_clocks must be 1..filter_clocks - 1"},
    {HY_CONSTANTS_CSV, "noise_seed,32767", "noise_seed,32768",
     "constants.csv:112:1: noise_seed must be 1..2^noise_bits - 1"},
    {HY_CONSTANTS_CSV, "f3.ks,0.00198061", "f3.ks,0.007",
     "constants.csv:123:1: k0 + 255 ks of f3 must be below 2; it is 2.22666"},
    {HY_CONSTANTS_CSV, "recalled", "certain",
     "constants.csv:2:22: confidence \"certain\"; it is published, recalled, derived, fitted, measured or estimate"},
    {HY_CONSTANTS_CSV, "with f1.k0", "",
     "constants.csv:116:30: no source for f1.ks; say where it comes from, if only that it is a guess"},
    {HY_CONSTANTS_CSV, "with f1.k0", "with \x1b[31m f1.k0", "constants.csv:116:35: a control character (0x1b)"},
    {HY_CONSTANTS_CSV, "with f1.k0", "with \xff f1.k0", "constants.csv:116:35: a byte that is not UTF-8 (0xff)"},
    {HY_CONSTANTS_CSV, "with f1.k0", "with, f1.k0",
     "constants.csv:116:36: one field too many; a row has 5: name,value,unit,confidence,source"},
    {HY_CONSTANTS_CSV, ",derived,with f1.k0", "", "constants.csv:116:21: 3 fields of 5; \"confidence\" is missing"},
    {HY_CONSTANTS_CSV, "with f1.k0", "\"with f1.k0",
     "constants.csv:116:30: the quoted field that starts here is not closed on its line"},
    {HY_CONSTANTS_CSV, "with f1.k0", "with \"f1.k0\"",
     "constants.csv:116:35: a quotation mark within a field; quote the whole field and double the mark"},
    {HY_CONSTANTS_CSV, "name,value", "name,number",
     "constants.csv:1:6: column \"number\" where \"value\" belongs; the header is name,value,unit,confidence,source"},
    {HY_CONSTANTS_CSV, "filter_clocks,36", LONG_50 ",36",
     "constants.csv:3:1: no constant \"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...\"; `hyoid part show` lists their names"},
    {HY_PHONEMES_CSV, "0x00,eh,f1,8", "0x00,eh,f1,16",
     "phonemes.csv:2:12: value \"16\"; f1 of 0x00 is a whole number 0..15"},
    {HY_PHONEMES_CSV, "0x00,eh,f1,8", "0x00,eh,f1,-1",
     "phonemes.csv:2:12: value \"-1\"; f1 of 0x00 is a whole number 0..15"},
    {HY_PHONEMES_CSV, "0x00,eh,f1,8", "0x40,eh,f1,8",
     "phonemes.csv:2:1: code \"0x40\"; a phoneme code is 0x00..0x3f"},
    {HY_PHONEMES_CSV, "0x00,eh,f1,8", "0x00,aa,f1,8",
     "phonemes.csv:2:6: symbol \"aa\"; code 0x00 is eh in the chart"},
    {HY_PHONEMES_CSV, "0x00,eh,f1,8", "0x00,eh,f4,8",
     "phonemes.csv:2:9: quantity \"f4\"; it is f1, f2, f3, bw2, va, fa, fc, vd, cld, closure, pause or duration"},
    {HY_PHONEMES_CSV, "0x00,eh,f2,20", "0x00,eh,f1,2", "phonemes.csv:3:1: f1 of 0x00 stands on line 2 already"},
    {HY_PHONEMES_CSV, "0x3f,end,duration,47,ms", "", "phonemes.csv:769:114: 3 fields of 7; \"value\" is missing"},
    {HY_PHONEMES_CSV, "duration,59,ms", "duration,59,s",
     "phonemes.csv:13:21: unit \"s\"; duration of 0x00 is given in \"ms\""},
    {HY_PHONEMES_CSV, "duration,59,ms", "duration,0.02,ms",
     "phonemes.csv:13:18: value \"0.02\"; at this nominal clock a duration is 0.025..3276.75 ms"},
    {HY_PHONEMES_CSV, "duration,59,ms", "duration,3277,ms",
     "phonemes.csv:13:18: value \"3277\"; at this nominal clock a duration is 0.025..3276.75 ms"},
};

static char *edited(const char *text, const char *find, const char *put)
{
    const char *at = strstr(text, find);
    cr_assert(at != NULL, "\"%s\" is not in the table any more", find);
    size_t head = (size_t)(at - text);
    char *out = malloc(strlen(text) + strlen(put) + 1);
    memcpy(out, text, head);
    strcpy(out + head, put);
    strcat(out + head, at + strlen(find));
    return out;
}

/* The compiled-in tables with one edit. */
static hy_partfile *parse_edited(int table, const char *find, const char *put, hy_diag *diag)
{
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    char *text = calloc(1, tables[table].size + 1);
    memcpy(text, tables[table].text, tables[table].size);
    char *other = edited(text, find, put);
    tables[table].text = other;
    tables[table].size = strlen(other);
    hy_partfile *file = hy_partfile_parse("d", tables, diag);
    free(text);
    free(other);
    return file;
}

Test(part, bad_parts_are_refused_in_one_clear_line)
{
    for (size_t i = 0; i < sizeof bad_parts / sizeof bad_parts[0]; i++) {
        const bad_part *b = &bad_parts[i];
        hy_diag diag = {""};
        hy_partfile *file = parse_edited(b->table, b->find, b->put, &diag);
        cr_expect_null(file, "accepted: %s -> %s", b->find, b->put);
        char wanted[600];
        snprintf(wanted, sizeof wanted, "d/%s", b->said);
        cr_expect_str_eq(diag.text, wanted);
        hy_partfile_free(file);
    }
}

Test(part, missing_rows_are_named)
{
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    hy_diag diag = {""};
    const char *last = strstr(tables[HY_PHONEMES_CSV].text, "0x3f,end,pause");
    cr_assert(last != NULL);
    tables[HY_PHONEMES_CSV].size = (size_t)(last - tables[HY_PHONEMES_CSV].text);
    cr_expect_null(hy_partfile_parse("d", tables, &diag));
    cr_expect_str_eq(diag.text, "d/phonemes.csv: no row for pause of 0x3f end, nor for 1 more");

    diag.text[0] = '\0';
    tables[HY_CONSTANTS_CSV].size = 0;
    cr_expect_null(hy_partfile_parse("d", tables, &diag));
    cr_expect_str_eq(diag.text, "d/constants.csv:1:1: empty; the first line is name,value,unit,confidence,source");
}

Test(part, nul_bytes_and_huge_fields_are_refused)
{
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    char *text = malloc(tables[0].size);
    memcpy(text, tables[0].text, tables[0].size);
    text[5] = '\0';
    tables[0].text = text;
    hy_diag diag = {""};
    cr_expect_null(hy_partfile_parse("d", tables, &diag));
    cr_expect_str_eq(diag.text, "d/phonemes.csv:1:6: a NUL byte (0x00)");
    free(text);

    char *huge = malloc(100001);
    memset(huge, 'x', 100000);
    huge[100000] = '\0';
    diag.text[0] = '\0';
    cr_expect_null(parse_edited(HY_CONSTANTS_CSV, "with f1.k0", huge, &diag));
    cr_expect_str_eq(diag.text, "d/constants.csv:116:30: a field of 100000 bytes; at most 2000 are read");
    free(huge);
}

Test(part, harmless_differences_are_accepted)
{
    static const bad_part good[] = {
        {HY_CONSTANTS_CSV, "name,value", "\xef\xbb\xbfname,value", ""},              /* a byte order mark */
        {HY_CONSTANTS_CSV, "name,value", "\n\nname,value", ""},                      /* empty lines */
        {HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,7.2e5", ""},             /* another spelling */
        {HY_CONSTANTS_CSV, "lowpass_k,0", "lowpass_k,-0.0", ""},                     /* minus zero is zero */
        {HY_CONSTANTS_CSV, "with f1.k0", "\"with f1.k0, \"\"so\"\" \xc3\xa9\"", ""}, /* quotes and UTF-8 */
        {HY_CONSTANTS_CSV, "filter_clocks,36,clock,estimate,", "filter_clocks , 36 , clock ,\testimate , ", ""},
        {HY_PHONEMES_CSV, "0x00,eh,f1,8,", "0,eh,f1,008,", ""},
        {HY_PHONEMES_CSV, "0x00,eh,f1", "0x00,\"eh\",f1", ""},
    };
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        hy_diag diag = {""};
        hy_partfile *file = parse_edited(good[i].table, good[i].find, good[i].put, &diag);
        cr_assert(file != NULL, "%s -> %s: %s", good[i].find, good[i].put, diag.text);
        cr_expect_eq(hyoid_part_hash(hy_partfile_part(file)), hyoid_part_hash(hyoid_part_default()));
        hy_partfile_free(file);
    }
}

Test(part, durations_follow_the_nominal_clock_of_the_part)
{
    hy_diag diag = {""};
    hy_partfile *file = parse_edited(HY_CONSTANTS_CSV, "nominal_hz,720000", "nominal_hz,1000000", &diag);
    cr_assert(file != NULL, "%s", diag.text);
    /* 59 ms * 1 MHz / 36 / 1000 = 1638.9 */
    cr_expect_eq(hy_partfile_part(file)->phoneme[0].duration, 1639);
    hy_partfile_free(file);
}

Test(part, folders_that_are_none_are_refused)
{
    hy_diag diag = {""};
    cr_expect_null(hy_partfile_read("/nonexistent", &diag));
    cr_expect_str_eq(diag.text, "/nonexistent/phonemes.csv: No such file or directory");
    hy_partfile_free(NULL);
}
