#include "partdiff.h"

#include <stdlib.h>
#include <string.h>

#include "score.h"

static int same_text(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}

static hy_difference *add(hy_diff *d)
{
    enum { MOST = HYOID_PHONEMES * HY_QUANTITIES + HY_CONSTANT_SLOTS };
    if (d->difference == NULL) {
        d->difference = calloc(MOST, sizeof *d->difference);
    }
    return d->difference != NULL ? &d->difference[d->count++] : NULL;
}

static unsigned quantity_of(const hyoid_part *part, unsigned code, int quantity)
{
    const hyoid_phoneme *p = &part->phoneme[code];
    return quantity == HY_DURATION ? p->duration : *((const uint8_t *)p + hy_quantities[quantity].offset);
}

static int same_constant(const hyoid_part *a, const hyoid_part *b, const hy_constant *c, unsigned index)
{
    static const size_t sizes[] = {
        [HY_KIND_COUNT] = sizeof(uint32_t), [HY_KIND_STEP] = sizeof(int16_t), [HY_KIND_REAL] = sizeof(double)};
    size_t at = c->offset + index * sizes[c->kind];
    return memcmp((const char *)a + at, (const char *)b + at, sizes[c->kind]) == 0; /* a part has no minus zero */
}

static void count_known(hy_diff *d, const hy_provenance *a, const hy_provenance *b)
{
    d->known_otherwise += !same_text(a->confidence, b->confidence) || !same_text(a->source, b->source);
}

static int diff_phonemes(hy_diff *d)
{
    const hyoid_part *parts[2] = {hy_partfile_part(d->file[0]), hy_partfile_part(d->file[1])};
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (int q = 0; q < HY_QUANTITIES; q++) {
            const char *name = hy_quantities[q].name;
            const hy_provenance *known[2] = {hy_partfile_phoneme(d->file[0], code, name),
                                             hy_partfile_phoneme(d->file[1], code, name)};
            /* the same milliseconds at another nominal clock are other cycles, but not another number */
            if (quantity_of(parts[0], code, q) == quantity_of(parts[1], code, q) ||
                (q == HY_DURATION && same_text(known[0]->value, known[1]->value))) {
                count_known(d, known[0], known[1]);
                continue;
            }
            hy_difference *new = add(d);
            if (new == NULL) {
                return -1;
            }
            snprintf(new->name, sizeof new->name, "0x%02x %s %s", code, hy_symbols[code].symbol, name);
            new->code = (int)code;
            new->quantity = name;
            for (int i = 0; i < 2; i++) {
                new->known[i] = known[i];
                new->sense[i] = hy_sense_of_quantity(parts[i], code, q);
            }
        }
    }
    d->phonemes = d->count;
    return 0;
}

static int diff_constants(hy_diff *d)
{
    const hyoid_part *parts[2] = {hy_partfile_part(d->file[0]), hy_partfile_part(d->file[1])};
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        for (unsigned k = 0; k < (c->count > 0 ? c->count : 1); k++) {
            char buffer[64];
            const char *name = hy_constant_name(c, k, buffer, sizeof buffer);
            const hy_provenance *known[2] = {hy_partfile_constant(d->file[0], name),
                                             hy_partfile_constant(d->file[1], name)};
            if (known[0] == NULL && known[1] == NULL) {
                break; /* beyond both pulses */
            }
            if (known[0] != NULL && known[1] != NULL && same_constant(parts[0], parts[1], c, k)) {
                count_known(d, known[0], known[1]);
                continue;
            }
            hy_difference *new = add(d);
            if (new == NULL) {
                return -1;
            }
            snprintf(new->name, sizeof new->name, "%.39s", name);
            new->code = -1;
            for (int j = 0; j < 2; j++) {
                new->known[j] = known[j];
                new->sense[j] = hy_sense_of_constant(parts[j], c, k);
            }
        }
    }
    return 0;
}

int hy_diff_make(hy_diff *d, const hy_partfile *a, const char *a_name, const hy_partfile *b, const char *b_name,
                 hy_diag *diag)
{
    *d = (hy_diff){.name = {a_name, b_name}, .file = {a, b}};
    if (diff_phonemes(d) != 0 || diff_constants(d) != 0) {
        hy_diff_free(d);
        return hy_fail(diag, "out of memory");
    }
    return 0;
}

void hy_diff_free(hy_diff *d)
{
    free(d->difference);
    d->difference = NULL;
    d->count = 0;
}
