/* What stands in one token, piece by piece. */
#include <stdio.h>
#include <string.h>

#include "scan.h"

enum { DOTTED = 24 }; /* bytes in an abbreviation with dots within */

static void spell_letters(hy_scan *scan, size_t from, size_t to)
{
    const unsigned char *b = scan->plain->bytes;
    for (size_t i = from; i < to; i++) {
        if (hy_is_letter(b[i])) {
            char name[2] = {(char)(hy_is_capital(b[i]) ? b[i] : b[i] - 'a' + 'A'), '\0'};
            if (name[0] == 'I') {
                name[0] = 'i';
            }
            hy_scan_say(scan, name);
        }
    }
}

/* Letters with apostrophes between them. */
static size_t letters_end(const hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    while (i < scan->end && (hy_is_letter(b[i]) || (b[i] == '\'' && i + 1 < scan->end && hy_is_letter(b[i + 1])))) {
        i++;
    }
    return i;
}

/* U.S.A, a.m, Ph.D: one or two letters, a dot, and again. `i` is the end of the first. Returns `i` if it is none. */
static size_t dotted_end(const hy_scan *scan, size_t from, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    size_t start = from;
    size_t end = i;
    while (end - start <= 2 && end + 1 < scan->end && b[end] == '.' && hy_is_letter(b[end + 1])) {
        start = end + 1;
        for (end = start; end < scan->end && hy_is_letter(b[end]); end++) {
        }
        if (end - start > 2 || end - from > DOTTED) {
            return i;
        }
    }
    return end == scan->end ? end : i;
}

static unsigned conditions(const hy_scan *scan, size_t end)
{
    int last = end == scan->end;
    unsigned char next = scan->next;
    unsigned holds = last && scan->dot ? HY_WHEN_DOT : 0;
    if (last && hy_is_capital(next)) {
        holds |= HY_WHEN_NAME;
    }
    if (last && hy_is_digit(next)) {
        holds |= HY_WHEN_NUMBER;
    }
    if (scan->capital) {
        holds |= HY_WHEN_AFTER_NAME;
    }
    if (scan->quantity != 0) {
        holds |= HY_WHEN_QUANTITY;
    }
    return holds;
}

static int abbreviation(hy_scan *scan, const char *word, size_t end)
{
    const hy_abbreviation_row *row = hy_spell_abbreviation(scan->tables, word, conditions(scan, end));
    if (row == NULL) {
        return 0;
    }
    char words[100];
    int many = (row->when & HY_WHEN_QUANTITY) != 0 && scan->quantity == 2 && strchr(row->words, '|') != NULL;
    hy_scan_choice(row->words, many, words, sizeof words);
    hy_scan_say_all(scan, words);
    scan->dot_used = end == scan->end;
    scan->opens = (row->when & (HY_WHEN_NAME | HY_WHEN_NUMBER)) != 0;
    return 1;
}

static size_t word_piece(hy_scan *scan, size_t from)
{
    const unsigned char *b = scan->plain->bytes;
    size_t end = letters_end(scan, from);
    size_t dotted = dotted_end(scan, from, end);
    char word[HY_WORD_LETTERS + 1];
    if (dotted > end) {
        snprintf(word, sizeof word, "%.*s", (int)(dotted - from), (const char *)b + from);
        if (!abbreviation(scan, word, dotted)) {
            spell_letters(scan, from, dotted);
            scan->dot_used = 1;
        }
    } else if (end - from > HY_WORD_LETTERS) {
        if (scan->sink->note != NULL) {
            char note[120];
            snprintf(note, sizeof note, "a word of %zu letters was spelled out; words have at most %d", end - from,
                     HY_WORD_LETTERS);
            scan->sink->note(scan->sink->user, note);
        }
        spell_letters(scan, from, end);
    } else {
        snprintf(word, sizeof word, "%.*s", (int)(end - from), (const char *)b + from);
        int single = end - from == 1;
        if (abbreviation(scan, word, end)) {
            /* said */
        } else if (single && word[0] == 'A' && (scan->words == 0 || from != scan->from)) {
            hy_scan_say(scan, end == scan->end && !hy_is_capital(scan->next) ? "a" : "A");
        } else {
            hy_scan_say(scan, word);
        }
        scan->dot_used = scan->dot_used || (single && hy_is_capital(b[from]) && from == scan->from);
        scan->opens = scan->opens || (single && end == scan->end && b[from] != 'I');
    }
    scan->quantity = 0;
    return dotted > end ? dotted : end;
}

