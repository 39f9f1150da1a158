#include "rows.h"

#include <string.h>

#include "partfile_fields.h"

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

int hy_chart_make(hy_chart *chart, const hy_partfile *file, const char *part, hy_diag *diag)
{
    const hyoid_part *numbers = hy_partfile_part(file);
    int is_default = hyoid_part_hash(numbers) == hyoid_part_hash(hyoid_part_default());
    *chart = (hy_chart){
        .file = file,
        .part = part,
        .note = part == NULL || is_default
                    ? hy_default_part_note
                    : "The figures are those of the part that was given; how sure each is stands beside it.",
    };
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        hy_chart_row *r = &chart->row[code];
        r->symbol = &hy_symbols[code];
        r->ms = hy_partfile_phoneme(file, code, "duration")->value;
        r->known = least_sure(file, code);
        r->hz = hy_phoneme_formants(numbers, code);
        if (hy_measure(&r->measured, numbers, code, diag) != 0) {
            return -1;
        }
    }
    return 0;
}
