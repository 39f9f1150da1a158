/* The body of a value change dump: time stamps and changes. */
#include <math.h>
#include <string.h>

#include "log.h"
#include "number.h"
#include "text.h"
#include "vcd_read_private.h"

enum { COMMENT_MAX = 400 };

typedef struct body {
    hy_vcd_reader *r;
    hy_vcd_lex *lex;
    const hy_vcd_listener *listener;
    char section[16]; /* the $dumpvars or its like that is open, or nothing */
    unsigned section_line;
} body;

/* A message at the value that is being told, whose word may be gone. */
static int wrong_value(hy_vcd_reader *r, const char *found, const char *expected)
{
    return hy_fail_at(r->lex.diag, r->lex.name, r->value_line, r->value_column, "found %s; expected %s", found,
                      expected);
}

/* ---- time ---- */

static int set_time(hy_vcd_reader *r, int64_t time, int64_t fine)
{
    hy_vcd_lex *lex = &r->lex;
    if (time < r->time || (time == r->time && fine < r->time_fine)) {
        char before[40];
        if (r->fine > 0 && r->time > 0) {
            snprintf(before, sizeof before, "%lld%0*lld", (long long)r->time, r->fine, (long long)r->time_fine);
        } else {
            snprintf(before, sizeof before, "%lld", (long long)(r->fine > 0 ? r->time_fine : r->time));
        }
        return hy_vcd_lex_wrong(lex, "at least #%s, the time before", before);
    }
    r->time = time;
    r->time_fine = fine;
    static const int64_t half[] = {0, 5, 50, 500};
    r->now_ps = r->fine > 0 ? time + (fine >= half[r->fine]) : time * r->unit;
    if (r->now_ps > HY_VCD_TIME_MAX) {
        return hy_vcd_lex_wrong(lex, "a time of at most 4000000 seconds (46 days)");
    }
    r->first_ps = r->first_ps < 0 ? r->now_ps : r->first_ps;
    return 0;
}

/* Of a time in fs the last digits, those behind the picosecond, are kept apart: 46 days of fs are beyond 64 bits. */
static int read_time(hy_vcd_reader *r)
{
    hy_vcd_lex *lex = &r->lex;
    const int64_t most = r->fine > 0 ? HY_VCD_TIME_MAX : HY_VCD_TIME_MAX / r->unit;
    const size_t coarse = r->fine > 0 && lex->length > (size_t)r->fine ? lex->length - (size_t)r->fine : 1;
    const size_t split = r->fine > 0 ? coarse : lex->length;
    int64_t time = 0;
    int64_t fine = 0;
    size_t i = 1;
    int large = 0;
    for (; i < lex->length; i++) {
        unsigned digit = (unsigned)lex->word[i] - '0';
        if (digit > 9) {
            break;
        }
        if (i >= split) {
            fine = fine * 10 + digit;
        } else if (time <= most / 10) {
            time = time * 10 + digit;
        } else {
            large = 1;
        }
    }
    if (i != lex->length || i == 1) {
        return hy_vcd_lex_wrong(lex, "a time, # and decimal digits, such as #1500");
    }
    if (large || time > most) {
        return hy_vcd_lex_wrong(lex, "a time of at most 4000000 seconds (46 days)");
    }
    return set_time(r, time, fine);
}

/* ---- values ---- */

static void fill_bits(hy_vcd_change *c, const hy_vcd_reader *r)
{
    c->digits = r->value;
    c->count = (unsigned)r->value_length;
    unsigned low = c->count < 64 ? c->count : 64;
    for (unsigned i = 0; i < low; i++) {
        char digit = c->digits[c->count - 1 - i];
        uint64_t bit = UINT64_C(1) << i;
        c->bits |= digit == '1' ? bit : 0;
        c->unknown |= digit > '1' ? bit : 0;
    }
    if (low < 64 && c->digits[0] > '1') {
        c->unknown |= ~UINT64_C(0) << low;
    }
    if (c->width < 64) {
        c->unknown &= (UINT64_C(1) << c->width) - 1;
    }
}

