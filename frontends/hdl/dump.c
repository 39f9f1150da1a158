/* What the pair remembers, as a value change dump (IEEE 1364-2005, clause 18). */
#include <inttypes.h>

#include "outfile.h"
#include "partfile_fields.h"
#include "report.h"

typedef struct wave {
    const char *scope, *name;
    unsigned width;
} wave;

/* In the order of their identifiers, from '!' on. */
enum { CLK, P, I0, I1, STROBE, EDGE, GOT, WANT = GOT + HY_FIELDS, WAVES = WANT + HY_FIELDS };

/* Clocks of a quiet stretch whose edges are drawn: all of them would fill a disk. */
enum { DRAWN = 40 };

static const wave waves[WAVES] = {
    {"pins", "clk", 1},      {"pins", "p", 6},       {"pins", "i0", 1},        {"pins", "i1", 1},
    {"pins", "strobe", 1},   {"pins", "edge", 1},    {"design", "request", 1}, {"design", "phoneme", 6},
    {"design", "slot", 5},   {"design", "level", 2}, {"design", "audio", 32},  {"model", "request", 1},
    {"model", "phoneme", 6}, {"model", "slot", 5},   {"model", "level", 2},    {"model", "audio", 32},
};

static int wanted(const hy_pair *pair, unsigned w)
{
    return w < GOT || (pair->setup.checks & 1u << (w < WANT ? w - GOT : w - WANT)) != 0;
}

static void header(const hy_pair *pair, FILE *out)
{
    fprintf(
        out,
        "$version hyoid lockstep %d.%d.%d $end\n"
        "$comment two time units a clock: clock n rises at 2 n; what a clock did stands from 2 n on; in a stretch "
        "in which nothing changes, clk is drawn for %d clocks $end\n",
        HYOID_VERSION_MAJOR, HYOID_VERSION_MINOR, HYOID_VERSION_PATCH, DRAWN);
    const char *note = hy_part_note(&pair->part);
    if (note[0] != '\0') {
        fprintf(out, "$comment %s $end\n", note);
    }
    fputs("$timescale 1 us $end\n", out);
    const char *scope = "";
    for (unsigned w = 0; w < WAVES; w++) {
        if (waves[w].scope != scope && waves[w].scope[0] != scope[0]) {
            fprintf(out, "%s$scope module %s $end\n", scope[0] != '\0' ? "$upscope $end\n" : "", waves[w].scope);
            scope = waves[w].scope;
        }
        if (wanted(pair, w)) {
            fprintf(out, "$var wire %u %c %s", waves[w].width, '!' + (int)w, waves[w].name);
            fprintf(out, waves[w].width > 1 ? " [%u:0] $end\n" : " $end\n", waves[w].width - 1);
        }
    }
    fprintf(out, "$upscope $end\n$enddefinitions $end\n");
}

static void change(unsigned w, uint32_t value, int unknown, FILE *out)
{
    const char id = (char)('!' + (int)w);
    if (waves[w].width == 1) {
        fprintf(out, "%c%c\n", unknown ? 'x' : value ? '1' : '0', id);
        return;
    }
    fputc('b', out);
    for (unsigned bit = waves[w].width; bit > 0; bit--) {
        fputc(unknown ? 'x' : value >> (bit - 1) & 1 ? '1' : '0', out);
    }
    fprintf(out, " %c\n", id);
}

static void outputs(const hy_pair *pair, const hy_record *r, FILE *out)
{
    for (hy_field field = HY_REQUEST; field < HY_FIELDS; field++) {
        if (pair->setup.checks & 1u << field) {
            change(GOT + field, (uint32_t)hy_word_field(r->got, field), (r->got & HY_UNKNOWN(field)) != 0, out);
            change(WANT + field, (uint32_t)hy_word_field(r->want, field), 0, out);
        }
    }
}

static void clocks(const hy_pair *pair, const hy_record *r, uint64_t until, FILE *out)
{
    const uint64_t drawn = until - r->clock < DRAWN ? until : r->clock + DRAWN;
    for (uint64_t clock = r->clock; clock < drawn; clock++) {
        fprintf(out, "#%" PRIu64 "\n%c!\n", clock * 2, clock > 0 ? '1' : '0'); /* clock 0 is power-up, no edge */
        if (clock == r->clock) {
            change(P, hy_word_code(r->pins), 0, out);
            change(I0, hy_word_inflection(r->pins) & 1, 0, out);
            change(I1, hy_word_inflection(r->pins) >> 1, 0, out);
            change(STROBE, hy_word_strobe(r->pins), 0, out);
            change(EDGE, r->edge, 0, out);
            outputs(pair, r, out);
        }
        fprintf(out, "#%" PRIu64 "\n0!\n", clock * 2 + 1);
    }
}

int hy_report_dump(const hy_pair *pair, const char *path, hy_diag *diag)
{
    hy_outfile *file = hy_outfile_open(path, diag);
    if (file == NULL) {
        return -1;
    }
    FILE *out = hy_outfile_stream(file);
    header(pair, out);
    const uint64_t oldest = pair->records > HY_HISTORY ? pair->records - HY_HISTORY : 0;
    for (uint64_t at = oldest; at < pair->records; at++) {
        const hy_record *r = &pair->history[at % HY_HISTORY];
        const uint64_t next = at + 1 < pair->records ? pair->history[(at + 1) % HY_HISTORY].clock : r->clock + 1;
        clocks(pair, r, next, out);
    }
    return hy_outfile_commit(file, diag);
}
