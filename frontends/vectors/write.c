#include "write.h"

#include <inttypes.h>
#include <string.h>

#include "jsonfile.h"
#include "partfile_fields.h"
#include "perform.h"
#include "vcd.h"

extern const unsigned char hy_vectors_testbench[];
extern const size_t hy_vectors_testbench_size;

typedef struct writer {
    const hy_vectors *v;
    hy_outfolder *folder;
    hy_diag *diag;
    json_t *files; /* the manifest's list */
} writer;

/* ---- the manifest's list ---- */

static void list(writer *w, const char *name, uint64_t rows, unsigned digits, const char *what)
{
    json_t *file = json_object();
    json_object_set_new(file, "name", json_string(name));
    if (rows > 0) {
        json_object_set_new(file, "rows", json_integer((json_int_t)rows));
        json_object_set_new(file, "hex_digits", json_integer(digits));
    }
    json_object_set_new(file, "what", json_string(what));
    json_array_append_new(w->files, file);
}

/* ---- $readmemh ---- */

/* `digits` digits and a newline; many rows, so no printf. */
static void put_row(uint32_t value, unsigned digits, FILE *out)
{
    char row[10];
    for (unsigned i = digits; i > 0; i--) {
        row[i - 1] = "0123456789abcdef"[value & 15];
        value >>= 4;
    }
    row[digits] = '\n';
    fwrite(row, 1, digits + 1, out);
}

typedef uint32_t row_of(const hy_vectors *v, uint64_t row);

static int memory(writer *w, const char *name, uint64_t rows, unsigned digits, row_of *value, const char *what)
{
    FILE *out = hy_outfolder_file(w->folder, name, w->diag);
    if (out == NULL) {
        return -1;
    }
    for (uint64_t row = 0; row < rows; row++) {
        put_row(value(w->v, row), digits, out);
    }
    list(w, name, rows, digits, what);
    return hy_outfolder_close(w->folder, out, w->diag);
}

static uint32_t duration_row(const hy_vectors *v, uint64_t row)
{
    return v->part->phoneme[row].duration;
}

static uint32_t stimulus_row(const hy_vectors *v, uint64_t row)
{
    return v->track->stimulus[row];
}

static uint32_t expected_row(const hy_vectors *v, uint64_t row)
{
    return v->track->request[row];
}

static uint32_t mask_row(const hy_vectors *v, uint64_t row)
{
    return v->mask[row];
}

static uint32_t level_row(const hy_vectors *v, uint64_t row)
{
    const uint32_t code = (uint32_t)v->track->level[row];
    return v->bits < 32 ? code & ((UINT32_C(1) << v->bits) - 1) : code;
}

/* ---- Verilog headers ---- */

static unsigned power_up_code(const hyoid_part *part)
{
    unsigned code = 0;
    while (code < HYOID_PHONEMES && !part->phoneme[code].pause) {
        code++;
    }
    return code < HYOID_PHONEMES ? code : 0;
}

static unsigned shortest(const hyoid_part *part)
{
    unsigned least = part->phoneme[0].duration;
    for (unsigned code = 1; code < HYOID_PHONEMES; code++) {
        least = part->phoneme[code].duration < least ? part->phoneme[code].duration : least;
    }
    return least;
}

static int part_header(writer *w)
{
    const hyoid_part *part = w->v->part;
    FILE *out = hy_outfolder_file(w->folder, "part.vh", w->diag);
    if (out == NULL) {
        return -1;
    }
    fprintf(out,
            "// Numbers of the part %s, fingerprint %016" PRIx64 ", by hyoid %d.%d.%d.\n"
            "`define HYOID_FILTER_CLOCKS %" PRIu32 "  // clocks in a filter cycle\n"
            "`define HYOID_OUTPUT_CLOCKS %" PRIu32 "  // from its start until the audio pin takes the level\n"
            "`define HYOID_REQUEST_DELAY %" PRIu32 "  // clocks from the latch until request is low\n"
            "`define HYOID_POWER_UP_CODE %u  // the phoneme after power-up\n"
            "`define HYOID_SHORTEST %u  // filter cycles of the shortest phoneme in durations.hex\n",
            w->v->part_name != NULL ? "given" : "built in (an estimate)", hyoid_part_hash(part), HYOID_VERSION_MAJOR,
            HYOID_VERSION_MINOR, HYOID_VERSION_PATCH, part->filter_clocks, part->output_clocks, part->request_delay,
            power_up_code(part), shortest(part));
    list(w, "part.vh", 0, 0, "numbers of the part, as macros");
    return hy_outfolder_close(w->folder, out, w->diag);
}

