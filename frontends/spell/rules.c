#include "rules_private.h"

#include <stdio.h>
#include <string.h>

#include "score.h"

/* The first obstruent behind the vowel in its syllable: 1 if it is of the kind. */
static int coda_is(const hy_phrase *phrase, size_t at, int (*kind)(unsigned id))
{
    const hy_phone *p = phrase->phones;
    for (size_t i = at + 1; i < phrase->phone_count && p[i].syllable == p[at].syllable; i++) {
        if (hy_is_voiceless(p[i].id) || hy_is_voiced(p[i].id)) {
            return kind(p[i].id);
        }
    }
    return 0;
}

static int holds(const condition *c, const hy_phrase *phrase, size_t at)
{
    const hy_phone *p = &phrase->phones[at];
    int offset = c->offset;
    int inside = offset < 0 ? at >= (size_t)-offset : at + (size_t)offset < phrase->phone_count;
    switch (c->kind) {
    case IS_INITIAL:
        return p->initial;
    case IS_FINAL:
        return p->final;
    case HAS_MORE:
        return p->more;
    case IS_LAST:
        return p->last;
    case CODA_VOICELESS:
        return coda_is(phrase, at, hy_is_voiceless);
    case CODA_VOICED:
        return coda_is(phrase, at, hy_is_voiced);
    default:
        if (!inside) {
            return (c->stressed >> HY_PAUSE & 1) != 0;
        }
        p += offset;
        return ((hy_is_vowel(p->id) && !p->stress ? c->unstressed : c->stressed) >> p->id & 1) != 0;
    }
}

static int fits(const rule *r, const hy_phrase *phrase, size_t at)
{
    const hy_phone *p = &phrase->phones[at];
    if (r->phone != p->id || (r->stress >= 0 && r->stress != p->stress)) {
        return 0;
    }
    for (size_t i = 0; i < r->condition_count; i++) {
        if (holds(&r->conditions[i], phrase, at) == r->conditions[i].negated) {
            return 0;
        }
    }
    return 1;
}

int hy_rules_apply(const hy_rules *rules, hy_phrase *phrase, hy_diag *diag)
{
    for (size_t at = 0; at < phrase->phone_count; at++) {
        size_t i = 0;
        while (!fits(&rules->rules[i], phrase, at)) {
            i++; /* ends: check_complete */
        }
        const rule *r = &rules->rules[i];
        for (size_t k = 0; k < r->code_count; k++) {
            hy_code *code = hy_phrase_code(phrase);
            if (code == NULL) {
                return hy_fail(diag, "out of memory");
            }
            *code = (hy_code){.code = r->codes[k], .rule = (uint16_t)(i + 1), .phone = (uint32_t)at};
        }
    }
    return 0;
}

hy_code_text hy_code_name(unsigned code)
{
    hy_code_text name;
    int longest = 1;
    for (unsigned i = 0; i < 64; i++) {
        longest = longest && !(strcmp(hy_symbols[i].symbol, hy_symbols[code].symbol) == 0 &&
                               hy_symbols[i].nominal_ms > hy_symbols[code].nominal_ms);
    }
    if (longest) {
        snprintf(name.text, sizeof name.text, "%s", hy_symbols[code].symbol);
    } else {
        snprintf(name.text, sizeof name.text, "%s/%d", hy_symbols[code].symbol, hy_symbols[code].nominal_ms);
    }
    return name;
}
