#include "tokens.h"

#include <stdio.h>
#include <string.h>

#include "scan.h"
#include "text.h"

static const char opening[] = "\"'`([{";
static const char closing[] = ".,;:?!\"'`)]}";

int hy_is_digit(unsigned char c)
{
    return c >= '0' && c <= '9';
}

int hy_is_capital(unsigned char c)
{
    return c >= 'A' && c <= 'Z';
}

int hy_is_letter(unsigned char c)
{
    return (c >= 'a' && c <= 'z') || hy_is_capital(c);
}

static int is_space(unsigned char c)
{
    return c == ' ' || c == '\n';
}

static int is_in(unsigned char c, const char *set)
{
    return c != 0 && c < 0x80 && strchr(set, c) != NULL;
}

static unsigned char next_token(const unsigned char *b, size_t i)
{
    while (b[i] != 0 && (is_space(b[i]) || is_in(b[i], opening))) {
        i++;
    }
    return b[i];
}

void hy_scan_say(hy_scan *scan, const char *word)
{
    if (scan->stopped) {
        return;
    }
    hy_said said = {.from = scan->from, .to = scan->end};
    snprintf(said.text, sizeof said.text, "%s", word);
    if (hy_is_letter((unsigned char)word[0]) && word[1] == '\0' && !is_in((unsigned char)word[0], "aI")) {
        said.letter = 1;
        if (hy_is_capital((unsigned char)word[0])) {
            said.text[0] = (char)(word[0] - 'A' + 'a');
        }
    }
    scan->words++;
    scan->stopped = scan->sink->word(scan->sink->user, &said) != 0;
}

static void say_word(void *user, const char *word)
{
    hy_scan_say(user, word);
}

hy_word_sink hy_scan_sink(hy_scan *scan)
{
    return (hy_word_sink){say_word, scan};
}

void hy_scan_say_all(hy_scan *scan, const char *words)
{
    char word[HY_WORD_LETTERS + 1];
    while (*words != '\0' && *words != '|') {
        size_t n = strcspn(words, " |");
        snprintf(word, sizeof word, "%.*s", (int)n, words);
        hy_scan_say(scan, word);
        words += n + (words[n] == ' ');
    }
}

void hy_scan_mark(hy_scan *scan, char mark)
{
    if (!scan->stopped) {
        scan->stopped = scan->sink->mark(scan->sink->user, mark) != 0;
    }
}

void hy_scan_choice(const char *words, int n, char *out, size_t size)
{
    for (; n > 0; n--) {
        words += strcspn(words, "|");
        words += *words == '|';
    }
    snprintf(out, size, "%.*s", (int)strcspn(words, "|"), words);
}

/* The strongest of the marks behind a token; two dots or more are a pause, not an end. */
static char strongest(const unsigned char *b, size_t from, size_t to)
{
    static const char order[] = "?!.;:,)";
    unsigned dots = 0;
    char best = 0;
    for (size_t i = from; i < to; i++) {
        char c = b[i] == ']' || b[i] == '}' ? ')' : (char)b[i];
        dots += c == '.';
        if (strchr(order, c) != NULL && (best == 0 || strchr(order, c) < strchr(order, best))) {
            best = c;
        }
    }
    return best == '.' && dots > 1 ? '-' : best;
}

static void token(hy_scan *scan, size_t from, size_t to)
{
    const unsigned char *b = scan->plain->bytes;
    for (; from < to && is_in(b[from], opening); from++) {
        if (is_in(b[from], "([{")) {
            hy_scan_mark(scan, '(');
        }
    }
    size_t end = to;
    while (end > from && is_in(b[end - 1], closing)) {
        end--;
    }
    char mark = strongest(b, end, to);
    scan->from = from;
    scan->end = end;
    scan->dot = end < to && b[end] == '.';
    scan->next = next_token(b, to);
    scan->dot_used = 0;
    scan->opens = 0;
    const char *owing = scan->owing;
    for (size_t i = from; i < end;) {
        i = hy_piece(scan, i);
    }
    if (owing != NULL && scan->owing == owing) {
        scan->owing = NULL;
        hy_scan_say_all(scan, owing);
    }
    if (end > from) {
        scan->capital = hy_is_capital(b[from]);
    }
    if (mark == '.' && scan->dot_used) {
        char other = strongest(b, end + 1, to);
        mark = other != 0 ? other : scan->next == 0 || (!scan->opens && hy_is_capital(scan->next)) ? '.' : 0;
    }
    if (mark != 0) {
        scan->quantity = 0;
        hy_scan_mark(scan, mark);
    }
}

/* A text of punctuation only: the marks are what it says. */
static void name_marks(hy_scan *scan)
{
    for (size_t i = 0; i < scan->plain->count; i++) {
        const hy_symbol_row *row = hy_spell_symbol(scan->tables, scan->plain->bytes[i], HY_ALONE);
        if (row != NULL) {
            scan->from = i;
            scan->end = i + 1;
            hy_scan_say_all(scan, row->words);
        }
    }
}

int hy_tokens(const hy_plain *plain, const hy_spell_tables *tables, const hy_token_sink *sink)
{
    hy_scan scan = {.plain = plain, .tables = tables, .sink = sink};
    const unsigned char *b = plain->bytes;
    unsigned lines = 0;
    for (size_t i = 0; i < plain->count && !scan.stopped;) {
        if (is_space(b[i])) {
            lines += b[i] == '\n';
            i++;
            continue;
        }
        if (lines > 1) { /* an empty line ends what was said */
            hy_scan_mark(&scan, '.');
        }
        lines = 0;
        size_t end = i;
        while (end < plain->count && !is_space(b[end])) {
            end++;
        }
        token(&scan, i, end);
        i = end;
    }
    if (!scan.stopped && scan.words == 0) {
        name_marks(&scan);
    }
    hy_scan_mark(&scan, '.');
    return scan.stopped ? -1 : 0;
}
