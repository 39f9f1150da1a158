/* Inside the score reader: bytes -> words (score_lex.c) -> values (score_value.c) -> statements (score_parse.c) ->
 * actions (score_walk.c). */
#ifndef HY_SCORE_INTERNAL_H
#define HY_SCORE_INTERNAL_H

#include <stddef.h>
#include <stdint.h>

#include "score.h"

#define HY_SCORE_BYTES (16u << 20)
#define HY_SCORE_DEPTH 32             /* repeats within repeats */
#define HY_SCORE_PHONEMES 10000000u   /* after expansion */
#define HY_SCORE_STATEMENTS 10000000u /* other than phonemes, after expansion */
#define HY_SCORE_NAME 64              /* characters in a mark's name */
#define HY_DAY_PS (INT64_C(86400) * INT64_C(1000000000000))

/* ---- words ---- */

typedef enum hy_token_kind { HY_WORD, HY_OPEN, HY_CLOSE, HY_LINE_END, HY_FILE_END } hy_token_kind;

typedef struct hy_token {
    hy_token_kind kind;
    const char *text; /* into the source, not terminated */
    size_t length;
    unsigned line, column;
} hy_token;

typedef struct hy_lexer {
    const char *text;
    size_t size, at;
    unsigned line, column;
} hy_lexer;

void hy_lex_start(hy_lexer *lexer, const char *text, size_t size);

/* ---- parsed form ---- */

typedef enum hy_node_kind { HY_NODE_ACTION, HY_NODE_REPEAT, HY_NODE_CLOSE, HY_NODE_BABBLE } hy_node_kind;

/* One statement. Flat and small: a score of 16 MiB has millions. */
typedef struct hy_node {
    uint8_t kind;
    uint8_t action; /* hy_action_kind */
    uint8_t number, exponential;
    uint32_t line, column;
    double hz;
    int64_t ps; /* or: repeat: times; close: index of its repeat; babble: index; mark: offset of the name */
} hy_node;

typedef struct hy_babble {
    uint32_t seed;
    uint32_t least, most; /* phonemes */
    uint64_t codes;       /* bit c: code c may be drawn */
} hy_babble;

/* Pseudo-random numbers of a babble; docs/formats.md, "Babble". */
typedef struct hy_dice {
    uint32_t state;
} hy_dice;
hy_dice hy_dice_seed(uint32_t seed);
uint32_t hy_dice_roll(hy_dice *dice, uint32_t sides); /* 0..sides - 1 */

struct hy_score {
    char *name;
    hy_node *nodes;
    size_t count, capacity;
    hy_babble *babbles;
    size_t babble_count, babble_capacity;
    char *marks; /* names, each with its NUL */
    size_t mark_bytes, mark_capacity;

    /* where the walk stands */
    size_t at;
    unsigned depth;
    int64_t left[HY_SCORE_DEPTH]; /* rounds that are still to come, this one included */
    size_t babble_at;             /* node of the babble under way */
    uint32_t babble_left;
    hy_dice dice;
};

/* ---- parser ---- */

/* What a stretch of score expands to. */
typedef struct hy_extent {
    int64_t phonemes, statements;
    int64_t ps;    /* rests, and each phoneme's nominal time or the hold if that is shorter */
    int64_t uncut; /* what phonemes ahead of the first `hold` would add without a hold */
    int holds;     /* a `hold` stands in it */
    size_t node;   /* the repeat that it is the body of */
} hy_extent;

typedef struct hy_parser {
    hy_lexer lexer;
    hy_token token; /* the one being looked at */
    const char *name;
    hy_diag *diag;
    hy_score *score;
    int64_t hold; /* in force, as written; 0 = off */
    unsigned depth;
    hy_extent extent[HY_SCORE_DEPTH + 1]; /* [0] is the whole score */
} hy_parser;

/* Moves to the next token. 0, or -1 (bad bytes). */
int hy_parse_advance(hy_parser *parser);

/* "found X; expected Y" at the present token. Returns -1. */
int hy_parse_expected(hy_parser *parser, const char *expected);

/* Each reads the present token as a value, and moves on. 0, or -1. */
int hy_parse_hz(hy_parser *parser, double *hz);
int hy_parse_time(hy_parser *parser, int zero_allowed, int64_t *ps);
int hy_parse_integer(hy_parser *parser, const char *what, uint32_t least, uint32_t most, uint32_t *value);
int hy_parse_range(hy_parser *parser, uint32_t most, uint32_t *from, uint32_t *to);
int hy_parse_keyword(hy_parser *parser, const char *keyword, const char *example);

/* A phoneme: symbol, symbol/ms or 0x code. *codes: all that a bare symbol can mean; *code: the longest of them.
 * `expected` says what else could stand here. */
int hy_parse_phoneme(hy_parser *parser, const char *expected, unsigned *code, uint64_t *codes);

/* One statement, from its first word on. */
int hy_parse_statement(hy_parser *parser);

/* Appends a zeroed node with the token's place; null without memory. */
hy_node *hy_parse_node(hy_parser *parser, const hy_token *token);

/* Counts what a statement expands to, and refuses what is too much. */
int hy_extent_phonemes(hy_parser *parser, const hy_token *at, uint32_t count, int nominal_ms);
int hy_extent_statement(hy_parser *parser, const hy_token *at, int64_t ps);
void hy_extent_hold(hy_parser *parser, int64_t ps);
void hy_extent_open(hy_parser *parser, size_t node);
int hy_extent_close(hy_parser *parser);

#endif
