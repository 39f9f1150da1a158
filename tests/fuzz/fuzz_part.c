/* Part folders made of arbitrary bytes. The input's first byte says which table it replaces: an even one constants.csv, an odd
 * one phonemes.csv; from its fourth value on, it is inserted into the good table instead, so that deep rules are met too. */
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "partfile.h"
#include "partfile_private.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A row of the good table is replaced by the input. */
static char *insert(const hy_table_text *good, unsigned row, const uint8_t *data, size_t size, size_t *total)
{
    const char *end = good->text + good->size;
    const char *line = good->text;
    for (unsigned i = 0; i < row && line < end; i++) {
        const char *next = memchr(line, '\n', (size_t)(end - line));
        line = next != NULL ? next + 1 : end;
    }
    const char *rest = memchr(line, '\n', (size_t)(end - line));
    rest = rest != NULL ? rest : end;
    size_t head = (size_t)(line - good->text);
    size_t tail = (size_t)(end - rest);
    char *text = malloc(head + size + tail + 1);
    if (text == NULL) {
        abort();
    }
    memcpy(text, good->text, head);
    memcpy(text + head, data, size);
    memcpy(text + head + size, rest, tail);
    *total = head + size + tail;
    return text;
}

static void look_up_everything(const hy_partfile *file)
{
    const char *problem = NULL;
    if (hyoid_part_check(hy_partfile_part(file), &problem) != HYOID_OK) {
        abort();
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (size_t i = 0; i < HY_QUANTITIES; i++) {
            if (hy_partfile_phoneme(file, code, hy_quantities[i].name)->source[0] == '\0') {
                abort();
            }
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 2 || size > 1 << 17) {
        return 0;
    }
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    hy_table_text *target = &tables[data[0] % 2 ? HY_PHONEMES_CSV : HY_CONSTANTS_CSV];
    size_t total = size - 2;
    char *text = data[0] >= 4 ? insert(target, data[1], data + 2, size - 2, &total) : malloc(size);
    if (text == NULL) {
        abort();
    }
    if (data[0] < 4) {
        memcpy(text, data + 2, size - 2);
    }
    target->text = text;
    target->size = total;
    hy_diag diag = {""};
    hy_partfile *file = hy_partfile_parse("d", tables, &diag);
    if (file != NULL) {
        look_up_everything(file);
    } else if (diag.text[0] == '\0') {
        abort(); /* refused without a word */
    }
    hy_partfile_free(file);
    free(text);
    return 0;
}