static double number_of(const char *text, size_t length)
{
    int negative = text[0] == '-';
    size_t sign = negative || text[0] == '+';
    hy_decimal decimal;
    double value = NAN;
    if (hy_word_is(text + sign, length - sign, "inf") || hy_word_is(text + sign, length - sign, "infinity")) {
        value = INFINITY;
    } else if (hy_decimal_read(text + sign, length - sign, 1, &decimal) == length - sign) {
        value = hy_decimal_double(&decimal, 0);
    }
    return negative ? -value : value;
}

static int tell(const body *b, uint32_t code)
{
    const hy_vcd_reader *r = b->r;
    const hy_vcd_code *known = &r->codes[code];
    if (!known->selected || b->listener->change == NULL) {
        return 0;
    }
    hy_vcd_change change = {.ps = r->now_ps, .signal = code, .width = known->width};
    if (known->kind == HY_VCD_NUMBER) {
        change.real = number_of(r->value, r->value_length);
    } else {
        fill_bits(&change, r);
    }
    return b->listener->change(b->listener->user, &change) != 0 ? -1 : 0;
}

static int undeclared(hy_vcd_lex *lex, size_t skip)
{
    hy_shown shown = hy_show(lex->word + skip, lex->length - skip);
    return hy_vcd_lex_fail(lex, skip, "found %s, which no $var declares; expected a declared code", shown.text);
}

static int wrong_kind(hy_vcd_reader *r, uint32_t code, const char *what)
{
    hy_vcd_kind kind = (hy_vcd_kind)r->codes[code].kind;
    char found[240];
    snprintf(found, sizeof found, "%s for %s, %s", what, hy_vcd_reader_name(r, r->codes[code].var).text,
             kind == HY_VCD_NUMBER ? "a real"
             : kind == HY_VCD_TEXT ? "a string"
                                   : "which has bits");
    return wrong_value(r, found,
                       kind == HY_VCD_NUMBER ? "r and a number, such as r0.125"
                       : kind == HY_VCD_TEXT ? "s and the text"
                                             : "digits 0, 1, x or z");
}

static int change_scalar(body *b)
{
    hy_vcd_reader *r = b->r;
    hy_vcd_lex *lex = b->lex;
    if (lex->length == 1) {
        return hy_vcd_lex_wrong(lex, "value and code with no space between them, such as %c!", lex->word[0]);
    }
    uint32_t code = hy_vcd_code_find(r, lex->word + 1, lex->length - 1);
    if (code == HY_VCD_NONE) {
        return undeclared(lex, 1);
    }
    const hy_vcd_code *known = &r->codes[code];
    if (known->kind == HY_VCD_VALUE && !known->selected) {
        return 0;
    }
    r->value_line = lex->line;
    r->value_column = hy_vcd_lex_column(lex);
    if (known->kind == HY_VCD_NUMBER || known->kind == HY_VCD_TEXT) {
        return wrong_kind(r, code, "digits");
    }
    char digit = lex->word[0];
    r->value[0] = digit == 'X' ? 'x' : digit == 'Z' ? 'z' : digit;
    r->value_length = 1;
    return tell(b, code);
}

/* Fetches the code behind a value of its own word. HY_VCD_NONE on error. */
static uint32_t next_code(const body *b)
{
    int more = hy_vcd_lex_next(b->lex);
    if (more == 0) {
        hy_vcd_lex_wrong(b->lex, "the code of the variable that takes the value");
    }
    uint32_t code = more == 1 ? hy_vcd_code_find(b->r, b->lex->word, b->lex->length) : HY_VCD_NONE;
    if (more == 1 && code == HY_VCD_NONE) {
        undeclared(b->lex, 0);
    }
    return code;
}

/* A wrong digit; or a code, run into the digits. */
static int wrong_digit(hy_vcd_lex *lex, size_t digits, const hy_vcd_reader *r)
{
    if (digits > 1 && hy_vcd_code_find(r, lex->word + digits, lex->length - digits) != HY_VCD_NONE) {
        return hy_vcd_lex_wrong(lex, "a space between the digits and the code");
    }
    hy_shown shown = hy_show(lex->word + digits, lex->length - digits);
    return hy_vcd_lex_fail(lex, digits, "found %s; expected digits 0, 1, x or z, a space and a code", shown.text);
}

