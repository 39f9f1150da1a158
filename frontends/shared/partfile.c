#include "partfile.h"

#include <stdlib.h>
#include <string.h>

#include "partfile_private.h"
#include "score.h"

/* Every number must be there; the first that isn't is named, the others are counted. */
typedef struct missing {
    char first[64];
    unsigned count;
} missing;

static void miss(missing *m, const char *number)
{
    if (m->count++ == 0) {
        snprintf(m->first, sizeof m->first, "%s", number);
    }
}

static int fail_missing(const char *name, const missing *m, hy_diag *diag)
{
    if (m->count > 1) {
        return hy_fail(diag, "%s: no row for %s, nor for %u more", name, m->first, m->count - 1);
    }
    return m->count == 1 ? hy_fail(diag, "%s: no row for %s", name, m->first) : 0;
}

static int constants_complete(const hy_load *l, hy_diag *diag)
{
    missing m = {"", 0};
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        const hy_entry *entries = &l->file->constants[hy_constant_slot(i)];
        unsigned used = hy_constant_entries(c, &l->file->part);
        char buffer[64];
        for (unsigned k = 0; k < used; k++) {
            if (entries[k].line == 0) {
                miss(&m, hy_constant_name(c, k, buffer, sizeof buffer));
            }
        }
        for (unsigned k = used; k < c->count; k++) {
            if (entries[k].line != 0 && m.count == 0) {
                return hy_fail_at(diag, l->name, entries[k].line, 1, "%s[%u] lies beyond pulse_length %u", c->name, k,
                                  used);
            }
        }
    }
    return fail_missing(l->name, &m, diag);
}

static int phonemes_complete(const hy_load *l, hy_diag *diag)
{
    missing m = {"", 0};
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (size_t i = 0; i < HY_QUANTITIES; i++) {
            if (l->file->phonemes[code][i].line == 0) {
                char number[64];
                snprintf(number, sizeof number, "%s of 0x%02x %s", hy_quantities[i].name, code,
                         hy_symbols[code].symbol);
                miss(&m, number);
            }
        }
    }
    return fail_missing(l->name, &m, diag);
}

/* A rule that binds several numbers is broken. Its sentence starts with the field's name, which leads to the line. */
static int fail_rule(const hy_load *l, const char *problem, hy_diag *diag)
{
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const char *name = hy_constants[i].name;
        size_t length = strlen(name);
        unsigned line = l->file->constants[hy_constant_slot(i)].line;
        if (strncmp(problem, name, length) == 0 && problem[length] == ' ' && line != 0) {
            return hy_fail_at(diag, l->name, line, 1, "%s", problem);
        }
    }
    return hy_fail(diag, "%s: %s", l->name, problem);
}

static int check_sections(const hy_load *l, hy_diag *diag)
{
    const hyoid_part *part = &l->file->part;
    const hyoid_section *sections[] = {&part->f1, &part->f2, &part->f3};
    for (size_t i = 0; i < 3; i++) {
        if (!(sections[i]->k0 + 255 * sections[i]->ks < 2)) {
            char name[16];
            size_t constant;
            snprintf(name, sizeof name, "f%zu.ks", i + 1);
            unsigned line = l->file->constants[hy_constant_find(name, &constant)].line;
            return hy_fail_at(diag, l->name, line, 1, "k0 + 255 ks of f%zu must be below 2; it is %.6g", i + 1,
                              sections[i]->k0 + 255 * sections[i]->ks);
        }
    }
    return 0;
}

static int read_table(hy_load *l, const hy_table_text *table, const char *const *columns, size_t count,
                      hy_csv_row *row, char **arena, hy_diag *diag)
{
    *arena = malloc(table->size + 1);
    if (*arena == NULL) {
        return hy_fail(diag, "%s: out of memory", l->name);
    }
    hy_csv csv = {.name = l->name, .columns = columns, .column_count = count, .row = row, .user = l};
    return hy_csv_read(&csv, table->text, table->size, *arena, diag);
}

