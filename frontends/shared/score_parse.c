#include "score_internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

static int no_memory(hy_parser *p)
{
    return hy_fail(p->diag, "%s: not enough memory for this score", p->name);
}

/* Room for one more: returns the (moved) array, or null. */
static void *grow(void *array, size_t count, size_t *capacity, size_t size)
{
    if (count < *capacity) {
        return array;
    }
    size_t more = *capacity == 0 ? 64 : *capacity * 2;
    void *moved = realloc(array, more * size);
    if (moved != NULL) {
        *capacity = more;
    }
    return moved;
}

hy_node *hy_parse_node(hy_parser *p, const hy_token *token)
{
    hy_score *s = p->score;
    hy_node *nodes = grow(s->nodes, s->count, &s->capacity, sizeof *nodes);
    if (nodes == NULL) {
        no_memory(p);
        return NULL;
    }
    s->nodes = nodes;
    hy_node *node = &nodes[s->count++];
    *node = (hy_node){.kind = HY_NODE_ACTION, .line = token->line, .column = token->column};
    return node;
}

static int add_action(hy_parser *p, const hy_token *at, hy_action_kind kind, hy_node values)
{
    hy_node *node = hy_parse_node(p, at);
    if (node == NULL) {
        return -1;
    }
    values.kind = HY_NODE_ACTION;
    values.action = (uint8_t)kind;
    values.line = at->line;
    values.column = at->column;
    *node = values;
    return 0;
}

/* ---- one function per statement; the keyword has been read ---- */

static int clock_statement(hy_parser *p, const hy_token *at)
{
    hy_node node = {0};
    return hy_parse_hz(p, &node.hz) != 0 || add_action(p, at, HY_SET_CLOCK, node) != 0
               ? -1
               : hy_extent_statement(p, at, 0);
}

static int level_statement(hy_parser *p, const hy_token *at)
{
    uint32_t level;
    if (hy_parse_integer(p, "an inflection level", 0, 3, &level) != 0) {
        return -1;
    }
    hy_node node = {.number = (uint8_t)level};
    return add_action(p, at, HY_SET_LEVEL, node) != 0 ? -1 : hy_extent_statement(p, at, 0);
}

static int hold_statement(hy_parser *p, const hy_token *at)
{
    hy_node node = {0};
    const hy_token *t = &p->token;
    if (t->kind == HY_WORD && hy_word_is(t->text, t->length, "off")) {
        if (hy_parse_advance(p) != 0) {
            return -1;
        }
    } else if (t->kind != HY_WORD || t->text[0] < '0' || t->text[0] > '9') {
        return hy_parse_expected(p, "a time such as 80ms, or off");
    } else if (hy_parse_time(p, 0, &node.ps) != 0) {
        return -1;
    }
    if (add_action(p, at, HY_SET_HOLD, node) != 0) {
        return -1;
    }
    hy_extent_hold(p, node.ps);
    return hy_extent_statement(p, at, 0);
}

static int answer_statement(hy_parser *p, const hy_token *at)
{
    hy_node node = {0};
    return hy_parse_time(p, 1, &node.ps) != 0 || add_action(p, at, HY_SET_ANSWER, node) != 0
               ? -1
               : hy_extent_statement(p, at, 0);
}

static int rest_statement(hy_parser *p, const hy_token *at)
{
    hy_node node = {0};
    return hy_parse_time(p, 1, &node.ps) != 0 || add_action(p, at, HY_REST, node) != 0
               ? -1
               : hy_extent_statement(p, at, node.ps);
}

