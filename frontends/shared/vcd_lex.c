#include "vcd_lex.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

/* A word that is not whole stays at the front while more is read behind it. */
enum { ROOM = HY_VCD_WORD_MAX + HY_VCD_CHUNK };

static int is_space(char c)
{
    return c == ' ' || (c >= '\t' && c <= '\r');
}

/* The columns up to `place` on its line; each byte is counted once, however often this is asked. */
static unsigned columns_up_to(hy_vcd_lex *lex, const char *place)
{
    if (place > lex->counted) {
        lex->columns += (unsigned)hy_text_columns(lex->counted, (size_t)(place - lex->counted));
        lex->counted += place - lex->counted;
    }
    return lex->columns;
}

/* Makes room behind what stands from `keep` on, and reads. Pointers into the buffer move by the result's distance. */
static int refill(hy_vcd_lex *lex, const char *keep)
{
    size_t kept = (size_t)(lex->end - keep);
    columns_up_to(lex, keep);
    memmove(lex->buffer, keep, kept);
    lex->counted = lex->buffer;
    lex->at = lex->buffer;
    errno = 0;
    size_t got = fread(lex->buffer + kept, 1, lex->chunk, lex->in);
    if (got < lex->chunk && ferror(lex->in)) {
        return hy_fail(lex->diag, "%s: can't be read: %s", lex->name, strerror(errno));
    }
    lex->eof = got == 0;
    lex->end = lex->buffer + kept + got;
    *lex->end = '\0';
    return 0;
}

int hy_vcd_lex_start(hy_vcd_lex *lex, FILE *in, const char *name, size_t chunk, hy_diag *diag)
{
    *lex = (hy_vcd_lex){.in = in, .name = name, .diag = diag, .line = 1, .chunk = chunk};
    if (chunk == 0 || chunk > HY_VCD_CHUNK) {
        lex->chunk = HY_VCD_CHUNK;
    }
    lex->buffer = malloc(ROOM + 1);
    if (lex->buffer == NULL) {
        return hy_fail(diag, "not enough memory to read %s", name);
    }
    lex->word = lex->at = lex->end = lex->counted = lex->buffer;
    *lex->end = '\0';
    while (!lex->eof && lex->end - lex->buffer < 3) {
        if (refill(lex, lex->buffer) != 0) {
            return -1;
        }
    }
    if (lex->end - lex->buffer >= 3 && memcmp(lex->buffer, "\xef\xbb\xbf", 3) == 0) {
        lex->at = lex->counted = lex->buffer + 3;
    }
    return 0;
}

void hy_vcd_lex_stop(hy_vcd_lex *lex)
{
    free(lex->buffer);
    lex->buffer = NULL;
}

/* 1: a word begins at lex->at; 0: the file is over. */
static int pass_spaces(hy_vcd_lex *lex)
{
    for (;;) {
        char *p = lex->at;
        for (; is_space(*p); p++) {
            if (*p == '\n') {
                lex->line++;
                lex->counted = p + 1;
                lex->columns = 0;
            }
        }
        lex->at = p;
        lex->word = p;
        lex->length = 0;
        if (p < lex->end) {
            return 1;
        }
        if (lex->eof) {
            return 0;
        }
        if (refill(lex, p) != 0) {
            return -1;
        }
    }
}

int hy_vcd_lex_next(hy_vcd_lex *lex)
{
    int more = pass_spaces(lex);
    if (more <= 0) {
        return more;
    }
    char *p = lex->at;
    for (;;) {
        while ((unsigned char)*p > ' ') {
            p++;
        }
        size_t length = (size_t)(p - lex->at);
        if (length > HY_VCD_WORD_MAX) {
            return hy_vcd_lex_fail(lex, 0, "found a word of more than %d bytes; expected shorter ones",
                                   HY_VCD_WORD_MAX);
        }
        if (p < lex->end || lex->eof) {
            break;
        }
        if (refill(lex, lex->at) != 0) {
            return -1;
        }
        lex->word = lex->at;
        p = lex->at + length;
    }
    lex->word = lex->at;
    lex->length = (size_t)(p - lex->at);
    lex->at = p;
    if (p < lex->end && !is_space(*p)) {
        return hy_vcd_lex_fail(lex, lex->length,
                               "found a control character (0x%02x); a value change dump is plain text",
                               (unsigned)(unsigned char)*p);
    }
    return 1;
}

int hy_vcd_lex_is(const hy_vcd_lex *lex, const char *word)
{
    return lex->length == strlen(word) && memcmp(lex->word, word, lex->length) == 0;
}

unsigned hy_vcd_lex_column(hy_vcd_lex *lex)
{
    return columns_up_to(lex, lex->word) + 1;
}

int hy_vcd_lex_fail(hy_vcd_lex *lex, size_t skip, const char *format, ...)
{
    char what[560];
    va_list args;
    va_start(args, format);
    vsnprintf(what, sizeof what, format, args);
    va_end(args);
    unsigned column = columns_up_to(lex, lex->word + skip) + 1;
    return hy_fail_at(lex->diag, lex->name, lex->line, column, "%s", what);
}

int hy_vcd_lex_wrong(hy_vcd_lex *lex, const char *format, ...)
{
    char expected[400];
    va_list args;
    va_start(args, format);
    vsnprintf(expected, sizeof expected, format, args);
    va_end(args);
    hy_shown shown = hy_show(lex->word, lex->length);
    return hy_vcd_lex_fail(lex, 0, "found %s; expected %s", lex->length == 0 ? "the end of the file" : shown.text,
                           expected);
}
