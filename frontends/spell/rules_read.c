#include "rules_private.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "csvrows.h"
#include "score.h"
#include "text.h"

extern const unsigned char hy_spell_codes_csv[];
extern const size_t hy_spell_codes_csv_size;

static int wrong(const hy_cell *cell, const char *right, hy_diag *diag)
{
    return hy_fail_at(diag, "arpabet_to_codes.csv", cell->line, cell->column, "%s; %s would be right",
                      hy_show(cell->text, strlen(cell->text)).text, right);
}

static uint64_t bit(unsigned id)
{
    return UINT64_C(1) << id;
}

static int is_among(unsigned id, const char *const *names)
{
    for (; id < HY_PHONES && *names != NULL; names++) {
        if (strcmp(hy_phone_names[id], *names) == 0) {
            return 1;
        }
    }
    return 0;
}

/* Whether the phone belongs to the class or has the name of n characters. */
static int belongs(unsigned id, const char *name, size_t n)
{
    static const char *const stops[] = {"p", "t", "k", "b", "d", "g", NULL};
    static const char *const coronals[] = {"t", "d", "n", "s", "z", "l", "th", "dh", "ch", "jh", "sh", "zh", NULL};
    if (id == HY_PAUSE) {
        return hy_word_is(name, n, "pause");
    }
    if (name[0] == 'V') {
        return hy_is_vowel(id);
    }
    if (n == 1 && name[0] == 'C') {
        return !hy_is_vowel(id);
    }
    return (hy_word_is(name, n, "vl") && hy_is_voiceless(id)) || (hy_word_is(name, n, "vd") && hy_is_voiced(id)) ||
           (hy_word_is(name, n, "stop") && is_among(id, stops)) ||
           (hy_word_is(name, n, "cor") && is_among(id, coronals)) || hy_word_is(name, n, hy_phone_names[id]);
}

static int read_set(condition *c, const char *text, size_t n)
{
    while (n > 0) {
        const char *bar = memchr(text, '|', n);
        size_t length = bar != NULL ? (size_t)(bar - text) : n;
        int only_unstressed = length == 2 && memcmp(text, "V0", 2) == 0;
        int only_stressed = length == 2 && memcmp(text, "V1", 2) == 0;
        uint64_t set = 0;
        for (unsigned id = 0; length > 0 && id <= HY_PAUSE; id++) {
            set |= belongs(id, text, length) ? bit(id) : 0;
        }
        if (set == 0 || (text[0] == 'V' && length > 1 && !only_stressed && !only_unstressed)) {
            return -1;
        }
        c->stressed |= only_unstressed ? 0 : set;
        c->unstressed |= only_stressed ? 0 : set;
        n -= length + (bar != NULL);
        text += length + (bar != NULL);
    }
    return 0;
}

static int read_condition(condition *c, const char *text, size_t n)
{
    static const char *const names[] = {"initial", "final", "more", "last", "coda:vl", "coda:vd"};
    static const char *const places[] = {"prev3:", "prev2:", "prev:", "", "next:", "next2:", "next3:"};
    *c = (condition){.negated = n > 0 && text[0] == '!'};
    text += c->negated;
    n -= (size_t)c->negated;
    for (int i = 0; i < NEIGHBOUR; i++) {
        if (hy_word_is(text, n, names[i])) {
            c->kind = (condition_kind)i;
            return 0;
        }
    }
    c->kind = NEIGHBOUR;
    for (int i = 0; i < 7; i++) {
        size_t length = strlen(places[i]);
        if (length > 0 && n > length && memcmp(text, places[i], length) == 0) {
            c->offset = i - 3;
            return read_set(c, text + length, n - length);
        }
    }
    return -1;
}

static int read_codes(rule *r, const hy_cell *cell, hy_diag *diag)
{
    if (strcmp(cell->text, "-") == 0) {
        return 0;
    }
    FILE *in = cell->text[0] != '\0' ? fmemopen((void *)cell->text, strlen(cell->text), "r") : NULL;
    hy_diag why = {""};
    hy_score *score = in != NULL ? hy_score_read(in, "codes", &why) : NULL;
    int result = score != NULL ? 0 : wrong(cell, "phonemes of a score, or -,", diag);
    hy_action action;
    while (result == 0 && hy_score_next(score, &action)) {
        if (action.kind != HY_SAY || r->code_count == CODES) {
            result = wrong(cell, "up to six phonemes and nothing else", diag);
        } else {
            r->codes[r->code_count++] = (uint8_t)action.number;
        }
    }
    hy_score_free(score);
    if (in != NULL) {
        fclose(in);
    }
    return result;
}

static int rule_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    hy_rules *rules = user;
    rule *r = &rules->rules[rules->count];
    if (rules->count == RULES) {
        return wrong(&cells[0], "fewer rows", diag);
    }
    *r = (rule){.phone = hy_phone_id(cells[0].text, strlen(cells[0].text)), .stress = -1};
    if (r->phone < 0) {
        return wrong(&cells[0], "a phone of flite's", diag);
    }
    const char *stress = cells[1].text;
    if (strcmp(stress, "0") == 0 || strcmp(stress, "1") == 0) {
        r->stress = stress[0] - '0';
    } else if (stress[0] != '\0') {
        return wrong(&cells[1], "0, 1 or nothing", diag);
    }
    for (const char *s = cells[2].text; *s != '\0';) {
        size_t n = strcspn(s, " ");
        if (r->condition_count == CONDITIONS || read_condition(&r->conditions[r->condition_count], s, n) != 0) {
            return wrong(&cells[2], "up to eight conditions such as \"next:vl !final\"", diag);
        }
        r->condition_count++;
        s += n + (s[n] == ' ');
    }
    rules->count++;
    return read_codes(r, &cells[3], diag);
}

/* The last row of each phone must fit always, or a phone could fall silent. */
static int check_complete(const hy_rules *rules, hy_diag *diag)
{
    for (int phone = 0; phone < HY_PHONES; phone++) {
        unsigned covered = 0;
        for (size_t i = 0; i < rules->count; i++) {
            const rule *r = &rules->rules[i];
            if (r->phone == phone && r->condition_count == 0) {
                covered |= r->stress < 0 ? 3u : 1u << r->stress;
            }
        }
        if (covered != 3u) {
            return hy_fail(diag, "arpabet_to_codes.csv: %s needs a row without a context", hy_phone_names[phone]);
        }
    }
    return 0;
}

hy_rules *hy_rules_read(hy_diag *diag)
{
    static const char *const columns[] = {"arpabet", "stress", "context", "codes", "example", "source"};
    hy_rules *rules = calloc(1, sizeof *rules);
    if (rules == NULL || (rules->arena = malloc(hy_spell_codes_csv_size + 1)) == NULL) {
        free(rules);
        hy_fail(diag, "out of memory");
        return NULL;
    }
    const hy_csv csv = {"arpabet_to_codes.csv", columns, 6, rule_row, rules};
    if (hy_csv_read(&csv, (const char *)hy_spell_codes_csv, hy_spell_codes_csv_size, rules->arena, diag) != 0 ||
        check_complete(rules, diag) != 0) {
        hy_rules_free(rules);
        return NULL;
    }
    return rules;
}

void hy_rules_free(hy_rules *rules)
{
    if (rules != NULL) {
        free(rules->arena);
        free(rules);
    }
}

size_t hy_rules_count(const hy_rules *rules)
{
    return rules->count;
}
