/* The header of a value change dump: sections up to $enddefinitions. */
#include <string.h>

#include "text.h"
#include "vcd_read_private.h"

int hy_vcd_need(hy_vcd_lex *lex, const char *expected)
{
    int more = hy_vcd_lex_next(lex);
    if (more < 0) {
        return -1;
    }
    return more == 0 || hy_vcd_lex_is(lex, "$end") ? hy_vcd_lex_wrong(lex, "%s", expected) : 0;
}

static int need_end(hy_vcd_lex *lex, const char *section)
{
    int more = hy_vcd_lex_next(lex);
    if (more < 0) {
        return -1;
    }
    return more == 0 || !hy_vcd_lex_is(lex, "$end") ? hy_vcd_lex_wrong(lex, "$end, which closes %s", section) : 0;
}

int hy_vcd_skip(hy_vcd_lex *lex)
{
    const hy_shown opened = hy_show(lex->word, lex->length); /* the word goes when the next one comes */
    const unsigned line = lex->line;
    int more;
    while ((more = hy_vcd_lex_next(lex)) == 1) {
        if (hy_vcd_lex_is(lex, "$end")) {
            return 0;
        }
    }
    return more < 0 ? -1
                    : hy_vcd_lex_wrong(lex, "$end for the %.*s of line %u", (int)strlen(opened.text) - 2,
                                       opened.text + 1, line);
}

/* ---- $timescale ---- */

static int read_unit(hy_vcd_reader *r, const char *unit, size_t length, int64_t count)
{
    static const struct {
        const char *name;
        int64_t ps;
    } units[] = {{"s", 1000000000000}, {"ms", 1000000000}, {"us", 1000000}, {"ns", 1000}, {"ps", 1}};
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        if (strlen(units[i].name) == length && memcmp(units[i].name, unit, length) == 0) {
            r->unit = units[i].ps * count;
            return 0;
        }
    }
    if (length == 2 && memcmp(unit, "fs", 2) == 0) {
        r->unit = count;
        r->fine = count == 1 ? 3 : count == 10 ? 2 : 1;
        return 0;
    }
    return hy_vcd_lex_wrong(&r->lex, "a unit of s, ms, us, ns, ps or fs");
}

static int read_timescale(hy_vcd_reader *r)
{
    static const char wanted[] = "1, 10 or 100 and a unit, such as 1 ns";
    hy_vcd_lex *lex = &r->lex;
    if (r->has_scale) {
        return hy_vcd_lex_wrong(lex, "one time scale only; there is one already");
    }
    if (hy_vcd_need(lex, wanted) != 0) {
        return -1;
    }
    size_t digits = 0;
    while (digits < lex->length && lex->word[digits] >= '0' && lex->word[digits] <= '9') {
        digits++;
    }
    if (digits == 0 || digits > 3 || memcmp(lex->word, "100", digits) != 0) {
        return hy_vcd_lex_wrong(lex, "%s", wanted);
    }
    int64_t count = digits == 1 ? 1 : digits == 2 ? 10 : 100;
    if (digits == lex->length) {
        digits = 0;
        if (hy_vcd_need(lex, "a unit of s, ms, us, ns, ps or fs") != 0) {
            return -1;
        }
    }
    r->has_scale = 1;
    return read_unit(r, lex->word + digits, lex->length - digits, count) != 0 ? -1 : need_end(lex, "$timescale");
}

/* ---- $scope ---- */

static int read_scope(hy_vcd_reader *r)
{
    hy_vcd_lex *lex = &r->lex;
    if (hy_vcd_need(lex, "the scope's type and name, as in: $scope module top $end") != 0 ||
        hy_vcd_need(lex, "the scope's name, as in: $scope module top $end") != 0) {
        return -1;
    }
    return hy_vcd_scope_push(r, lex->word, lex->length) != 0 ? -1 : need_end(lex, "$scope");
}

static int read_upscope(hy_vcd_reader *r)
{
    if (r->scope == HY_VCD_NONE) {
        return hy_vcd_lex_wrong(&r->lex, "a $scope that it closes; none is open here");
    }
    r->scope = r->scopes[r->scope].parent;
    return need_end(&r->lex, "$upscope");
}

/* ---- $var ---- */

