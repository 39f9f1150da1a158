#include "partwrite.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "number.h"
#include "outfile.h"
#include "partfile_fields.h"

static const double WELL = 0.1; /* relative error up to which a constant is called measured, not only fitted */

/* A CSV field, quoted if it must be. */
static void field(FILE *out, const char *text)
{
    if (strpbrk(text, ",\"") == NULL) {
        fputs(text, out);
        return;
    }
    fputc('"', out);
    for (; *text != '\0'; text++) {
        if (*text == '"') {
            fputc('"', out);
        }
        fputc(*text, out);
    }
    fputc('"', out);
}

static void row_end(FILE *out, const char *value, const char *unit, const char *confidence, const char *source)
{
    fprintf(out, ",%s,%s,%s,", value, unit, confidence);
    field(out, source);
    fputc('\n', out);
}

/* Milliseconds that come to so many filter cycles: whole ones if there are such. */
static hy_number_text ms_of(const hyoid_part *p, unsigned cycles)
{
    double ms = p->nominal_hz / p->filter_clocks / 1000, whole = round(cycles / ms);
    if ((unsigned)floor(whole * ms + 0.5) == cycles) {
        return hy_double_text(whole);
    }
    return hy_double_text(round(cycles / ms * 1000) / 1000);
}

/* Where a duration comes from: the capture, to so many cycles, or the recordings. */
static const char *duration_source(const hy_partwrite *w, unsigned code, char *room, size_t size)
{
    const hy_pins *pins = w->session->pins;
    if (w->pins_source == NULL || hy_pins_duration(pins, code, 0) == 0) {
        return w->source;
    }
    if (pins->least[code] == pins->most[code]) {
        snprintf(room, size, "%s; exact", w->pins_source);
    } else {
        snprintf(room, size, "%s; %u to %u filter cycles fit", w->pins_source, pins->least[code], pins->most[code]);
    }
    return room;
}

static void write_phonemes(const hy_partwrite *w, FILE *out)
{
    const hyoid_part *now = &w->session->part, *before = w->session->prior;
    fprintf(out, "code,symbol,quantity,value,unit,confidence,source\n");
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        for (int q = 0; q < HY_QUANTITIES; q++) {
            const hy_provenance *known = hy_partfile_phoneme(w->prior, c, hy_quantities[q].name);
            fprintf(out, "0x%02x,%s,%s", c, hy_symbols[c].symbol, hy_quantities[q].name);
            if (q == HY_DURATION) {
                int measured = w->session->duration_sigma[c] > 0;
                int same = now->phoneme[c].duration == before->phoneme[c].duration;
                hy_number_text ms = ms_of(now, now->phoneme[c].duration);
                char room[700];
                row_end(out, same ? known->value : ms.text, known->unit, measured ? "measured" : known->confidence,
                        measured ? duration_source(w, c, room, sizeof room) : known->source);
                continue;
            }
            unsigned a = hy_fit_value(now, c, (unsigned)q), b = hy_fit_value(before, c, (unsigned)q);
            int found = w->session->fit != NULL && q < HY_FIT_QUANTITIES &&
                        hy_fit_finding(w->session->fit, c, (unsigned)q)->determined;
            char value[16];
            snprintf(value, sizeof value, "%u", a);
            row_end(out, value, known->unit, found || a != b ? "measured" : known->confidence,
                    found || a != b ? w->source : known->source);
        }
    }
}