static int change_vector(body *b)
{
    static const char digit_of[256] = {['0'] = '0', ['1'] = '1', ['x'] = 'x', ['X'] = 'x', ['z'] = 'z', ['Z'] = 'z'};
    hy_vcd_reader *r = b->r;
    hy_vcd_lex *lex = b->lex;
    size_t count = 0;
    for (; count + 1 < lex->length && count <= HY_VCD_WIDTH_MAX; count++) {
        char digit = digit_of[(unsigned char)lex->word[count + 1]];
        if (digit == '\0') {
            return wrong_digit(lex, count + 1, r);
        }
        r->value[count] = digit; /* one more than the widest fits, to be refused below */
    }
    if (count == 0) {
        return hy_vcd_lex_wrong(lex, "digits behind the b, such as b0101");
    }
    r->value_length = count;
    r->value_line = lex->line;
    r->value_column = hy_vcd_lex_column(lex);
    uint32_t code = next_code(b);
    if (code == HY_VCD_NONE) {
        return -1;
    }
    const hy_vcd_code *known = &r->codes[code];
    if (known->kind == HY_VCD_NUMBER || known->kind == HY_VCD_TEXT) {
        return wrong_kind(r, code, "digits");
    }
    if (count > known->width) {
        char found[240];
        char expected[60];
        hy_vcd_name name = hy_vcd_reader_name(r, known->var);
        snprintf(found, sizeof found, "%s%zu digits for %s", count > HY_VCD_WIDTH_MAX ? "more than " : "",
                 count > HY_VCD_WIDTH_MAX ? count - 1 : count, name.text);
        snprintf(expected, sizeof expected, "at most %u, its width", (unsigned)known->width);
        return wrong_value(r, found, expected);
    }
    return tell(b, code);
}

static int is_number(const char *text, size_t length)
{
    hy_decimal decimal;
    size_t sign = text[0] == '-' || text[0] == '+';
    const char *word = text + sign;
    size_t left = length - sign;
    return left > 0 && (hy_decimal_read(word, left, 1, &decimal) == left || hy_word_is(word, left, "nan") ||
                        hy_word_is(word, left, "inf") || hy_word_is(word, left, "infinity"));
}

static int change_real(body *b)
{
    hy_vcd_reader *r = b->r;
    hy_vcd_lex *lex = b->lex;
    size_t length = lex->length - 1;
    if (length == 0 || length > HY_VCD_REAL_MAX || !is_number(lex->word + 1, length)) {
        return hy_vcd_lex_wrong(lex, "r and a number of at most 64 digits, such as r0.125");
    }
    memcpy(r->value, lex->word + 1, length);
    r->value_length = length;
    r->value_line = lex->line;
    r->value_column = hy_vcd_lex_column(lex);
    uint32_t code = next_code(b);
    if (code == HY_VCD_NONE) {
        return -1;
    }
    if (r->codes[code].kind == HY_VCD_PARAMETER) {
        return 0; /* a constant of the design, no signal */
    }
    return r->codes[code].kind != HY_VCD_NUMBER ? wrong_kind(r, code, "a number") : tell(b, code);
}

static int change_text(body *b)
{
    hy_vcd_reader *r = b->r;
    r->value_line = b->lex->line;
    r->value_column = hy_vcd_lex_column(b->lex);
    uint32_t code = next_code(b);
    if (code == HY_VCD_NONE) {
        return -1;
    }
    return r->codes[code].kind != HY_VCD_TEXT ? wrong_kind(r, code, "text") : 0;
}

/* ---- sections ---- */

