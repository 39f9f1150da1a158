#include "score_internal.h"

#include <hyoid/hyoid.h>
#include <stdio.h>
#include <string.h>

#include "number.h"
#include "text.h"

static const char statements[] =
    "a phoneme symbol (hyoid chart lists them), 0x00..0x3f, clock, level, hold, answer, rest, glide, "
    "repeat, babble or mark";

/* For the suggestions: every word that can begin a statement. */
static const char *const keywords[] = {"clock", "level",  "hold",   "answer", "rest",
                                       "glide", "repeat", "babble", "mark"};
#define KEYWORDS (sizeof keywords / sizeof keywords[0])

int hy_parse_keyword(hy_parser *p, const char *keyword, const char *example)
{
    if (p->token.kind == HY_WORD && hy_word_is(p->token.text, p->token.length, keyword)) {
        return hy_parse_advance(p);
    }
    char expected[120];
    snprintf(expected, sizeof expected, "%s, as in: %s", keyword, example);
    return hy_parse_expected(p, expected);
}

int hy_parse_hz(hy_parser *p, double *hz)
{
    static const char expected[] = "a clock frequency in Hz, 0 to 100M, such as 720k or 1.02M";
    const hy_token *t = &p->token;
    if (t->kind != HY_WORD || hy_hz_read(t->text, t->length, hz) != 0 || !(*hz <= HYOID_CLOCK_MAX)) {
        return hy_parse_expected(p, expected);
    }
    return hy_parse_advance(p);
}

int hy_parse_time(hy_parser *p, int zero_allowed, int64_t *ps)
{
    static const struct {
        const char *name;
        int shift;
    } units[] = {{"us", 6}, {"ms", 9}, {"s", 12}};

    const hy_token *t = &p->token;
    hy_decimal number;
    size_t used = t->kind == HY_WORD ? hy_decimal_read(t->text, t->length, 0, &number) : 0;
    if (used == 0) {
        return hy_parse_expected(p, "a time with its unit (us, ms or s), such as 80ms");
    }
    if (used == t->length) {
        return hy_fail_at(p->diag, p->name, t->line, t->column,
                          "found %s without a unit; expected a time such as %.*sms", hy_show(t->text, t->length).text,
                          (int)(used < 20 ? used : 2), used < 20 ? t->text : "80");
    }
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t length = strlen(units[i].name);
        if (t->length - used != length || memcmp(t->text + used, units[i].name, length) != 0) {
            continue;
        }
        hy_exact exact = hy_decimal_whole(&number, units[i].shift, HY_DAY_PS, ps);
        if (exact == HY_TOO_FINE) {
            return hy_parse_expected(p, "a whole number of picoseconds (1us has 1000000)");
        }
        if (exact == HY_TOO_LARGE) {
            return hy_parse_expected(p, "at most 24 hours (86400s)");
        }
        if (*ps == 0 && !zero_allowed) {
            return hy_parse_expected(p, "a time longer than 0");
        }
        return hy_parse_advance(p);
    }
    return hy_parse_expected(p, "a time with its unit (us, ms or s), such as 80ms");
}

/* Whole numbers without fraction or sign. Returns the bytes used, 0 if none or too large. */
static size_t read_integer(const char *s, size_t n, uint32_t *value)
{
    uint64_t sum = 0;
    size_t i = 0;
    for (; i < n && s[i] >= '0' && s[i] <= '9'; i++) {
        sum = sum * 10 + (uint64_t)(s[i] - '0');
        if (sum > UINT32_MAX) {
            return 0;
        }
    }
    *value = (uint32_t)sum;
    return i;
}

int hy_parse_integer(hy_parser *p, const char *what, uint32_t least, uint32_t most, uint32_t *value)
{
    const hy_token *t = &p->token;
    size_t used = t->kind == HY_WORD ? read_integer(t->text, t->length, value) : 0;
    if (used == 0 || used != t->length || *value < least || *value > most) {
        char expected[120];
        snprintf(expected, sizeof expected, "%s, %lu to %lu", what, (unsigned long)least, (unsigned long)most);
        return hy_parse_expected(p, expected);
    }
    return hy_parse_advance(p);
}

int hy_parse_range(hy_parser *p, uint32_t most, uint32_t *from, uint32_t *to)
{
    const hy_token *t = &p->token;
    size_t used = t->kind == HY_WORD ? read_integer(t->text, t->length, from) : 0;
    *to = *from;
    if (used > 0 && t->length - used > 2 && memcmp(t->text + used, "..", 2) == 0) {
        used += 2;
        size_t more = read_integer(t->text + used, t->length - used, to);
        used = more > 0 ? used + more : 0;
    }
    if (used == 0 || used != t->length || *from < 1 || *to < *from || *to > most) {
        char expected[120];
        snprintf(expected, sizeof expected, "a number of phonemes such as 10..20 or 15, 1 to %lu, the lesser first",
                 (unsigned long)most);
        return hy_parse_expected(p, expected);
    }
    return hy_parse_advance(p);
}