static void write_constants(const hy_partwrite *w, FILE *out)
{
    const hyoid_part *now = &w->session->part, *before = w->session->prior;
    fprintf(out, "name,value,unit,confidence,source\n");
    for (int i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        unsigned entries = hy_constant_entries(c, now);
        int pitch = strcmp(c->name, "pitch_period") == 0;
        int by_pins =
            strcmp(c->name, "request_delay") == 0 && w->pins_source != NULL && hy_pins_delay(w->session->pins) >= 0;
        for (unsigned k = 0; k < entries; k++) {
            char room[64], text[64];
            const char *name = hy_constant_name(c, k, room, sizeof room);
            const hy_provenance *known = hy_partfile_constant(w->prior, name);
            const char *a = (const char *)now + c->offset, *b = (const char *)before + c->offset;
            int same;
            if (c->kind == HY_KIND_REAL) {
                double x = ((const double *)(const void *)a)[k];
                same = x == ((const double *)(const void *)b)[k];
                snprintf(text, sizeof text, "%s", hy_double_text(x).text);
            } else if (c->kind == HY_KIND_STEP) {
                int x = ((const int16_t *)(const void *)a)[k];
                same = known != NULL && x == ((const int16_t *)(const void *)b)[k];
                snprintf(text, sizeof text, "%d", x);
            } else {
                uint32_t x = ((const uint32_t *)(const void *)a)[k];
                same =
                    x == ((const uint32_t *)(const void *)b)[k] && !(pitch && w->session->pitch_found[k]) && !by_pins;
                snprintf(text, sizeof text, "%u", x);
            }
            fputs(name, out);
            if (same) {
                row_end(out, known->value, known->unit, known->confidence, known->source);
            } else if (by_pins) {
                row_end(out, text, c->unit, "measured", w->pins_source);
            } else {
                double error = hy_fit_constant_error(w->session->fit, c->offset);
                char source[700];
                snprintf(source, sizeof source, error > 0 ? "%s; this one to about %.2g %%" : "%s", w->source,
                         100 * fmin(error, 9.99));
                row_end(out, text, c->unit, error <= WELL ? "measured" : "fitted", source);
            }
        }
    }
}

enum { TABLES = 2 };
static const struct {
    const char *name;
    void (*write)(const hy_partwrite *, FILE *);
} tables[TABLES] = {{"phonemes.csv", write_phonemes}, {"constants.csv", write_constants}};

/* What was written must be what was found. */
static hy_partfile *read_back(const hy_partwrite *w, const char *folder, const char *shown, hy_diag *diag)
{
    hy_partfile *file = hy_partfile_read(folder, diag);
    if (file != NULL && hyoid_part_hash(hy_partfile_part(file)) != hyoid_part_hash(&w->session->part)) {
        hy_fail(diag, "%s: what was written does not read back as what was found", shown);
        hy_partfile_free(file);
        return NULL;
    }
    return file;
}

hy_outfolder *hy_partwrite_new(const hy_partwrite *w, const char *folder, hy_partfile **found, hy_diag *diag)
{
    hy_outfolder *out = hy_outfolder_open(folder, diag);
    int status = out != NULL ? 0 : -1;
    for (int i = 0; status == 0 && i < TABLES; i++) {
        FILE *file = hy_outfolder_file(out, tables[i].name, diag);
        status = -1;
        if (file != NULL) {
            tables[i].write(w, file);
            status = hy_outfolder_close(out, file, diag);
        }
    }
    *found = status == 0 ? read_back(w, hy_outfolder_now(out), folder, diag) : NULL;
    if (*found == NULL) {
        hy_outfolder_abandon(out);
        return NULL;
    }
    return out;
}

static int path_in(const char *folder, const char *name, char path[4096], hy_diag *diag)
{
    int length = snprintf(path, 4096, "%s/%s", folder, name);
    return length >= 0 && length < 4096 ? 0 : hy_fail(diag, "%.200s...: the path is too long", folder);
}

int hy_partwrite_keep(const hy_partwrite *w, const char *folder, hy_diag *diag)
{
    if (mkdir(folder, 0777) != 0 && errno != EEXIST) {
        return hy_fail(diag, "cannot write %s: %s", folder, strerror(errno));
    }
    hy_outfile *out[TABLES] = {NULL};
    int status = 0;
    for (int i = 0; status == 0 && i < TABLES; i++) {
        char path[4096];
        status = path_in(folder, tables[i].name, path, diag);
        out[i] = status == 0 ? hy_outfile_open(path, diag) : NULL;
        status = out[i] != NULL ? 0 : -1;
        if (out[i] != NULL) {
            tables[i].write(w, hy_outfile_stream(out[i]));
            status = hy_outfile_finish(out[i], diag);
        }
    }
    for (int i = 0; i < TABLES; i++) {
        if (status == 0) {
            status = hy_outfile_commit(out[i], diag);
        } else {
            hy_outfile_abandon(out[i]);
        }
    }
    return status;
}

void hy_partwrite_remove(const char *folder)
{
    hy_diag unused = {""};
    for (int i = 0; i < TABLES; i++) {
        char path[4096];
        if (path_in(folder, tables[i].name, path, &unused) == 0) {
            unlink(path);
        }
    }
    rmdir(folder);
}