static int vectors_header(writer *w)
{
    const hy_vectors *v = w->v;
    FILE *out = hy_outfolder_file(w->folder, "vectors.vh", w->diag);
    if (out == NULL) {
        return -1;
    }
    fprintf(out,
            "// What the test bench needs to know of the vectors.\n"
            "`include \"part.vh\"\n"
            "`define HYOID_CLOCKS %" PRIu64 "  // rows of the files by clock go from 0 to here\n"
            "`define HYOID_LEVELS %" PRIu64 "  // rows of levels.hex go from 0 to here\n"
            "`define HYOID_FIRST_LEVEL %" PRIu32 "  // clock in which the audio pin takes level 1\n"
            "`define HYOID_AUDIO_BITS %u  // two's complement\n"
            "`define HYOID_AUDIO_FRACTION %u  // bits behind the point: 1.0 is 2 to the power of this\n"
            "`define HYOID_PERIOD %.3f  // ns, the nominal clock; the vectors count clocks and do not need it\n",
            v->track->clocks, v->track->levels, v->part->filter_clocks + v->part->output_clocks, v->bits, v->fraction,
            1e9 / v->part->nominal_hz);
    list(w, "vectors.vh", 0, 0, "counts and scale of the vectors, as macros");
    return hy_outfolder_close(w->folder, out, w->diag);
}

static int testbench(writer *w)
{
    FILE *out = hy_outfolder_file(w->folder, "testbench.v", w->diag);
    if (out == NULL) {
        return -1;
    }
    fwrite(hy_vectors_testbench, 1, hy_vectors_testbench_size, out);
    list(w, "testbench.v", 0, 0, "a test bench for Icarus Verilog; says PASS or the first mismatch");
    return hy_outfolder_close(w->folder, out, w->diag);
}

/* ---- pins.vcd ---- */

typedef struct dump {
    hy_vcd *vcd;
    const hy_log *log;
} dump;

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    (void)cycle;
    hy_vcd_level(((dump *)user)->vcd, ps, fraction, value);
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    (void)cycle;
    hy_vcd_request(((dump *)user)->vcd, ps, level);
}

static void on_input(void *user, const hy_event *event)
{
    hy_vcd_input(((dump *)user)->vcd, event, ((dump *)user)->log);
}

static int pins(writer *w)
{
    const char *place = hy_outfolder_place(w->folder, "pins.vcd", w->diag);
    dump d = {NULL, w->v->input->log};
    if (place == NULL || (d.vcd = hy_vcd_open(place, HY_VCD_ALL, hy_part_note(w->v->part), w->diag)) == NULL) {
        return -1;
    }
    const hy_performance performance = {.log = w->v->input->log,
                                        .part = w->v->part,
                                        .end_ps = w->v->end_ps,
                                        .observer = {.user = &d, .level = on_level, .request = on_request},
                                        .input = on_input};
    if (hy_perform(&performance, w->diag) != 0 || hy_vcd_finish(d.vcd, w->v->end_ps, w->diag) != 0) {
        hy_vcd_abandon(d.vcd);
        return -1;
    }
    list(w, "pins.vcd", 0, 0, "the same pins in the host's time, 1 ns, as hyoid render --pins writes them");
    return hy_vcd_commit(d.vcd, w->diag);
}

/* ---- manifest.json ---- */

static uint64_t compared(const hy_vectors *v, unsigned bit)
{
    uint64_t count = 0;
    for (uint64_t clock = 0; clock <= v->track->clocks; clock++) {
        count += (v->mask[clock] & bit) != 0;
    }
    return count;
}

