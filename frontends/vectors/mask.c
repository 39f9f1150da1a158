#include "mask.h"

#include <stdlib.h>
#include <string.h>

#include "number.h"
#include "text.h"

/* A whole number at the start of *text; moves behind it. -1 if there is none. */
static int64_t whole(const char **text)
{
    hy_decimal decimal;
    int64_t value;
    const size_t digits = strspn(*text, "0123456789");
    if (digits == 0 || hy_decimal_read(*text, digits, 0, &decimal) != digits ||
        hy_decimal_whole(&decimal, 0, INT64_MAX / 2, &value) != HY_EXACT) {
        return -1;
    }
    *text += digits;
    return value;
}

/* One A..B or A: 1 if it was read, 0 at the end of the list, -1 on error. */
static int next_range(const char **at, const char *list, int64_t *from, int64_t *to, hy_diag *diag)
{
    if (**at == '\0' && *at != list) {
        return 0;
    }
    const char *start = *at;
    *from = *to = whole(at);
    if (*from >= 0 && strncmp(*at, "..", 2) == 0) {
        *at += 2;
        *to = whole(at);
    }
    if (*from < 0 || *to < *from || (**at != '\0' && **at != ',') || (**at == ',' && (*at)[1] == '\0')) {
        const hy_shown found = hy_show(start, strlen(start));
        return hy_fail(diag, "--ignore: found %s; clocks as A..B,C..D with A up to B would be right", found.text);
    }
    *at += **at == ',';
    return 1;
}

int hy_mask_check(const char *ignore, hy_diag *diag)
{
    int64_t from, to;
    int more = 1;
    for (const char *at = ignore; more == 1;) {
        more = next_range(&at, ignore, &from, &to, diag);
    }
    return more;
}

static void take_away(uint8_t *mask, uint64_t clocks, int64_t from, int64_t to, unsigned bits)
{
    const uint64_t last = (uint64_t)to < clocks ? (uint64_t)to : clocks;
    for (uint64_t clock = from > 0 ? (uint64_t)from : 0; clock <= last; clock++) {
        mask[clock] &= (uint8_t)~bits;
    }
}

uint8_t *hy_mask_make(const hy_track *track, const hy_mask_setup *setup, hy_diag *diag)
{
    uint8_t *mask = malloc(track->clocks + 1);
    if (mask == NULL) {
        hy_fail(diag, "out of memory");
        return NULL;
    }
    memset(mask, HY_MASK_REQUEST | HY_MASK_AUDIO, track->clocks + 1);
    int more = setup->ignore != NULL ? 1 : 0;
    for (const char *at = setup->ignore; more == 1;) {
        int64_t from, to;
        more = next_range(&at, setup->ignore, &from, &to, diag);
        if (more == 1) {
            take_away(mask, track->clocks, from, to, HY_MASK_REQUEST | HY_MASK_AUDIO);
        }
    }
    if (more < 0) {
        free(mask);
        return NULL;
    }
    for (uint64_t clock = 1; setup->slack > 0 && clock <= track->clocks; clock++) {
        if (track->request[clock] != track->request[clock - 1]) {
            take_away(mask, track->clocks, (int64_t)clock - (int64_t)setup->slack,
                      (int64_t)(clock + setup->slack) - 1, HY_MASK_REQUEST);
        }
    }
    return mask;
}