static hy_vcd_kind kind_of(const hy_vcd_lex *lex)
{
    static const struct {
        const char *type;
        hy_vcd_kind kind;
    } types[] = {{"real", HY_VCD_NUMBER}, {"realtime", HY_VCD_NUMBER},     {"shortreal", HY_VCD_NUMBER},
                 {"string", HY_VCD_TEXT}, {"parameter", HY_VCD_PARAMETER}, {"localparam", HY_VCD_PARAMETER}};
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++) {
        if (hy_vcd_lex_is(lex, types[i].type)) {
            return types[i].kind;
        }
    }
    return HY_VCD_VALUE; /* whatever it is called */
}

/* The width of a real or text says nothing and may be anything. */
static int read_width(hy_vcd_lex *lex, hy_vcd_kind kind, uint32_t *width)
{
    int any = kind == HY_VCD_NUMBER || kind == HY_VCD_TEXT;
    uint32_t sum = 0;
    for (size_t i = 0; i < lex->length; i++) {
        if (lex->word[i] < '0' || lex->word[i] > '9') {
            return hy_vcd_lex_wrong(lex, "a width in bits");
        }
        sum = sum > HY_VCD_WIDTH_MAX ? sum : sum * 10 + (uint32_t)(lex->word[i] - '0');
    }
    if (!any && (sum == 0 || sum > HY_VCD_WIDTH_MAX)) {
        return hy_vcd_lex_wrong(lex, "a width from 1 to %d bits", HY_VCD_WIDTH_MAX);
    }
    *width = any ? 64 : sum;
    return 0;
}

static int read_code(hy_vcd_reader *r, hy_vcd_kind kind, uint32_t width, uint32_t *index)
{
    hy_vcd_lex *lex = &r->lex;
    for (size_t i = 0; i < lex->length; i++) {
        if (lex->word[i] < '!' || lex->word[i] > '~') {
            return hy_vcd_lex_wrong(lex, "a code of the characters ! to ~");
        }
    }
    *index = hy_vcd_code_find(r, lex->word, lex->length);
    if (*index == HY_VCD_NONE) {
        *index = hy_vcd_code_add(r, lex->word, lex->length);
        if (*index == HY_VCD_NONE) {
            return -1;
        }
        r->codes[*index].kind = (uint8_t)kind;
        r->codes[*index].width = width;
        r->codes[*index].var = r->var_count;
        return 0;
    }
    const hy_vcd_code *known = &r->codes[*index];
    if (known->width != width || known->kind != (uint8_t)kind) {
        return hy_vcd_lex_wrong(lex, "another code: it stands for %s already, of another width or kind",
                                hy_vcd_reader_name(r, known->var).text);
    }
    return 0;
}

static int read_bound(const char *text, size_t length, size_t *at, int32_t *bound)
{
    size_t i = *at;
    int negative = i < length && text[i] == '-';
    i += (size_t)negative;
    int32_t sum = 0;
    size_t first = i;
    for (; i < length && i - first < 9 && text[i] >= '0' && text[i] <= '9'; i++) {
        sum = sum * 10 + (text[i] - '0');
    }
    *bound = negative ? -sum : sum;
    *at = i;
    return i > first;
}

/* Whether text[start..length) is a range that fits the width. */
static int is_range(const char *text, size_t start, size_t length, uint32_t width, int32_t *msb, int32_t *lsb)
{
    size_t at = start + 1;
    if (!read_bound(text, length, &at, msb)) {
        return 0;
    }
    *lsb = *msb;
    if (at < length && text[at] == ':') {
        at++;
        if (!read_bound(text, length, &at, lsb)) {
            return 0;
        }
    }
    int32_t span = *msb > *lsb ? *msb - *lsb : *lsb - *msb;
    return at + 1 == length && text[at] == ']' && (uint32_t)span + 1 == width;
}

/* The name, of one word or with ranges behind it, goes into the text; the last bracket is taken for the variable's range if it
 * fits its width, otherwise it belongs to the name. (An escaped name's own brackets always do.) */
