#include "score_internal.h"

#include "text.h"

void hy_lex_start(hy_lexer *lexer, const char *text, size_t size)
{
    size_t mark = size >= 3 && text[0] == '\xef' && text[1] == '\xbb' && text[2] == '\xbf' ? 3 : 0;
    *lexer = (hy_lexer){.text = text, .size = size, .at = mark, .line = 1, .column = 1};
}

static int at_line_end(const hy_lexer *l)
{
    return l->text[l->at] == '\n' || (l->text[l->at] == '\r' && l->at + 1 < l->size && l->text[l->at + 1] == '\n');
}

/* Steps over one character that may stand in a score. */
static int step(hy_parser *p)
{
    hy_lexer *l = &p->lexer;
    size_t length;
    const char *bad = hy_text_bad(l->text + l->at, l->size - l->at, &length);
    if (bad != NULL) {
        return hy_fail_at(p->diag, p->name, l->line, l->column, "found %s%s; a score is plain UTF-8 text", bad,
                          l->text[l->at] == '\r' ? " (a carriage return that ends no line)" : "");
    }
    l->at += length;
    l->column++;
    return 0;
}

static int is_word_end(char c)
{
    return c == ' ' || c == '\t' || c == '#' || c == '{' || c == '}';
}

int hy_parse_advance(hy_parser *p)
{
    hy_lexer *l = &p->lexer;
    while (l->at < l->size && (l->text[l->at] == ' ' || l->text[l->at] == '\t')) {
        l->at++;
        l->column++;
    }
    p->token = (hy_token){.kind = HY_FILE_END, .line = l->line, .column = l->column};
    if (l->at < l->size && l->text[l->at] == '#') {
        while (l->at < l->size && !at_line_end(l)) {
            if (step(p) != 0) {
                return -1;
            }
        }
    }
    if (l->at == l->size) {
        return 0;
    }
    p->token.text = l->text + l->at;
    if (at_line_end(l)) {
        l->at += l->text[l->at] == '\r' ? 2 : 1;
        l->line++;
        l->column = 1;
        p->token.kind = HY_LINE_END;
        return 0;
    }
    char c = l->text[l->at];
    if (c == '{' || c == '}') {
        l->at++;
        l->column++;
        p->token.kind = c == '{' ? HY_OPEN : HY_CLOSE;
        p->token.length = 1;
        return 0;
    }
    p->token.kind = HY_WORD;
    size_t start = l->at;
    while (l->at < l->size && !at_line_end(l) && !is_word_end(l->text[l->at])) {
        if (step(p) != 0) {
            return -1;
        }
    }
    p->token.length = l->at - start;
    return 0;
}

int hy_parse_expected(hy_parser *p, const char *expected)
{
    const hy_token *t = &p->token;
    if (t->kind == HY_LINE_END || t->kind == HY_FILE_END) {
        return hy_fail_at(p->diag, p->name, t->line, t->column, "found the end of the %s; expected %s",
                          t->kind == HY_LINE_END ? "line" : "file", expected);
    }
    return hy_fail_at(p->diag, p->name, t->line, t->column, "found %s; expected %s", hy_show(t->text, t->length).text,
                      expected);
}
