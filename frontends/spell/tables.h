/* The tables in reference/spell other than the codes (rules.h), compiled in. */
#ifndef HY_SPELL_TABLES_H
#define HY_SPELL_TABLES_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

/* What a character is called. */
typedef enum hy_symbol_kind {
    HY_NAMED,         /* words are said for it */
    HY_BEFORE_NUMBER, /* the same, where a digit follows */
    HY_CURRENCY,      /* one|many|hundredth|hundredths */
    HY_ALONE          /* a punctuation mark: named only if a text has nothing else */
} hy_symbol_kind;

typedef struct hy_symbol_row {
    uint32_t point;
    hy_symbol_kind kind;
    const char *words;
} hy_symbol_row;

typedef struct hy_letter_row {
    uint32_t point;
    const char *base; /* ASCII letters */
} hy_letter_row;

typedef enum hy_tune { HY_FALL, HY_STRONG_FALL, HY_RISE, HY_STAY } hy_tune;

typedef struct hy_mark_row {
    char mark;
    hy_tune tune;
    const char *codes; /* score text */
} hy_mark_row;

/* All that are set must hold for an abbreviation. */
enum { HY_WHEN_DOT = 1, HY_WHEN_NAME = 2, HY_WHEN_AFTER_NAME = 4, HY_WHEN_NUMBER = 8, HY_WHEN_QUANTITY = 16 };

typedef struct hy_abbreviation_row {
    const char *text;
    unsigned when;
    const char *words; /* one|many after a number */
} hy_abbreviation_row;

typedef enum hy_word_how {
    HY_WEAK,   /* said without stress */
    HY_BY_RULE /* pronounced by letter-to-sound rules, not spelled out */
} hy_word_how;

enum { HY_ROW_WORD = 40 };

typedef struct hy_word_row {
    const char *text; /* with a * at its end it stands for all that begin so */
    hy_word_how how;
} hy_word_row;

typedef struct hy_spell_tables {
    hy_symbol_row *symbols;
    size_t symbol_count;
    hy_letter_row *letters;
    size_t letter_count;
    hy_mark_row *marks;
    size_t mark_count;
    hy_abbreviation_row *abbreviations;
    size_t abbreviation_count;
    hy_word_row *words;
    size_t word_count;
    char *arenas[5];
} hy_spell_tables;

int hy_spell_tables_read(hy_spell_tables *tables, hy_diag *diag);
void hy_spell_tables_free(hy_spell_tables *tables);

/* Rows, or null. */
const hy_symbol_row *hy_spell_symbol(const hy_spell_tables *tables, uint32_t point, hy_symbol_kind kind);
const char *hy_spell_base(const hy_spell_tables *tables, uint32_t point);
const hy_mark_row *hy_spell_mark(const hy_spell_tables *tables, char mark);
int hy_spell_word_is(const hy_spell_tables *tables, const char *word, hy_word_how how);

/* `holds`: the conditions that are true here. */
const hy_abbreviation_row *hy_spell_abbreviation(const hy_spell_tables *tables, const char *text, unsigned holds);

#endif