static int parse(hy_partfile *file, const char *names[HY_TABLES], const hy_table_text tables[HY_TABLES],
                 hy_diag *diag)
{
    static const char *const of_constants[] = {"name", "value", "unit", "confidence", "source"};
    static const char *const of_phonemes[] = {"code", "symbol", "quantity", "value", "unit", "confidence", "source"};
    hy_load constants = {file, names[HY_CONSTANTS_CSV]};
    hy_load phonemes = {file, names[HY_PHONEMES_CSV]};
    /* constants first: durations need the clock tree */
    if (read_table(&constants, &tables[HY_CONSTANTS_CSV], of_constants, 5, hy_constant_row,
                   &file->arena[HY_CONSTANTS_CSV], diag) != 0 ||
        constants_complete(&constants, diag) != 0 || check_sections(&constants, diag) != 0 ||
        read_table(&phonemes, &tables[HY_PHONEMES_CSV], of_phonemes, 7, hy_phoneme_row, &file->arena[HY_PHONEMES_CSV],
                   diag) != 0 ||
        phonemes_complete(&phonemes, diag) != 0) {
        return -1;
    }
    const char *problem = "";
    return hyoid_part_check(&file->part, &problem) == HYOID_OK ? 0 : fail_rule(&constants, problem, diag);
}

static char *join(const char *folder, const char *name)
{
    size_t size = strlen(folder) + strlen(name) + 2;
    char *path = malloc(size);
    if (path != NULL) {
        size_t length = strlen(folder);
        snprintf(path, size, "%s%s%s", folder, length > 0 && folder[length - 1] == '/' ? "" : "/", name);
    }
    return path;
}

hy_partfile *hy_partfile_parse(const char *folder, const hy_table_text tables[HY_TABLES], hy_diag *diag)
{
    hy_partfile *file = calloc(1, sizeof *file);
    char *paths[HY_TABLES] = {join(folder, tables[0].name), join(folder, tables[1].name)};
    const char *names[HY_TABLES] = {paths[0], paths[1]};
    int status = -1;
    if (file == NULL || paths[0] == NULL || paths[1] == NULL) {
        hy_fail(diag, "%s: out of memory", folder);
    } else {
        status = parse(file, names, tables, diag);
    }
    free(paths[0]);
    free(paths[1]);
    if (status != 0) {
        hy_partfile_free(file);
        file = NULL;
    }
    return file;
}

hy_partfile *hy_partfile_read(const char *folder, hy_diag *diag)
{
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables); /* for the names */
    char *texts[HY_TABLES] = {NULL, NULL};
    hy_partfile *file = NULL;
    size_t loaded = 0;
    for (; loaded < HY_TABLES; loaded++) {
        char *path = join(folder, tables[loaded].name);
        if (path == NULL) {
            hy_fail(diag, "%s: out of memory", folder);
            break;
        }
        texts[loaded] = hy_csv_load(path, &tables[loaded].size, diag);
        free(path);
        if (texts[loaded] == NULL) {
            break;
        }
        tables[loaded].text = texts[loaded];
    }
    if (loaded == HY_TABLES) {
        file = hy_partfile_parse(folder, tables, diag);
    }
    free(texts[0]);
    free(texts[1]);
    return file;
}

/* Made by hyoid_embed (embed.cmake) from reference/parts/default. */
extern const unsigned char hy_default_phonemes_csv[];
extern const size_t hy_default_phonemes_csv_size;
extern const unsigned char hy_default_constants_csv[];
extern const size_t hy_default_constants_csv_size;

void hy_default_tables(hy_table_text tables[HY_TABLES])
{
    tables[HY_PHONEMES_CSV] =
        (hy_table_text){"phonemes.csv", (const char *)hy_default_phonemes_csv, hy_default_phonemes_csv_size};
    tables[HY_CONSTANTS_CSV] =
        (hy_table_text){"constants.csv", (const char *)hy_default_constants_csv, hy_default_constants_csv_size};
}

hy_partfile *hy_partfile_default(hy_diag *diag)
{
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    return hy_partfile_parse("built-in part", tables, diag);
}

void hy_partfile_free(hy_partfile *file)
{
    if (file != NULL) {
        free(file->arena[0]);
        free(file->arena[1]);
        free(file);
    }
}

const hyoid_part *hy_partfile_part(const hy_partfile *file)
{
    return &file->part;
}

const hy_provenance *hy_partfile_phoneme(const hy_partfile *file, unsigned code, const char *quantity)
{
    int i = hy_quantity_find(quantity);
    return code < HYOID_PHONEMES && i >= 0 ? &file->phonemes[code][i].known : NULL;
}

const hy_provenance *hy_partfile_constant(const hy_partfile *file, const char *name)
{
    size_t constant;
    int slot = hy_constant_find(name, &constant);
    return slot >= 0 && file->constants[slot].line != 0 ? &file->constants[slot].known : NULL;
}
