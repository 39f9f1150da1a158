/* The differences of two parts as text and as JSON. */
#include <math.h>
#include <string.h>

#include "jsonfile.h"
#include "partdiff.h"

static unsigned long long fingerprint(const hy_diff *d, int which)
{
    return (unsigned long long)hyoid_part_hash(hy_partfile_part(d->file[which]));
}

static const char *raw(const hy_difference *e, int which)
{
    return e->known[which] != NULL ? e->known[which]->value : "-";
}

static const char *word(const hy_difference *e, int which)
{
    return e->known[which] != NULL ? e->known[which]->confidence : "-";
}

static void print_head(FILE *out, const char *what)
{
    fprintf(out, "\n%-21s %11s %11s  %-33s %12s %12s  %-22s %s\n", what, "A", "B", "as it sounds", "A", "B", "B - A",
            "known: A, B");
}

static void print_one(FILE *out, const hy_difference *e)
{
    hy_sense_text a = hy_sense_say(&e->sense[0]);
    hy_sense_text b = hy_sense_say(&e->sense[1]);
    hy_sense_text d = hy_sense_difference(&e->sense[0], &e->sense[1]);
    int same = strcmp(e->sense[0].what, e->sense[1].what) == 0;
    char what[80];
    snprintf(what, sizeof what, "%.38s%s%.38s", e->sense[0].what, same ? "" : "/", same ? "" : e->sense[1].what);
    fprintf(out, "%-21s %11s %11s  %-33s %12s %12s  %-22s %s, %s\n", e->name, raw(e, 0), raw(e, 1), what, a.text,
            b.text, same ? d.text : "", word(e, 0), word(e, 1));
}

void hy_diff_print(const hy_diff *d, FILE *out)
{
    for (int i = 0; i < 2; i++) {
        fprintf(out, "%c: %s, fingerprint %016llx, nominal clock %.10g Hz\n", "AB"[i], d -> name[i],
                fingerprint(d, i), hy_partfile_part(d->file[i]) -> nominal_hz);
    }
    if (d->count == 0) {
        fprintf(out, "The parts are equal.");
    } else {
        fprintf(out, "%zu number%s: %zu of the phonemes, %zu constant%s. Sounds are at each part's nominal clock.",
                d->count, d->count == 1 ? " differs" : "s differ", d->phonemes, d->count - d->phonemes,
                d->count - d->phonemes == 1 ? "" : "s");
    }
    if (d->known_otherwise > 0) {
        fprintf(out, " Of %zu equal number%s confidence or source differ.", d->known_otherwise,
                d->known_otherwise == 1 ? "" : "s");
    }
    fputc('\n', out);
    for (size_t i = 0; i < d->count; i++) {
        if (i == 0 || i == d->phonemes) {
            print_head(out, i < d->phonemes ? "phonemes" : "constants");
        }
        print_one(out, &d->difference[i]);
    }
}

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *json_side(const hy_difference *e, int which)
{
    const hy_provenance *known = e->known[which];
    if (known == NULL) {
        return json_null();
    }
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:o}", "value", known->value, "unit", known->unit, "confidence",
                     known->confidence, "source", known->source, "sounds", hy_sense_say(&e->sense[which]).text,
                     "sounds_value", number(e->sense[which].value));
}

static json_t *json_one(const hy_difference *e)
{
    double change = e->sense[1].value - e->sense[0].value;
    return json_pack("{s:s, s:o, s:o, s:s, s:s, s:o, s:o, s:o}", "name", e->name, "code",
                     e->code >= 0 ? json_integer(e->code) : json_null(), "quantity",
                     e->quantity != NULL ? json_string(e->quantity) : json_null(), "sounds_as", e->sense[0].what,
                     "sounds_unit", e->sense[0].unit, "a", json_side(e, 0), "b", json_side(e, 1), "change",
                     number(change));
}

static json_t *json_part(const hy_diff *d, int which)
{
    char hash[24];
    snprintf(hash, sizeof hash, "%016llx", fingerprint(d, which));
    return json_pack("{s:s, s:s, s:f}", "part", d->name[which], "fingerprint", hash, "nominal_hz",
                     hy_partfile_part(d->file[which])->nominal_hz);
}

int hy_diff_json(const hy_diff *d, FILE *out, hy_diag *diag)
{
    json_t *list = json_array();
    for (size_t i = 0; i < d->count; i++) {
        json_array_append_new(list, json_one(&d->difference[i]));
    }
    json_t *root = json_pack("{s:o, s:o, s:b, s:I, s:o}", "a", json_part(d, 0), "b", json_part(d, 1), "equal",
                             d->count == 0, "known_otherwise", (json_int_t)d->known_otherwise, "differences", list);
    return hy_json_write(root, out, 10, diag);
}
