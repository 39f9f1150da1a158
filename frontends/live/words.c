#include "words.h"

#include <string.h>

#include <hyoid/hyoid.h>

#include "command.h"
#include "number.h"
#include "text.h"

int hy_words_next(hy_words *w)
{
    w->rest += strspn(w->rest, " \t");
    w->word = w->rest;
    w->length = strcspn(w->rest, " \t");
    w->rest += w->length;
    return w->length > 0;
}

int hy_words_is(const hy_words *w, const char *name)
{
    return hy_word_is(w->word, w->length, name);
}

int hy_words_expected(hy_words *w, const char *what)
{
    const hy_shown shown = hy_show(w->word, w->length);
    return w->length > 0 ? hy_fail(w->diag, "found %s; expected %s", shown.text, what)
                         : hy_fail(w->diag, "found the end of the line; expected %s", what);
}

int hy_words_end(hy_words *w)
{
    return hy_words_next(w) ? hy_words_expected(w, "nothing more") : 0;
}

/* ---- values ---- */

int hy_words_span(hy_words *w, int64_t least, int64_t *ps)
{
    static const struct {
        const char *unit;
        int shift;
    } units[] = {{"us", 6}, {"ms", 9}, {"s", 12}};
    hy_decimal decimal;
    const size_t used = hy_words_next(w) ? hy_decimal_read(w->word, w->length, 0, &decimal) : 0;
    for (size_t i = 0; used > 0 && i < 3; i++) {
        if (w->length - used == strlen(units[i].unit) &&
            memcmp(w->word + used, units[i].unit, w->length - used) == 0 &&
            hy_decimal_whole(&decimal, units[i].shift, INT64_C(86400) * HYOID_PS_PER_S, ps) == HY_EXACT &&
            *ps >= least) {
            return 0;
        }
    }
    return hy_words_expected(w, least > 0 ? "a time above 0, such as 80ms or 1.5s" : "a time, such as 80ms or 1.5s");
}

int hy_words_hz(hy_words *w, double *hz)
{
    return hy_words_next(w) && hy_hz_read(w->word, w->length, hz) == 0 && *hz <= HYOID_CLOCK_MAX
               ? 0
               : hy_words_expected(w, "a frequency of 0 to 100M, such as 650k");
}

/* A signed decimal with a unit behind it. */
int hy_words_signed(const hy_words *w, const char *unit, double *value)
{
    const int sign = w->length > 0 && (w->word[0] == '+' || w->word[0] == '-');
    hy_decimal decimal;
    const size_t used = hy_decimal_read(w->word + sign, w->length - (size_t)sign, 0, &decimal);
    const size_t left = w->length - (size_t)sign - used;
    if (used == 0 || left != strlen(unit) || memcmp(w->word + (size_t)sign + used, unit, left) != 0) {
        return 0;
    }
    *value = hy_decimal_double(&decimal, 0) * (w->word[0] == '-' ? -1.0 : 1.0);
    return 1;
}

int hy_words_switch(hy_words *w, int *on)
{
    if (!hy_words_next(w)) {
        *on = HY_TOGGLED;
        return 0;
    }
    *on = hy_words_is(w, "on");
    return *on || hy_words_is(w, "off") ? 0 : hy_words_expected(w, "on or off");
}

int hy_words_over(hy_words *w, int64_t *ps)
{
    return hy_words_next(w) && hy_words_is(w, "over") ? hy_words_span(w, 1, ps)
                                                      : hy_words_expected(w, "over, and a time");
}