static uint64_t codes_of(const char *word, size_t n)
{
    uint64_t codes = 0;
    for (unsigned code = 0; code < 64; code++) {
        if (hy_word_is(word, n, hy_symbols[code].symbol)) {
            codes |= UINT64_C(1) << code;
        }
    }
    return codes;
}

static unsigned longest(uint64_t codes)
{
    unsigned best = 64;
    for (unsigned code = 0; code < 64; code++) {
        if ((codes >> code & 1) != 0 && (best == 64 || hy_symbols[code].nominal_ms > hy_symbols[best].nominal_ms)) {
            best = code;
        }
    }
    return best;
}

static int raw_code(hy_parser *p, unsigned *code, uint64_t *codes)
{
    const hy_token *t = &p->token;
    unsigned value = 0;
    size_t i = 2;
    for (; i < t->length && i < 5; i++) {
        char c = t->text[i];
        int digit = c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
        digit = c >= 'A' && c <= 'F' ? c - 'A' + 10 : digit;
        if (digit < 0) {
            break;
        }
        value = value * 16 + (unsigned)digit;
    }
    if (i == 2 || i > 4 || i != t->length || value > 63) {
        return hy_parse_expected(p, "a phoneme code from 0x00 to 0x3f");
    }
    *code = value;
    *codes = UINT64_C(1) << value;
    return hy_parse_advance(p);
}

static int unknown(hy_parser *p, size_t n, const char *expected)
{
    const hy_token *t = &p->token;
    const char *names[64 + KEYWORDS];
    size_t count = 0;
    for (unsigned code = 0; code < 64; code++) {
        uint64_t same = codes_of(hy_symbols[code].symbol, strlen(hy_symbols[code].symbol));
        if ((same & ((UINT64_C(1) << code) - 1)) == 0) { /* the first of its variants */
            names[count++] = hy_symbols[code].symbol;
        }
    }
    for (size_t i = 0; expected == NULL && n == t->length && i < KEYWORDS; i++) {
        names[count++] = keywords[i];
    }
    hy_near near = hy_near_names(t->text, n, names, count);
    if (near.text[0] == '\0') {
        return hy_parse_expected(p, expected != NULL ? expected : statements);
    }
    return hy_fail_at(p->diag, p->name, t->line, t->column, "found %s; expected %s; nearest: %s",
                      hy_show(t->text, t->length).text, expected != NULL ? expected : "a phoneme or a statement",
                      near.text);
}

/* The symbol is known, its variant is not: say which there are. */
static int no_variant(hy_parser *p, size_t n, uint64_t codes)
{
    char list[80];
    size_t used = 0;
    for (int ms = 1; ms < 1000; ms++) {
        for (unsigned code = 0; code < 64; code++) {
            if ((codes >> code & 1) != 0 && hy_symbols[code].nominal_ms == ms && used < sizeof list) {
                used += (size_t)snprintf(list + used, sizeof list - used, "%s%d", used > 0 ? ", " : "", ms);
            }
        }
    }
    const hy_token *t = &p->token;
    return hy_fail_at(p->diag, p->name, t->line, t->column, "found %s; %.*s has %s ms",
                      hy_show(t->text, t->length).text, (int)n, t->text, list);
}

int hy_parse_phoneme(hy_parser *p, const char *expected, unsigned *code, uint64_t *codes)
{
    const hy_token *t = &p->token;
    if (t->kind != HY_WORD) {
        return hy_parse_expected(p, expected != NULL ? expected : statements);
    }
    if (t->length >= 2 && t->text[0] == '0' && (t->text[1] == 'x' || t->text[1] == 'X')) {
        return raw_code(p, code, codes);
    }
    const char *slash = memchr(t->text, '/', t->length);
    size_t n = slash != NULL ? (size_t)(slash - t->text) : t->length;
    *codes = codes_of(t->text, n);
    if (*codes == 0) {
        return unknown(p, n, expected);
    }
    if (slash != NULL) {
        uint32_t ms = 0;
        size_t used = read_integer(slash + 1, t->length - n - 1, &ms);
        uint64_t variant = 0;
        for (unsigned c = 0; c < 64; c++) {
            if ((*codes >> c & 1) != 0 && (uint32_t)hy_symbols[c].nominal_ms == ms) {
                variant = UINT64_C(1) << c;
            }
        }
        if (used == 0 || used != t->length - n - 1 || variant == 0) {
            return no_variant(p, n, *codes);
        }
        *codes = variant;
    }
    *code = longest(*codes);
    return hy_parse_advance(p);
}