static int glide_statement(hy_parser *p, const hy_token *at)
{
    static const char example[] = "glide 300k over 1.2s";
    hy_node node = {0};
    if (hy_parse_hz(p, &node.hz) != 0 || hy_parse_keyword(p, "over", example) != 0 ||
        hy_parse_time(p, 0, &node.ps) != 0) {
        return -1;
    }
    if (p->token.kind == HY_WORD && hy_word_is(p->token.text, p->token.length, "exp")) {
        if (!(node.hz > 0.0)) {
            return hy_fail_at(
                p->diag, p->name, p->token.line, p->token.column,
                "found exp with a glide to 0; an exponential glide never gets there, expected a linear one");
        }
        node.exponential = 1;
        if (hy_parse_advance(p) != 0) {
            return -1;
        }
    }
    return add_action(p, at, HY_GLIDE, node) != 0 ? -1 : hy_extent_statement(p, at, 0);
}

static int mark_statement(hy_parser *p, const hy_token *at)
{
    const hy_token name = p->token;
    if (name.kind != HY_WORD) {
        return hy_parse_expected(p, "a name for the mark, one word");
    }
    if (hy_text_columns(name.text, name.length) > HY_SCORE_NAME) {
        return hy_parse_expected(p, "a name of at most 64 characters");
    }
    hy_score *s = p->score;
    hy_node node = {.ps = (int64_t)s->mark_bytes};
    while (s->mark_capacity - s->mark_bytes < name.length + 1) {
        char *moved = grow(s->marks, s->mark_capacity, &s->mark_capacity, 1);
        if (moved == NULL) {
            return no_memory(p);
        }
        s->marks = moved;
    }
    memcpy(s->marks + s->mark_bytes, name.text, name.length);
    s->marks[s->mark_bytes + name.length] = '\0';
    s->mark_bytes += name.length + 1;
    return hy_parse_advance(p) != 0 || add_action(p, at, HY_SET_MARK, node) != 0 ? -1 : hy_extent_statement(p, at, 0);
}

static int ends_list(const hy_parser *p)
{
    return p->token.kind == HY_LINE_END || p->token.kind == HY_FILE_END || p->token.kind == HY_CLOSE;
}

/* Symbols up to the end of the line; a bare symbol means all its variants here. */
static int babble_list(hy_parser *p, uint64_t *codes)
{
    do {
        unsigned code;
        uint64_t some;
        if (hy_parse_phoneme(p, "a phoneme (the list runs to the end of the line)", &code, &some) != 0) {
            return -1;
        }
        *codes |= some;
    } while (!ends_list(p));
    return 0;
}

static int babble_set(hy_parser *p, uint64_t *codes)
{
    *codes = 0;
    if (p->token.kind != HY_WORD || !hy_word_is(p->token.text, p->token.length, "all")) {
        return babble_list(p, codes);
    }
    uint64_t without = 0;
    if (hy_parse_advance(p) != 0) {
        return -1;
    }
    const hy_token list = p->token;
    if (list.kind == HY_WORD && hy_word_is(list.text, list.length, "except")) {
        if (hy_parse_advance(p) != 0 || babble_list(p, &without) != 0) {
            return -1;
        }
    } else if (!ends_list(p)) {
        return hy_parse_expected(p, "except or the end of the line");
    }
    if (without == UINT64_MAX) {
        return hy_fail_at(p->diag, p->name, list.line, list.column,
                          "found a list that excepts every phoneme; expected one that leaves some");
    }
    *codes = ~without;
    return 0;
}