static json_t *about_vectors(const hy_vectors *v)
{
    const hy_track *t = v->track;
    return json_pack("{s:I, s:I, s:I, s:f, s:b, s:{s:I, s:I, s:i, s:i, s:I, s:s}, s:{s:s, s:I, s:I, s:I}}", "clocks",
                     (json_int_t)t->clocks, "strobes", (json_int_t)t->strobes, "request_rises", (json_int_t)t->rises,
                     "clock_hz", t->first_hz, "clock_moved", t->clock_moved, "levels", "count", (json_int_t)t->levels,
                     "first_in_clock", (json_int_t)v->part->filter_clocks + v->part->output_clocks, "bits",
                     (int)v->bits, "fraction_bits", (int)v->fraction, "clipped", (json_int_t)t->clipped, "scale",
                     "signed two's complement; 1.0 on the model's audio pin is 2^fraction_bits", "mask", "ignored",
                     v->masked.ignore != NULL ? v->masked.ignore : "", "slack_clocks", (json_int_t)v->masked.slack,
                     "request_compared", (json_int_t)compared(v, HY_MASK_REQUEST), "audio_compared",
                     (json_int_t)compared(v, HY_MASK_AUDIO));
}

static int manifest(writer *w)
{
    const hy_vectors *v = w->v;
    char version[32], hash[24];
    snprintf(version, sizeof version, "%d.%d.%d", HYOID_VERSION_MAJOR, HYOID_VERSION_MINOR, HYOID_VERSION_PATCH);
    snprintf(hash, sizeof hash, "%016" PRIx64, hyoid_part_hash(v->part));
    json_t *whole = json_pack("{s:s, s:s, s:{s:s, s:s, s:I, s:I, s:I, s:f}}", "format", "hyoid vectors 1", "hyoid",
                              version, "part", "name", v->part_name != NULL ? v->part_name : "built in (an estimate)",
                              "fingerprint", hash, "filter_clocks", (json_int_t)v->part->filter_clocks,
                              "output_clocks", (json_int_t)v->part->output_clocks, "request_delay",
                              (json_int_t)v->part->request_delay, "nominal_hz", v->part->nominal_hz);
    int failed = whole == NULL || json_object_set(whole, "files", w->files) != 0;
    if (!failed && v->input != NULL) {
        failed = json_object_set_new(whole, "input", json_string(v->input_name)) != 0 ||
                 json_object_set_new(whole, "vectors", about_vectors(v)) != 0;
    }
    FILE *out = hy_outfolder_file(w->folder, "manifest.json", w->diag);
    if (out == NULL) {
        json_decref(whole);
        return -1;
    }
    if (failed) {
        json_decref(whole);
        whole = NULL;
    }
    if (hy_json_write(whole, out, 17, w->diag) != 0) {
        fclose(out);
        return -1;
    }
    return hy_outfolder_close(w->folder, out, w->diag);
}

static int by_clock(writer *w)
{
    const hy_track *t = w->v->track;
    return memory(w, "stimulus.hex", t->clocks + 1, 4, stimulus_row,
                  "by clock: 15 strobe rose, 14:9 the code at that edge, 8 strobe, 7:6 inflection, 5:0 code") != 0 ||
                   memory(w, "expected.hex", t->clocks + 1, 1, expected_row, "by clock: 0 request after it") != 0 ||
                   memory(w, "mask.hex", t->clocks + 1, 1, mask_row,
                          "by clock: 0 compare request, 1 compare audio; 0 is don't care") != 0 ||
                   memory(w, "levels.hex", t->levels + 1, (w->v->bits + 3) / 4, level_row,
                          "levels of the audio pin, one a filter cycle; row 0 is before the first") != 0
               ? -1
               : 0;
}

int hy_vectors_write(const hy_vectors *vectors, hy_outfolder *folder, hy_diag *diag)
{
    writer w = {vectors, folder, diag, json_array()};
    int failed = part_header(&w) != 0 ||
                 memory(&w, "durations.hex", HYOID_PHONEMES, 4, duration_row, "filter cycles by code") != 0;
    if (!failed && vectors->input != NULL) {
        failed = by_clock(&w) != 0 || vectors_header(&w) != 0 || testbench(&w) != 0 || pins(&w) != 0;
    }
    failed = failed || manifest(&w) != 0;
    json_decref(w.files);
    return failed ? -1 : 0;
}