static int read_name(hy_vcd_reader *r, hy_vcd_entry *e, uint32_t width)
{
    hy_vcd_lex *lex = &r->lex;
    size_t escaped = lex->length > 1 && lex->word[0] == '\\';
    e->name = (uint32_t)r->text_used;
    if (hy_vcd_text_add(r, lex->word + escaped, lex->length - escaped) != 0) {
        return -1;
    }
    size_t fixed = escaped != 0 ? lex->length - 1 : 1;
    int depth = 0; /* of brackets that are open across words */
    for (;;) {
        int more = hy_vcd_lex_next(lex);
        if (more < 0) {
            return -1;
        }
        if (more == 1 && hy_vcd_lex_is(lex, "$end") && depth == 0) {
            break;
        }
        if (more == 0 || (depth == 0 && lex->word[0] != '[') || lex->word[0] == '$') {
            return hy_vcd_lex_wrong(lex, "a range such as [5:0], or $end, which closes $var");
        }
        for (size_t i = 0; i < lex->length; i++) {
            depth = lex->word[i] == '[' ? 1 : lex->word[i] == ']' ? 0 : depth;
        }
        if (hy_vcd_text_add(r, lex->word, lex->length) != 0) {
            return -1;
        }
    }
    const char *name = r->text + e->name;
    size_t length = r->text_used - e->name;
    size_t start = length;
    while (start > fixed && name[start - 1] != '[') {
        start--;
    }
    int32_t msb, lsb;
    e->msb = (int32_t)width - 1;
    e->lsb = 0;
    if (start > fixed && is_range(name, start - 1, length, width, &msb, &lsb)) {
        e->msb = msb;
        e->lsb = lsb;
        e->ranged = 1;
        r->text_used = e->name + start - 1;
    }
    return hy_vcd_text_add(r, "", 1);
}

static int read_var(hy_vcd_reader *r)
{
    hy_vcd_lex *lex = &r->lex;
    uint32_t width = 0;
    uint32_t code = 0;
    if (hy_vcd_need(lex, "a variable's type, width, code and name, as in: $var wire 1 ! clk $end") != 0) {
        return -1;
    }
    hy_vcd_kind kind = kind_of(lex);
    if (hy_vcd_need(lex, "a width in bits") != 0 || read_width(lex, kind, &width) != 0 ||
        hy_vcd_need(lex, "the variable's code, of the characters ! to ~") != 0 ||
        read_code(r, kind, width, &code) != 0 || hy_vcd_need(lex, "the variable's name") != 0) {
        return -1;
    }
    hy_vcd_entry *e = hy_vcd_entry_add(r);
    if (e == NULL) {
        return -1;
    }
    e->code = code;
    return read_name(r, e, width);
}

/* ---- all of it ---- */

static int read_enddefinitions(hy_vcd_reader *r)
{
    hy_vcd_lex *lex = &r->lex;
    if (!r->has_scale) {
        return hy_vcd_lex_wrong(lex, "a $timescale ahead of it, such as $timescale 1 ns $end");
    }
    if (r->scope != HY_VCD_NONE) {
        const hy_vcd_scope *open = &r->scopes[r->scope];
        const char *name = r->text + open->name;
        return hy_vcd_lex_wrong(lex, "$upscope $end ahead of it: the scope %s of line %u is open",
                                hy_show(name, strlen(name)).text, open->line);
    }
    return need_end(lex, "$enddefinitions");
}

static int read_section(hy_vcd_reader *r)
{
    hy_vcd_lex *lex = &r->lex;
    if (hy_vcd_lex_is(lex, "$timescale")) {
        return read_timescale(r);
    }
    if (hy_vcd_lex_is(lex, "$scope")) {
        return read_scope(r);
    }
    if (hy_vcd_lex_is(lex, "$upscope")) {
        return read_upscope(r);
    }
    if (hy_vcd_lex_is(lex, "$var")) {
        return read_var(r);
    }
    if (lex->word[0] != '$' || hy_vcd_lex_is(lex, "$end") ||
        (lex->length > 5 && memcmp(lex->word, "$dump", 5) == 0)) {
        return hy_vcd_lex_wrong(lex, "a section such as $var, or $enddefinitions $end, which ends the header");
    }
    return hy_vcd_skip(lex);
}

int hy_vcd_header(hy_vcd_reader *r)
{
    hy_vcd_lex *lex = &r->lex;
    for (int sections = 0;; sections = 1) {
        int more = hy_vcd_lex_next(lex);
        if (more < 0) {
            return -1;
        }
        if (more == 0 || (sections == 0 && lex->word[0] != '$')) {
            return hy_vcd_lex_wrong(lex, sections == 0
                                             ? "a value change dump, which begins with a section such as $timescale"
                                             : "$enddefinitions $end, which ends the header");
        }
        if (hy_vcd_lex_is(lex, "$enddefinitions")) {
            return read_enddefinitions(r);
        }
        if (read_section(r) != 0) {
            return -1;
        }
    }
}