static int babble_statement(hy_parser *p, const hy_token *at)
{
    static const char example[] = "babble seed 7 phonemes 10..20 from all except pau end";
    hy_babble b = {0};
    if (hy_parse_keyword(p, "seed", example) != 0 || hy_parse_integer(p, "a seed", 1, UINT32_MAX, &b.seed) != 0 ||
        hy_parse_keyword(p, "phonemes", example) != 0 ||
        hy_parse_range(p, HY_SCORE_PHONEMES, &b.least, &b.most) != 0 || hy_parse_keyword(p, "from", example) != 0 ||
        babble_set(p, &b.codes) != 0) {
        return -1;
    }
    hy_score *s = p->score;
    hy_babble *moved = grow(s->babbles, s->babble_count, &s->babble_capacity, sizeof *moved);
    hy_node *node = hy_parse_node(p, at);
    if (moved != NULL) {
        s->babbles = moved;
    }
    if (moved == NULL || node == NULL) {
        return no_memory(p);
    }
    node->kind = HY_NODE_BABBLE;
    node->ps = (int64_t)s->babble_count;
    s->babbles[s->babble_count++] = b;
    int slowest = 0;
    for (unsigned code = 0; code < 64; code++) {
        if ((b.codes >> code & 1) != 0 && hy_symbols[code].nominal_ms > slowest) {
            slowest = hy_symbols[code].nominal_ms;
        }
    }
    return hy_extent_phonemes(p, at, b.most, slowest);
}

static int repeat_statement(hy_parser *p, const hy_token *at)
{
    uint32_t times;
    if (hy_parse_integer(p, "a number of rounds", 1, HY_SCORE_PHONEMES, &times) != 0) {
        return -1;
    }
    while (p->token.kind == HY_LINE_END) {
        if (hy_parse_advance(p) != 0) {
            return -1;
        }
    }
    if (p->token.kind != HY_OPEN) {
        return hy_parse_expected(p, "{, as in: repeat 3 { hh aa k }");
    }
    if (p->depth == HY_SCORE_DEPTH) {
        return hy_fail_at(p->diag, p->name, p->token.line, p->token.column,
                          "found a repeat inside %d others; expected at most %d levels", HY_SCORE_DEPTH,
                          HY_SCORE_DEPTH);
    }
    hy_node *node = hy_parse_node(p, at);
    if (node == NULL) {
        return -1;
    }
    node->kind = HY_NODE_REPEAT;
    node->ps = times;
    hy_extent_open(p, p->score->count - 1);
    return hy_parse_advance(p);
}

static int close_repeat(hy_parser *p)
{
    size_t start = p->extent[p->depth].node;
    if (p->depth == 0) {
        return hy_parse_expected(p, "a statement; no repeat is open here");
    }
    if (p->score->count - 1 == start) {
        return hy_parse_expected(p, "a statement; a repeat of nothing can't be played");
    }
    const hy_token at = p->token;
    hy_node *node = hy_parse_node(p, &at);
    if (node == NULL || hy_extent_close(p) != 0) {
        return -1;
    }
    node->kind = HY_NODE_CLOSE;
    node->ps = (int64_t)start;
    return hy_parse_advance(p);
}

static int phoneme_statement(hy_parser *p, const hy_token *at)
{
    unsigned code;
    uint64_t codes;
    if (hy_parse_phoneme(p, NULL, &code, &codes) != 0) {
        return -1;
    }
    hy_node node = {.number = (uint8_t)code};
    return add_action(p, at, HY_SAY, node) != 0 ? -1 : hy_extent_phonemes(p, at, 1, hy_symbols[code].nominal_ms);
}

int hy_parse_statement(hy_parser *p)
{
    static const struct {
        const char *keyword;
        int (*read)(hy_parser *parser, const hy_token *at);
    } kinds[] = {
        {"clock", clock_statement}, {"level", level_statement},   {"hold", hold_statement},
        {"rest", rest_statement},   {"answer", answer_statement}, {"glide", glide_statement},
        {"mark", mark_statement},   {"repeat", repeat_statement}, {"babble", babble_statement},
    };
    const hy_token at = p->token;
    if (at.kind == HY_CLOSE) {
        return close_repeat(p);
    }
    for (size_t i = 0; at.kind == HY_WORD && i < sizeof kinds / sizeof kinds[0]; i++) {
        if (hy_word_is(at.text, at.length, kinds[i].keyword)) {
            return hy_parse_advance(p) != 0 ? -1 : kinds[i].read(p, &at);
        }
    }
    return phoneme_statement(p, &at);
}