static int read_comment(const body *b)
{
    hy_vcd_lex *lex = b->lex;
    unsigned line = lex->line;
    char text[COMMENT_MAX + 1] = "";
    size_t used = 0;
    int more;
    while ((more = hy_vcd_lex_next(lex)) == 1 && !hy_vcd_lex_is(lex, "$end")) {
        size_t space = used > 0;
        if (used + space + lex->length <= COMMENT_MAX) {
            text[used] = ' ';
            memcpy(text + used + space, lex->word, lex->length);
            used += space + lex->length;
            text[used] = '\0';
        } else {
            used = COMMENT_MAX; /* no later word goes in where an earlier one did not */
        }
    }
    if (more <= 0) {
        return more < 0 ? -1 : hy_vcd_lex_wrong(lex, "$end for the $comment of line %u", line);
    }
    if (b->listener->comment == NULL) {
        return 0;
    }
    return b->listener->comment(b->listener->user, b->r->now_ps, text) != 0 ? -1 : 0;
}

static int read_keyword(body *b)
{
    static const char *const dumps[] = {"$dumpvars", "$dumpall", "$dumpoff", "$dumpon"};
    static const char *const headers[] = {"$scope", "$upscope", "$var", "$timescale", "$enddefinitions"};
    hy_vcd_lex *lex = b->lex;
    if (hy_vcd_lex_is(lex, "$comment")) {
        return read_comment(b);
    }
    if (hy_vcd_lex_is(lex, "$end")) {
        if (b->section[0] == '\0') {
            return hy_vcd_lex_wrong(lex, "a section that it closes; none is open here");
        }
        b->section[0] = '\0';
        return 0;
    }
    for (size_t i = 0; i < sizeof dumps / sizeof dumps[0]; i++) {
        if (hy_vcd_lex_is(lex, dumps[i])) {
            if (b->section[0] != '\0') {
                return hy_vcd_lex_wrong(lex, "$end for the %s of line %u", b->section, b->section_line);
            }
            memcpy(b->section, dumps[i], strlen(dumps[i]) + 1);
            b->section_line = lex->line;
            return 0;
        }
    }
    for (size_t i = 0; i < sizeof headers / sizeof headers[0]; i++) {
        if (hy_vcd_lex_is(lex, headers[i])) {
            return hy_vcd_lex_wrong(lex, "values and times; the header has ended with $enddefinitions");
        }
    }
    if (lex->length >= 10 && memcmp(lex->word, "$dumpports", 10) == 0) {
        return hy_vcd_lex_wrong(lex, "the four-state form of a dump ($dumpvars); the extended one is not read");
    }
    return hy_vcd_skip(lex);
}

static int read_word(body *b)
{
    switch (b->lex->word[0]) {
    case '0':
    case '1':
    case 'x':
    case 'X':
    case 'z':
    case 'Z':
        return change_scalar(b);
    case '#':
        return read_time(b->r);
    case 'b':
    case 'B':
        return change_vector(b);
    case 'r':
    case 'R':
        return change_real(b);
    case 's':
    case 'S':
        return change_text(b);
    case '$':
        return read_keyword(b);
    default:
        return hy_vcd_lex_wrong(b->lex, "a change (0!, b01 !, r0.5 !), a time (#10) or a section ($comment)");
    }
}

int hy_vcd_reader_run(hy_vcd_reader *r, const hy_vcd_listener *listener, hy_diag *diag)
{
    body b = {.r = r, .lex = &r->lex, .listener = listener};
    int more;
    r->lex.diag = diag;
    while ((more = hy_vcd_lex_next(b.lex)) == 1) {
        if (read_word(&b) != 0) {
            return -1;
        }
    }
    if (more == 0 && b.section[0] != '\0') {
        return hy_vcd_lex_wrong(b.lex, "$end for the %s of line %u", b.section, b.section_line);
    }
    return more;
}

int hy_vcd_reader_refuse(hy_vcd_reader *r, const char *expected)
{
    const char *text = r->value;
    hy_shown shown = hy_show(text, r->value_length);
    return wrong_value(r, shown.text, expected);
}

char hy_vcd_digit(const hy_vcd_change *c, unsigned bit)
{
    if (bit < c->count) {
        return c->digits[c->count - 1 - bit];
    }
    return c->count > 0 && c->digits[0] > '1' ? c->digits[0] : '0';
}
