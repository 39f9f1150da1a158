/* The table of variables, and what a user of the reader asks it. Header: vcd_header.c; changes: vcd_changes.c. */
#include "vcd_read.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "vcd_read_private.h"

/* ---- growing ---- */

static int grow(hy_vcd_reader *r, void **items, size_t item_size, uint32_t count, uint32_t *room)
{
    if (count >= HY_VCD_VARS_MAX) {
        return hy_vcd_lex_fail(&r->lex, 0, "found more than %d variables or scopes; expected fewer", HY_VCD_VARS_MAX);
    }
    if (count < *room) {
        return 0;
    }
    uint32_t more = *room == 0 ? 64 : *room * 2;
    void *moved = realloc(*items, more * item_size);
    if (moved == NULL) {
        return hy_fail(r->lex.diag, "not enough memory for the variables of %s", r->lex.name);
    }
    *items = moved;
    *room = more;
    return 0;
}

int hy_vcd_text_add(hy_vcd_reader *r, const char *text, size_t length)
{
    if (r->text_used + length > HY_VCD_NAMES_MAX) {
        return hy_vcd_lex_fail(&r->lex, 0, "found more than %d bytes of names; expected fewer", HY_VCD_NAMES_MAX);
    }
    while (r->text_used + length > r->text_room) {
        size_t more = r->text_room == 0 ? 4096 : r->text_room * 2;
        char *moved = realloc(r->text, more);
        if (moved == NULL) {
            return hy_fail(r->lex.diag, "not enough memory for the names in %s", r->lex.name);
        }
        r->text = moved;
        r->text_room = more;
    }
    memcpy(r->text + r->text_used, text, length);
    r->text_used += length;
    return 0;
}

/* ---- codes ---- */

static uint32_t hash(const char *code, size_t length)
{
    uint32_t h = 2166136261u;
    for (size_t i = 0; i < length; i++) {
        h = (h ^ (unsigned char)code[i]) * 16777619u;
    }
    return h ^ h >> 15;
}

/* The place in `small` of a code of one or two characters, ! to ~; HY_VCD_NONE for any other. */
static uint32_t short_code(const char *code, size_t length)
{
    unsigned first = (unsigned char)code[0] - 33u;
    if (length == 1 && first < HY_VCD_CODES) {
        return first;
    }
    unsigned second = length == 2 ? (unsigned char)code[1] - 33u : HY_VCD_CODES;
    return first < HY_VCD_CODES && second < HY_VCD_CODES ? (first + 1) * HY_VCD_CODES + second : HY_VCD_NONE;
}

uint32_t hy_vcd_code_find(const hy_vcd_reader *r, const char *code, size_t length)
{
    uint32_t small = short_code(code, length);
    if (small != HY_VCD_NONE) {
        return r->small[small];
    }
    if (r->head_count == 0) {
        return HY_VCD_NONE;
    }
    uint32_t at = r->heads[hash(code, length) & (r->head_count - 1)];
    while (at != HY_VCD_NONE &&
           (r->codes[at].length != length || memcmp(r->text + r->codes[at].text, code, length) != 0)) {
        at = r->codes[at].next;
    }
    return at;
}

static void link_code(hy_vcd_reader *r, uint32_t at)
{
    hy_vcd_code *code = &r->codes[at];
    uint32_t *head = &r->heads[hash(r->text + code->text, code->length) & (r->head_count - 1)];
    code->next = *head;
    *head = at;
}

/* As many chains as there may be codes, so that they stay short. */
static int widen_heads(hy_vcd_reader *r)
{
    uint32_t more = r->head_count == 0 ? 256 : r->head_count * 2;
    uint32_t *heads = malloc(more * sizeof *heads);
    if (heads == NULL) {
        return hy_fail(r->lex.diag, "not enough memory for the variables of %s", r->lex.name);
    }
    memset(heads, 0xff, more * sizeof *heads); /* HY_VCD_NONE */
    free(r->heads);
    r->heads = heads;
    r->head_count = more;
    for (uint32_t i = 0; i < r->code_count; i++) {
        if (r->codes[i].length > 2) {
            link_code(r, i);
        }
    }
    return 0;
}

