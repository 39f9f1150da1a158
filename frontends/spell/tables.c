#include "tables.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "csvrows.h"
#include "score.h"
#include "text.h"

extern const unsigned char hy_spell_symbols_csv[], hy_spell_letters_csv[], hy_spell_marks_csv[],
    hy_spell_abbreviations_csv[], hy_spell_words_csv[];
extern const size_t hy_spell_symbols_csv_size, hy_spell_letters_csv_size, hy_spell_marks_csv_size,
    hy_spell_abbreviations_csv_size, hy_spell_words_csv_size;

enum { SYMBOLS_MAX = 127 }; /* plain.h gives each a byte from 0x80 on */

static int wrong(const char *file, const hy_cell *cell, const char *right, hy_diag *diag)
{
    return hy_fail_at(diag, file, cell->line, cell->column, "%s; %s would be right",
                      hy_show(cell->text, strlen(cell->text)).text, right);
}

static void *more(void *rows, size_t count, size_t size, hy_diag *diag)
{
    if ((count & (count - 1)) != 0) { /* room doubles at powers of two */
        return rows;
    }
    void *grown = realloc(rows, (count == 0 ? 1 : 2 * count) * size);
    if (grown == NULL) {
        hy_fail(diag, "out of memory");
    }
    return grown;
}

static int one_of(const char *text, const char *const *names, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(text, names[i]) == 0) {
            return (int)i;
        }
    }
    return -1;
}

static int symbol_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    static const char *const kinds[] = {"name", "before number", "currency", "alone"};
    hy_spell_tables *t = user;
    uint32_t point = 0;
    size_t n = strlen(cells[0].text);
    int kind = one_of(cells[1].text, kinds, 4);
    if (n == 0 || hy_utf8(cells[0].text, n, &point) != n || t->symbol_count == SYMBOLS_MAX) {
        return wrong("symbols.csv", &cells[0], "one character, in at most 127 rows,", diag);
    }
    if (kind < 0 || cells[2].text[0] == '\0') {
        return wrong("symbols.csv", &cells[1], "name, before number, currency or alone, and words,", diag);
    }
    hy_symbol_row *rows = more(t->symbols, t->symbol_count, sizeof *rows, diag);
    if (rows == NULL) {
        return -1;
    }
    t->symbols = rows;
    rows[t->symbol_count++] = (hy_symbol_row){point, (hy_symbol_kind)kind, cells[2].text};
    return 0;
}

static int letter_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    hy_spell_tables *t = user;
    const char *s = cells[1].text;
    size_t left = strlen(s);
    size_t length;
    for (; left > 0; s += length, left -= length) {
        uint32_t point;
        length = hy_utf8(s, left, &point);
        hy_letter_row *rows = more(t->letters, t->letter_count, sizeof *rows, diag);
        if (rows == NULL) {
            return -1;
        }
        t->letters = rows;
        rows[t->letter_count++] = (hy_letter_row){point, cells[0].text};
    }
    return 0;
}

/* Marks become score text as it stands, so it had better be some. */
static int is_score(const char *text, const char *name, hy_diag *diag)
{
    FILE *in = fmemopen((void *)text, strlen(text), "r");
    hy_score *score = in != NULL ? hy_score_read(in, name, diag) : NULL;
    if (in != NULL) {
        fclose(in);
    }
    hy_score_free(score);
    return score != NULL;
}

static int mark_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    static const char *const tunes[] = {"fall", "strong fall", "rise", "stay"};
    hy_spell_tables *t = user;
    int tune = one_of(cells[2].text, tunes, 4);
    if (strlen(cells[0].text) != 1) {
        return wrong("marks.csv", &cells[0], "one ASCII character", diag);
    }
    if (tune < 0) {
        return wrong("marks.csv", &cells[2], "fall, strong fall, rise or stay", diag);
    }
    if (!is_score(cells[1].text, "marks.csv", diag)) {
        return -1;
    }
    hy_mark_row *rows = more(t->marks, t->mark_count, sizeof *rows, diag);
    if (rows == NULL) {
        return -1;
    }
    t->marks = rows;
    rows[t->mark_count++] = (hy_mark_row){cells[0].text[0], (hy_tune)tune, cells[1].text};
    return 0;
}

static int abbreviation_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    static const char *const names[] = {"dot", "name", "after-name", "number", "quantity"};
    hy_spell_tables *t = user;
    unsigned when = 0;
    for (const char *s = cells[1].text; *s != '\0';) {
        size_t n = strcspn(s, " ");
        int found = -1;
        for (int i = 0; i < 5; i++) {
            found = hy_word_is(s, n, names[i]) ? i : found;
        }
        if (found < 0) {
            return wrong("abbreviations.csv", &cells[1], "dot, name, after-name, number or quantity", diag);
        }
        when |= 1u << found;
        s += n + (s[n] == ' ');
    }
    hy_abbreviation_row *rows = more(t->abbreviations, t->abbreviation_count, sizeof *rows, diag);
    if (rows == NULL) {
        return -1;
    }
    t->abbreviations = rows;
    rows[t->abbreviation_count++] = (hy_abbreviation_row){cells[0].text, when, cells[2].text};
    return 0;
}