/* Many of a kind are a line drawn with characters: once is enough, and said so. */
static size_t run_end(hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    size_t end = i;
    while (end < scan->end && b[end] == b[i]) {
        end++;
    }
    if (end - i <= 3) {
        return i + 1;
    }
    if (scan->sink->note != NULL) {
        char note[200];
        snprintf(note, sizeof note, "%s stands %zu times in a row; said once",
                 hy_plain_source(scan->plain, i, i + 1).text, end - i);
        scan->sink->note(scan->sink->user, note);
    }
    return end;
}

static size_t symbol_piece(hy_scan *scan, size_t i)
{
    unsigned char c = scan->plain->bytes[i];
    uint32_t point = c < 0x80 ? c : scan->tables->symbols[c - 0x80].point;
    const hy_symbol_row *row = NULL;
    if (hy_is_digit(scan->plain->bytes[i + 1])) {
        row = hy_spell_symbol(scan->tables, point, HY_BEFORE_NUMBER);
    }
    if (row == NULL) {
        row = hy_spell_symbol(scan->tables, point, HY_NAMED);
    }
    char words[100] = "";
    if (row != NULL) {
        hy_scan_choice(row->words, scan->quantity == 2 && strchr(row->words, '|') != NULL, words, sizeof words);
    } else if ((row = hy_spell_symbol(scan->tables, point, HY_CURRENCY)) != NULL) {
        hy_scan_choice(row->words, scan->quantity == 2, words, sizeof words);
    }
    hy_scan_say_all(scan, words);
    scan->quantity = 0;
    return run_end(scan, i);
}

static size_t dash_piece(hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    size_t end = i;
    while (end < scan->end && b[end] == '-') {
        end++;
    }
    int joins = end - i == 1 && i > scan->from && end < scan->end;
    if (i == scan->from && end - i <= 2 && hy_is_letter(b[end])) { /* an option, as of a program */
        for (; i < end; i++) {
            hy_scan_say(scan, "dash");
        }
    } else if (!joins) {
        scan->quantity = 0;
        hy_scan_mark(scan, '-');
    }
    return end;
}

size_t hy_piece(hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    size_t number = hy_amount(scan, i);
    if (number > i) {
        return number;
    }
    if (hy_is_letter(b[i])) {
        return word_piece(scan, i);
    }
    switch (b[i]) {
    case '-':
        return dash_piece(scan, i);
    case '\'':
    case '"':
    case '`':
        return i + 1;
    case ':':
        if (b[i + 1] == '/') {
            hy_scan_say(scan, "colon");
            return i + 1;
        }
        hy_scan_mark(scan, ':');
        return i + 1;
    case ',':
    case ';':
    case '?':
    case '!':
        hy_scan_mark(scan, (char)b[i]);
        return i + 1;
    case '(':
    case '[':
    case '{':
        hy_scan_mark(scan, '(');
        return i + 1;
    case ')':
    case ']':
    case '}':
        hy_scan_mark(scan, ')');
        return i + 1;
    case '.':
        if (i + 1 < scan->end && b[i + 1] != '.') {
            hy_scan_say(scan, "dot");
            return i + 1;
        }
        hy_scan_mark(scan, '-');
        while (i < scan->end && b[i] == '.') {
            i++;
        }
        return i;
    default:
        return symbol_piece(scan, i);
    }
}