uint32_t hy_vcd_code_add(hy_vcd_reader *r, const char *code, size_t length)
{
    void *items = r->codes;
    if (grow(r, &items, sizeof *r->codes, r->code_count, &r->code_room) != 0) {
        return HY_VCD_NONE;
    }
    r->codes = items;
    hy_vcd_code *added = &r->codes[r->code_count];
    *added = (hy_vcd_code){.length = (uint32_t)length, .next = HY_VCD_NONE, .var = HY_VCD_NONE};
    if (length > 2) {
        added->text = (uint32_t)r->text_used;
        if (hy_vcd_text_add(r, code, length) != 0 || (r->code_count >= r->head_count && widen_heads(r) != 0)) {
            return HY_VCD_NONE;
        }
        link_code(r, r->code_count);
    } else {
        r->small[short_code(code, length)] = r->code_count;
    }
    return r->code_count++;
}

/* ---- variables and scopes ---- */

hy_vcd_entry *hy_vcd_entry_add(hy_vcd_reader *r)
{
    void *items = r->vars;
    if (grow(r, &items, sizeof *r->vars, r->var_count, &r->var_room) != 0) {
        return NULL;
    }
    r->vars = items;
    r->vars[r->var_count] = (hy_vcd_entry){.scope = r->scope};
    return &r->vars[r->var_count++];
}

int hy_vcd_scope_push(hy_vcd_reader *r, const char *name, size_t length)
{
    void *items = r->scopes;
    if (grow(r, &items, sizeof *r->scopes, r->scope_count, &r->scope_room) != 0) {
        return -1;
    }
    r->scopes = items;
    size_t escaped = length > 1 && name[0] == '\\';
    r->scopes[r->scope_count] = (hy_vcd_scope){(uint32_t)r->text_used, r->scope, r->lex.line};
    r->scope = r->scope_count++;
    return hy_vcd_text_add(r, name + escaped, length - escaped) != 0 ? -1 : hy_vcd_text_add(r, "", 1);
}

/* ---- opening ---- */

hy_vcd_reader *hy_vcd_reader_open_by(FILE *in, const char *name, size_t chunk, hy_diag *diag)
{
    hy_vcd_reader *r = calloc(1, sizeof *r);
    if (r == NULL) {
        hy_fail(diag, "not enough memory to read %s", name);
        return NULL;
    }
    memset(r->small, 0xff, sizeof r->small); /* HY_VCD_NONE */
    r->scope = HY_VCD_NONE;
    r->first_ps = r->now_ps = -1;
    if (hy_vcd_lex_start(&r->lex, in, name, chunk, diag) != 0 || hy_vcd_header(r) != 0) {
        hy_vcd_reader_close(r);
        return NULL;
    }
    return r;
}

hy_vcd_reader *hy_vcd_reader_open(FILE *in, const char *name, hy_diag *diag)
{
    return hy_vcd_reader_open_by(in, name, 0, diag);
}

void hy_vcd_reader_close(hy_vcd_reader *r)
{
    if (r == NULL) {
        return;
    }
    hy_vcd_lex_stop(&r->lex);
    free(r->scopes);
    free(r->vars);
    free(r->codes);
    free(r->text);
    free(r->heads);
    free(r);
}

/* ---- asking ---- */

int64_t hy_vcd_reader_step(const hy_vcd_reader *r)
{
    return r->fine > 0 ? 1 : r->unit;
}

unsigned hy_vcd_reader_vars(const hy_vcd_reader *r)
{
    return r->var_count;
}

