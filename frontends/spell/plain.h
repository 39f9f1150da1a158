/* Characters: UTF-8 of any kind -> bytes that the rest can work with.
 *
 * What comes out is printable ASCII, spaces, line feeds, and bytes from 0x80 on: 0x80 + i is row i of the table of symbols.
 * Letters with accents lose them, typographic quotes and dashes become plain ones. What has no name is left out, as if a
 * space stood there, and noted. */
#ifndef HY_SPELL_PLAIN_H
#define HY_SPELL_PLAIN_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"
#include "tables.h"

typedef struct hy_plain {
    unsigned char *bytes; /* ends with a 0, which counts as none */
    uint32_t *at;         /* where each comes from; at[count] is the end of the text */
    size_t count, capacity;
    const char *text;
    size_t size;
} hy_plain;

typedef void hy_note(void *user, const char *text);

int hy_plain_read(hy_plain *plain, const hy_spell_tables *tables, const char *text, size_t size, hy_note *note,
                  void *user, hy_diag *diag);
void hy_plain_free(hy_plain *plain);

/* What the user wrote there, cut after 30 characters. */
typedef struct hy_source_text {
    char text[140];
} hy_source_text;
hy_source_text hy_plain_source(const hy_plain *plain, size_t from, size_t to);

#endif
