/* A row of arpabet_to_codes.csv as it is kept: rules_read.c makes it, rules.c applies it. */
#ifndef HY_SPELL_RULES_PRIVATE_H
#define HY_SPELL_RULES_PRIVATE_H

#include "rules.h"

enum { CONDITIONS = 8, CODES = 6, RULES = 400 };

typedef enum condition_kind {
    IS_INITIAL,
    IS_FINAL,
    HAS_MORE,
    IS_LAST,
    CODA_VOICELESS,
    CODA_VOICED,
    NEIGHBOUR
} condition_kind;

typedef struct condition {
    condition_kind kind;
    int negated, offset;
    uint64_t stressed, unstressed; /* sets of phones: vowels that are not stressed look in the second */
} condition;

typedef struct rule {
    int phone, stress; /* stress -1: any */
    condition conditions[CONDITIONS];
    size_t condition_count;
    uint8_t codes[CODES];
    size_t code_count;
} rule;

struct hy_rules {
    rule rules[RULES];
    size_t count;
    char *arena;
};

#endif
