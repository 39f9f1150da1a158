#include "score_internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* ---- babble ---- */

uint32_t hy_dice_roll(hy_dice *dice, uint32_t sides)
{
    uint32_t x = dice->state;
    x ^= x << 13;
    x ^= x >> 17;
    x ^= x << 5;
    dice->state = x;
    return (uint32_t)((uint64_t)x * sides >> 32);
}

hy_dice hy_dice_seed(uint32_t seed)
{
    hy_dice dice = {seed};
    for (int i = 0; i < 16; i++) { /* small seeds begin with small numbers */
        hy_dice_roll(&dice, 1);
    }
    return dice;
}

static void babble_start(hy_score *s)
{
    const hy_babble *b = &s->babbles[s->nodes[s->at].ps];
    s->dice = hy_dice_seed(b->seed);
    s->babble_left = b->least + hy_dice_roll(&s->dice, b->most - b->least + 1);
    s->babble_at = s->at++;
}

static int babble_code(hy_score *s)
{
    const hy_babble *b = &s->babbles[s->nodes[s->babble_at].ps];
    int codes[64];
    uint32_t count = 0;
    for (int code = 0; code < 64; code++) {
        if ((b->codes >> code & 1) != 0) {
            codes[count++] = code;
        }
    }
    s->babble_left--;
    return codes[hy_dice_roll(&s->dice, count)];
}

/* ---- the walk ---- */

void hy_score_rewind(hy_score *s)
{
    s->at = 0;
    s->depth = 0;
    s->babble_left = 0;
}

int hy_score_next(hy_score *s, hy_action *action)
{
    while (s->babble_left == 0 && s->at < s->count) {
        const hy_node *node = &s->nodes[s->at];
        switch ((hy_node_kind)node->kind) {
        case HY_NODE_REPEAT:
            s->left[s->depth++] = node->ps;
            s->at++;
            break;
        case HY_NODE_CLOSE:
            if (--s->left[s->depth - 1] > 0) {
                s->at = (size_t)node->ps + 1;
            } else {
                s->depth--;
                s->at++;
            }
            break;
        case HY_NODE_BABBLE:
            babble_start(s);
            break;
        case HY_NODE_ACTION:
            s->at++;
            *action = (hy_action){.kind = (hy_action_kind)node->action,
                                  .number = node->number,
                                  .exponential = node->exponential,
                                  .hz = node->hz,
                                  .ps = node->ps,
                                  .line = node->line,
                                  .column = node->column};
            if (action->kind == HY_SET_MARK) {
                action->name = s->marks + node->ps;
                action->ps = 0;
            }
            return 1;
        }
    }
    if (s->babble_left == 0) {
        return 0;
    }
    const hy_node *node = &s->nodes[s->babble_at];
    *action = (hy_action){.kind = HY_SAY, .line = node->line, .column = node->column};
    action->number = babble_code(s);
    return 1;
}

/* ---- reading and freeing ---- */

const char *hy_score_name(const hy_score *s)
{
    return s->name;
}

void hy_score_free(hy_score *s)
{
    if (s != NULL) {
        free(s->name);
        free(s->nodes);
        free(s->babbles);
        free(s->marks);
        free(s);
    }
}

/* The whole input, which errors want to point into. */
static char *read_all(FILE *in, const char *name, size_t *size, hy_diag *diag)
{
    char *text = NULL;
    size_t room = 0;
    *size = 0;
    do {
        room = room == 0 ? 16384 : room * 2;
        char *moved = realloc(text, room);
        if (moved == NULL) {
            hy_fail(diag, "%s: not enough memory for this score", name);
            free(text);
            return NULL;
        }
        text = moved;
        errno = 0;
        *size += fread(text + *size, 1, room - *size, in);
    } while (*size == room && room <= HY_SCORE_BYTES);
    if (ferror(in)) {
        hy_fail(diag, "%s: can't be read: %s", name, strerror(errno));
    } else if (*size > HY_SCORE_BYTES) {
        hy_fail(diag, "%s: found more than 16 MiB of text; expected a score, which `repeat` keeps short", name);
    } else {
        return text;
    }
    free(text);
    return NULL;
}

static int parse(hy_parser *p)
{
    if (hy_parse_advance(p) != 0) {
        return -1;
    }
    while (p->token.kind != HY_FILE_END) {
        if (p->token.kind == HY_LINE_END ? hy_parse_advance(p) != 0 : hy_parse_statement(p) != 0) {
            return -1;
        }
    }
    if (p->depth > 0) {
        const hy_node *open = &p->score->nodes[p->extent[p->depth].node];
        return hy_fail_at(p->diag, p->name, p->token.line, p->token.column,
                          "found the end of the file; expected } for the repeat of line %lu",
                          (unsigned long)open->line);
    }
    if (p->score->count == 0) {
        return hy_parse_expected(p, "a statement: this score says nothing");
    }
    return 0;
}

hy_score *hy_score_read(FILE *in, const char *name, hy_diag *diag)
{
    size_t size;
    char *text = read_all(in, name, &size, diag);
    if (text == NULL) {
        return NULL;
    }
    hy_parser parser = {.name = name, .diag = diag, .score = calloc(1, sizeof *parser.score)};
    hy_score *score = parser.score;
    if (score == NULL || (score->name = strdup(name)) == NULL) {
        hy_fail(diag, "%s: not enough memory for this score", name);
    } else {
        hy_lex_start(&parser.lexer, text, size);
        if (parse(&parser) == 0) {
            free(text);
            return score;
        }
    }
    free(text);
    hy_score_free(score);
    return NULL;
}
