/* How a part is read: shared by partfile.c and partfile_rows.c alone (and tests). */
#ifndef HY_PARTFILE_PRIVATE_H
#define HY_PARTFILE_PRIVATE_H

#include "csvrows.h"
#include "partfile.h"
#include "partfile_fields.h"

/* What is known of a number, and where it stood. */
typedef struct hy_entry {
    hy_provenance known;
    unsigned line; /* in its file; 0: not given yet */
} hy_entry;

struct hy_partfile {
    hyoid_part part;
    hy_entry phonemes[HYOID_PHONEMES][HY_QUANTITIES];
    hy_entry constants[HY_CONSTANT_SLOTS];
    char *arena[HY_TABLES]; /* holds the strings of the provenances */
};

/* What the row functions are given. */
typedef struct hy_load {
    hy_partfile *file;
    const char *name; /* of the table, for messages */
} hy_load;

hy_csv_row hy_constant_row, hy_phoneme_row;

/* Reads a part from two texts; `folder` is for messages. What hy_partfile_read and _default come down to. */
hy_partfile *hy_partfile_parse(const char *folder, const hy_table_text tables[HY_TABLES], hy_diag *diag);

#endif