static int word_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    static const char *const hows[] = {"weak", "by rule"};
    hy_spell_tables *t = user;
    int how = one_of(cells[1].text, hows, 2);
    if (how < 0) {
        return wrong("words.csv", &cells[1], "weak or by rule", diag);
    }
    hy_word_row *rows = more(t->words, t->word_count, sizeof *rows, diag);
    if (rows == NULL) {
        return -1;
    }
    t->words = rows;
    rows[t->word_count++] = (hy_word_row){cells[0].text, (hy_word_how)how};
    return 0;
}

int hy_spell_tables_read(hy_spell_tables *tables, hy_diag *diag)
{
    static const char *const symbols[] = {"symbol", "kind", "words", "source"};
    static const char *const letters[] = {"base", "letters", "source"};
    static const char *const marks[] = {"mark", "codes", "tune", "source"};
    static const char *const abbreviations[] = {"abbreviation", "when", "words", "source"};
    static const char *const words[] = {"word", "how", "source"};
    const struct {
        hy_csv csv;
        const unsigned char *text;
        size_t size;
    } files[5] = {
        {{"symbols.csv", symbols, 4, symbol_row, tables}, hy_spell_symbols_csv, hy_spell_symbols_csv_size},
        {{"letters.csv", letters, 3, letter_row, tables}, hy_spell_letters_csv, hy_spell_letters_csv_size},
        {{"marks.csv", marks, 4, mark_row, tables}, hy_spell_marks_csv, hy_spell_marks_csv_size},
        {{"abbreviations.csv", abbreviations, 4, abbreviation_row, tables},
         hy_spell_abbreviations_csv,
         hy_spell_abbreviations_csv_size},
        {{"words.csv", words, 3, word_row, tables}, hy_spell_words_csv, hy_spell_words_csv_size},
    };
    *tables = (hy_spell_tables){0};
    for (size_t i = 0; i < 5; i++) {
        tables->arenas[i] = malloc(files[i].size + 1);
        if (tables->arenas[i] == NULL) {
            return hy_fail(diag, "out of memory");
        }
        if (hy_csv_read(&files[i].csv, (const char *)files[i].text, files[i].size, tables->arenas[i], diag) != 0) {
            return -1;
        }
    }
    return 0;
}

void hy_spell_tables_free(hy_spell_tables *tables)
{
    for (size_t i = 0; i < 5; i++) {
        free(tables->arenas[i]);
    }
    free(tables->symbols);
    free(tables->letters);
    free(tables->marks);
    free(tables->abbreviations);
    free(tables->words);
}

const hy_symbol_row *hy_spell_symbol(const hy_spell_tables *tables, uint32_t point, hy_symbol_kind kind)
{
    for (size_t i = 0; i < tables->symbol_count; i++) {
        if (tables->symbols[i].point == point && tables->symbols[i].kind == kind) {
            return &tables->symbols[i];
        }
    }
    return NULL;
}

const char *hy_spell_base(const hy_spell_tables *tables, uint32_t point)
{
    for (size_t i = 0; i < tables->letter_count; i++) {
        if (tables->letters[i].point == point) {
            return tables->letters[i].base;
        }
    }
    return NULL;
}

const hy_mark_row *hy_spell_mark(const hy_spell_tables *tables, char mark)
{
    for (size_t i = 0; i < tables->mark_count; i++) {
        if (tables->marks[i].mark == mark) {
            return &tables->marks[i];
        }
    }
    return NULL;
}

int hy_spell_word_is(const hy_spell_tables *tables, const char *word, hy_word_how how)
{
    size_t n = strlen(word);
    for (size_t i = 0; i < tables->word_count; i++) {
        const hy_word_row *row = &tables->words[i];
        size_t length = strlen(row->text);
        int begins = length > 1 && row->text[length - 1] == '*';
        char start[HY_ROW_WORD] = "";
        snprintf(start, sizeof start, "%.*s", (int)(length - (begins ? 1 : 0)), row->text);
        if (row->how == how && hy_word_is(word, begins && n > length ? length - 1 : n, start)) {
            return 1;
        }
    }
    return 0;
}

/* Small letters in the table stand for either case; a capital in it, or a single letter, means this spelling only. */
static int same_word(const char *row, const char *text)
{
    int exact = row[1] == '\0' || strpbrk(row, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != NULL;
    return exact ? strcmp(row, text) == 0 : hy_word_is(text, strlen(text), row);
}

const hy_abbreviation_row *hy_spell_abbreviation(const hy_spell_tables *tables, const char *text, unsigned holds)
{
    for (size_t i = 0; i < tables->abbreviation_count; i++) {
        const hy_abbreviation_row *row = &tables->abbreviations[i];
        if ((row->when & ~holds) == 0 && same_word(row->text, text)) {
            return row;
        }
    }
    return NULL;
}
