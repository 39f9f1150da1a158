#include "text.h"

#include <stdio.h>
#include <string.h>

size_t hy_utf8(const char *s, size_t n, uint32_t *point)
{
    const unsigned char *u = (const unsigned char *)s;
    if (u[0] < 0x80) {
        *point = u[0];
        return 1;
    }
    size_t length = u[0] >= 0xf0 ? 4 : u[0] >= 0xe0 ? 3 : 2;
    static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
    if (u[0] < 0xc0 || u[0] > 0xf7 || n < length) {
        return 0;
    }
    uint32_t value = u[0] & (0x7fu >> length);
    for (size_t i = 1; i < length; i++) {
        if ((u[i] & 0xc0) != 0x80) {
            return 0;
        }
        value = value << 6 | (u[i] & 0x3fu);
    }
    if (value < least[length] || value > 0x10ffff || (value >= 0xd800 && value <= 0xdfff)) {
        return 0;
    }
    *point = value;
    return length;
}

const char *hy_text_bad(const char *s, size_t n, size_t *length)
{
    uint32_t point;
    *length = hy_utf8(s, n, &point);
    if (*length == 0) {
        *length = 1;
        return "a byte that is not UTF-8";
    }
    if (point == 0) {
        return "a NUL byte";
    }
    if ((point < 0x20 && point != '\t') || (point >= 0x7f && point < 0xa0)) {
        return "a control character";
    }
    return NULL;
}

size_t hy_text_columns(const char *s, size_t n)
{
    size_t columns = 0;
    for (size_t i = 0; i < n; i++) {
        columns += ((unsigned char)s[i] & 0xc0) != 0x80;
    }
    return columns;
}

size_t hy_text_fit(const char *s, size_t n, size_t most)
{
    size_t fits = n < most ? n : most;
    while (fits < n && fits > 0 && ((unsigned char)s[fits] & 0xc0) == 0x80) {
        fits--;
    }
    return fits;
}

hy_shown hy_show(const char *s, size_t n)
{
    hy_shown shown;
    size_t used = 0;
    for (int points = 0; used < n && points < 32; points++) {
        uint32_t point;
        size_t length = hy_utf8(s + used, n - used, &point);
        if (length == 0) {
            break;
        }
        used += length;
    }
    snprintf(shown.text, sizeof shown.text, "\"%.*s%s\"", (int)used, s, used < n ? "..." : "");
    return shown;
}

static char fold(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

int hy_word_is(const char *word, size_t n, const char *name)
{
    if (strlen(name) != n) {
        return 0;
    }
    for (size_t i = 0; i < n; i++) {
        if (fold(word[i]) != name[i]) {
            return 0;
        }
    }
    return 1;
}

#define LONGEST 32 /* no name that is searched for is longer */

static unsigned least(unsigned a, unsigned b)
{
    return a < b ? a : b;
}

/* Optimal string alignment: letters inserted, left out, replaced, or swapped with a neighbour, the slips of typing. */
static unsigned slips(const char *a, size_t n, const char *b, size_t m)
{
    unsigned d[LONGEST + 1][LONGEST + 1];
    for (size_t i = 0; i <= n; i++) {
        for (size_t j = 0; j <= m; j++) {
            if (i == 0 || j == 0) {
                d[i][j] = (unsigned)(i + j);
                continue;
            }
            char x = fold(a[i - 1]);
            char y = fold(b[j - 1]);
            d[i][j] = least(d[i - 1][j - 1] + (x != y), least(d[i - 1][j], d[i][j - 1]) + 1);
            if (i > 1 && j > 1 && x == fold(b[j - 2]) && fold(a[i - 2]) == y) {
                d[i][j] = least(d[i][j], d[i - 2][j - 2] + 1);
            }
        }
    }
    return d[n][m];
}

hy_near hy_near_names(const char *word, size_t n, const char *const *names, size_t count)
{
    hy_near near = {{0}};
    size_t used = 0;
    unsigned found = 0;
    /* More slips than that in so short a word and another word was meant; as many as letters and nothing is left of it. */
    for (unsigned wanted = 1; n <= LONGEST && wanted < 2 + n / 4 && wanted < n; wanted++) {
        for (size_t i = 0; i < count && found < 3; i++) {
            size_t m = strlen(names[i]);
            if (m <= LONGEST && wanted < m && slips(word, n, names[i], m) == wanted) {
                used += (size_t)snprintf(near.text + used, sizeof near.text - used, "%s%s", found > 0 ? ", " : "",
                                         names[i]);
                found++;
            }
        }
    }
    return near;
}
