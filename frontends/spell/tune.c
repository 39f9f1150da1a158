#include "tune.h"

static uint8_t clip(int level)
{
    return (uint8_t)(level < 0 ? 0 : level > 3 ? 3 : level);
}

static int is_accent(const hy_phrase *phrase, size_t phone)
{
    const hy_phone *p = &phrase->phones[phone];
    return hy_is_vowel(p->id) && p->stress && phrase->words[p->word].accented;
}

/* Levels relative to the base. */
typedef struct shape {
    int first, further; /* accents before the nucleus: high, then lower, and between them the base: declination */
    int nucleus;        /* the last accent */
    int tail;           /* from the second code of the nucleus on */
} shape;

static shape shape_of(hy_tune tune, int single)
{
    switch (tune) {
    case HY_FALL:
        return (shape){2, 1, single ? 2 : 1, -1};
    case HY_STRONG_FALL:
        return (shape){2, 2, 2, -1};
    case HY_RISE:
        return (shape){1, 1, 0, 2};
    default:
        return (shape){2, 1, 1, 1};
    }
}

void hy_tune_phrase(hy_phrase *phrase, hy_tune tune, int level)
{
    size_t nucleus = phrase->phone_count;
    size_t first = phrase->phone_count;
    for (size_t i = 0; i < phrase->phone_count; i++) {
        if (is_accent(phrase, i)) {
            nucleus = i;
            first = first == phrase->phone_count ? i : first;
        }
    }
    const shape s = shape_of(tune, first == nucleus);
    int in_tail = 0;
    for (size_t k = 0; k < phrase->code_count; k++) {
        hy_code *code = &phrase->codes[k];
        size_t at = code->phone;
        int of_nucleus = at == nucleus;
        int opens_nucleus = of_nucleus && (k == 0 || phrase->codes[k - 1].phone != at);
        int add = 0;
        in_tail = in_tail || at > nucleus || (of_nucleus && !opens_nucleus);
        if (in_tail) {
            add = s.tail;
        } else if (of_nucleus) {
            int alone = k + 1 == phrase->code_count && tune == HY_RISE; /* there is no tail that could rise */
            add = alone ? s.tail : s.nucleus;
        } else if (is_accent(phrase, at)) {
            add = at == first ? s.first : s.further;
        }
        code->level = clip(level + add);
    }
}
