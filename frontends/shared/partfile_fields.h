/* The numbers of a part as tables: what the part files are read and written by, and what `hyoid part show` explains. */
#ifndef HY_PARTFILE_FIELDS_H
#define HY_PARTFILE_FIELDS_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <hyoid/hyoid.h>

/* A number of the phoneme memory. */
typedef struct hy_quantity {
    const char *name;
    const char *unit; /* of the file */
    const char *meaning;
    size_t offset; /* in hyoid_phoneme; duration is the one that has 16 bits */
    unsigned most;
} hy_quantity;

/* In the order of the file; the last is duration, in milliseconds at the nominal clock. */
enum { HY_BW2 = 3, HY_VA = 4, HY_FA = 5, HY_VD = 7, HY_CLD = 8, HY_DURATION = 11, HY_QUANTITIES = 12 };
extern const hy_quantity hy_quantities[HY_QUANTITIES];

/* The index of a name, or -1. */
int hy_quantity_find(const char *name);

typedef enum hy_kind { HY_KIND_COUNT, HY_KIND_STEP, HY_KIND_REAL } hy_kind;

/* A field of hyoid_part other than phoneme. */
typedef struct hy_constant {
    const char *name;
    const char *unit;
    const char *meaning;
    size_t offset;  /* in hyoid_part */
    hy_kind kind;   /* uint32_t, int16_t or double */
    unsigned count; /* entries of an array, 0: not an array */
    double low, high;
    int open; /* low and high themselves are not allowed */
} hy_constant;

/* In the order of the file, which is that of hyoid_part. */
enum { HY_CONSTANTS = 40, HY_CONSTANT_SLOTS = 40 - 2 + HYOID_LEVELS + HYOID_PULSE_MAX };
extern const hy_constant hy_constants[HY_CONSTANTS];

/* The slot (0..HY_CONSTANT_SLOTS - 1) of a constant's first entry: one slot for each number. */
unsigned hy_constant_slot(size_t constant);

/* The slot of a name such as "filter_clocks" or "pulse[3]", and its constant; -1 if there is none. */
int hy_constant_find(const char *name, size_t *constant);

/* The name of entry `index` of a constant, as the file has it. */
const char *hy_constant_name(const hy_constant *constant, unsigned index, char *buffer, size_t size);

/* How many entries of a constant this part uses. */
unsigned hy_constant_entries(const hy_constant *constant, const hyoid_part *part);

/* The files of a folder. */
enum { HY_PHONEMES_CSV, HY_CONSTANTS_CSV, HY_TABLES };

/* A file of a folder as it was read (static or owned by the partfile). */
typedef struct hy_table_text {
    const char *name; /* within the folder */
    const char *text;
    size_t size;
} hy_table_text;

/* The copies of reference/parts/default that were compiled in. */
void hy_default_tables(hy_table_text tables[HY_TABLES]);

/* Writes the inside of a C initialiser for a hyoid_part. */
void hy_part_write_c(const hyoid_part *part, FILE *out);

/* What every surface says of the default part. */
extern const char hy_default_part_note[];
/* That sentence if the part is the default one, else "". */
const char *hy_part_note(const hyoid_part *part);

#endif
