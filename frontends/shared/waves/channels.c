#include "waves/channels.h"

#include <stdlib.h>
#include <string.h>

#include "number.h"
#include "text.h"

int hy_channels_add(hy_channels *c, const char *name, size_t length, unsigned place, const char *file, hy_diag *diag)
{
    if (c->count == HY_CHANNELS_MAX) {
        return hy_fail(diag, "%s: more than %d channels; fewer would be right", file, HY_CHANNELS_MAX);
    }
    if (c->all == NULL && (c->all = calloc(HY_CHANNELS_MAX, sizeof *c->all)) == NULL) {
        return hy_fail(diag, "not enough memory for the channels of %s", file);
    }
    hy_channel *added = &c->all[c->count++];
    added->place = place;
    size_t used = 0;
    for (size_t i = 0, bytes = 1; i < length && used + bytes <= HY_CHANNEL_NAME_MAX; i += bytes) {
        const char *bad = hy_text_bad(name + i, length - i, &bytes);
        if (used + bytes > HY_CHANNEL_NAME_MAX) {
            break;
        }
        memcpy(added->name + used, bad != NULL ? "?" : name + i, bad != NULL ? 1 : bytes);
        used += bad != NULL ? 1 : bytes;
    }
    added->name[used] = '\0';
    return 0;
}

void hy_channels_free(hy_channels *c)
{
    free(c->all);
    *c = (hy_channels){0};
}

hy_vcd_var hy_channels_var(const hy_channels *c, unsigned var)
{
    return (hy_vcd_var){.name = c->all[var].name, .signal = var, .width = 1};
}

hy_vcd_name hy_channels_name(const hy_channels *c, unsigned var)
{
    hy_vcd_name name = {{0}};
    memcpy(name.text, c->all[var].name, sizeof c->all[var].name);
    return name;
}

static char lower(char c)
{
    return (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

int hy_channels_matches(const hy_channels *c, unsigned var, const char *text, size_t length, int fold)
{
    const char *name = c->all[var].name;
    if (strlen(name) != length) {
        return 0;
    }
    for (size_t i = 0; i < length; i++) {
        if (name[i] != text[i] && !(fold && lower(name[i]) == lower(text[i]))) {
            return 0;
        }
    }
    return 2;
}

unsigned hy_channels_select(hy_channels *c, unsigned var)
{
    c->all[var].selected = 1;
    return var;
}

int hy_channels_tell(hy_channels *c, unsigned var, int64_t ps, char level, const hy_vcd_listener *listener)
{
    hy_channel *channel = &c->all[var];
    if (channel->level == level || !channel->selected) {
        return 0;
    }
    channel->level = level;
    const hy_vcd_change change = {.ps = ps,
                                  .signal = var,
                                  .width = 1,
                                  .bits = level == '1',
                                  .unknown = level > '1',
                                  .digits = &channel->level,
                                  .count = 1};
    return listener->change != NULL && listener->change(listener->user, &change) != 0 ? -1 : 0;
}

int hy_rate_read(const char *s, size_t n, double *rate)
{
    static const struct {
        char letter;
        int exponent;
    } prefixes[] = {{'k', 3}, {'K', 3}, {'M', 6}, {'G', 9}};
    hy_decimal decimal;
    size_t at = hy_decimal_read(s, n, 1, &decimal);
    if (at == 0) {
        return -1;
    }
    while (at < n && s[at] == ' ') {
        at++;
    }
    int exponent = 0;
    for (size_t i = 0; at < n && i < sizeof prefixes / sizeof prefixes[0]; i++) {
        if (s[at] == prefixes[i].letter) {
            exponent = prefixes[i].exponent;
            at++;
            break;
        }
    }
    int unit = hy_word_is(s + at, n - at, "hz") || hy_word_is(s + at, n - at, "sa/s") || at == n;
    *rate = unit ? hy_decimal_double(&decimal, exponent) : 0.0;
    return *rate >= 1.0 && *rate <= 1e11 ? 0 : -1;
}