hy_vcd_var hy_vcd_reader_var(const hy_vcd_reader *r, unsigned var)
{
    const hy_vcd_entry *e = &r->vars[var];
    const hy_vcd_code *code = &r->codes[e->code];
    return (hy_vcd_var){.name = r->text + e->name,
                        .signal = e->code,
                        .width = code->width,
                        .is_real = code->kind == HY_VCD_NUMBER,
                        .is_text = code->kind == HY_VCD_TEXT,
                        .ranged = e->ranged,
                        .msb = e->msb,
                        .lsb = e->lsb};
}

/* Puts text ahead of what stands in out[*at..]; 0 when there is no room for all of it. */
static int put_ahead(char *out, size_t *at, const char *text, size_t length)
{
    size_t fits = length < *at ? length : *at;
    memcpy(out + *at - fits, text + length - fits, fits);
    *at -= fits;
    return fits == length;
}

hy_vcd_name hy_vcd_reader_name(const hy_vcd_reader *r, unsigned var)
{
    hy_vcd_name name = {{0}};
    const hy_vcd_entry *e = &r->vars[var];
    char range[40] = "";
    if (e->ranged && e->msb != e->lsb) {
        snprintf(range, sizeof range, "[%d:%d]", e->msb, e->lsb);
    } else if (e->ranged) {
        snprintf(range, sizeof range, "[%d]", e->msb);
    }
    char full[sizeof name.text];
    size_t at = sizeof full - 1;
    full[at] = '\0';
    put_ahead(full, &at, range, strlen(range));
    int whole = put_ahead(full, &at, r->text + e->name, strlen(r->text + e->name));
    for (uint32_t s = e->scope; whole && s != HY_VCD_NONE; s = r->scopes[s].parent) {
        const char *scope = r->text + r->scopes[s].name;
        whole = put_ahead(full, &at, ".", 1) && put_ahead(full, &at, scope, strlen(scope));
    }
    if (!whole) {
        memcpy(full + at, "...", 3);
    }
    size_t length = sizeof full - 1 - at;
    for (size_t i = 0, bytes = 0; i < length; i += bytes) {
        if (hy_text_bad(full + at + i, length - i, &bytes) != NULL) {
            memset(full + at + i, '?', bytes);
        }
    }
    memcpy(name.text, full + at, length + 1);
    return name;
}

static int same(char a, char b, int fold)
{
    if (fold) {
        a = a >= 'A' && a <= 'Z' ? (char)(a - 'A' + 'a') : a;
        b = b >= 'A' && b <= 'Z' ? (char)(b - 'A' + 'a') : b;
    }
    return a == b;
}

/* Takes a component, and a backslash ahead of it, off the end of the text. */
static int take_end(const char *text, size_t *length, const char *component, int fold)
{
    size_t n = strlen(component);
    if (n > *length) {
        return 0;
    }
    for (size_t i = 0; i < n; i++) {
        if (!same(text[*length - n + i], component[i], fold)) {
            return 0;
        }
    }
    *length -= n;
    *length -= *length > 0 && text[*length - 1] == '\\';
    return 1;
}

int hy_vcd_reader_matches(const hy_vcd_reader *r, unsigned var, const char *text, size_t length, int fold)
{
    const hy_vcd_entry *e = &r->vars[var];
    uint32_t scope = e->scope;
    int fits = take_end(text, &length, r->text + e->name, fold);
    while (fits && length > 0) {
        fits = scope != HY_VCD_NONE && text[length - 1] == '.';
        if (fits) {
            length--;
            fits = take_end(text, &length, r->text + r->scopes[scope].name, fold);
            scope = r->scopes[scope].parent;
        }
    }
    return !fits ? 0 : scope == HY_VCD_NONE ? 2 : 1;
}

unsigned hy_vcd_reader_select(hy_vcd_reader *r, unsigned var)
{
    uint32_t code = r->vars[var].code;
    r->codes[code].selected = 1;
    return code;
}

int64_t hy_vcd_reader_first(const hy_vcd_reader *r)
{
    return r->first_ps;
}

int64_t hy_vcd_reader_last(const hy_vcd_reader *r)
{
    return r->now_ps;
}
