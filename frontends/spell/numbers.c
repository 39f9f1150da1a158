#include "numbers.h"

#include <stdio.h>
#include <string.h>

static const char *const small[20] = {
    "zero", "one",    "two",    "three",    "four",     "five",    "six",     "seven",     "eight",    "nine",
    "ten",  "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"};
static const char *const tens[10] = {"",      "",      "twenty",  "thirty", "forty",
                                     "fifty", "sixty", "seventy", "eighty", "ninety"};
static const char *const scales[5] = {"", "thousand", "million", "billion", "trillion"};

static void say(const hy_word_sink *sink, const char *word)
{
    sink->say(sink->user, word);
}

void hy_say_digits(const hy_word_sink *sink, const char *digits, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        say(sink, small[digits[i] - '0']);
    }
}

static unsigned value(const char *digits, size_t n)
{
    unsigned v = 0;
    for (size_t i = 0; i < n; i++) {
        v = 10 * v + (unsigned)(digits[i] - '0');
    }
    return v;
}

static void below_hundred(const hy_word_sink *sink, unsigned v)
{
    if (v < 20) {
        say(sink, small[v]);
        return;
    }
    say(sink, tens[v / 10]);
    if (v % 10 != 0) {
        say(sink, small[v % 10]);
    }
}

static void below_thousand(const hy_word_sink *sink, unsigned v)
{
    if (v >= 100) {
        say(sink, small[v / 100]);
        say(sink, "hundred");
    }
    if (v % 100 != 0) {
        below_hundred(sink, v % 100);
    }
}

void hy_say_cardinal(const hy_word_sink *sink, const char *digits, size_t n)
{
    if (n > 15 || (n > 1 && digits[0] == '0')) {
        hy_say_digits(sink, digits, n);
        return;
    }
    if (n == 1 && digits[0] == '0') {
        say(sink, "zero");
        return;
    }
    for (size_t group = (n + 2) / 3; group > 0; group--) {
        size_t end = n - 3 * (group - 1);
        size_t start = end > 3 ? end - 3 : 0;
        unsigned v = value(digits + start, end - start);
        if (v != 0) {
            below_thousand(sink, v);
            if (group > 1) {
                say(sink, scales[group - 1]);
            }
        }
    }
}

/* Passes words on one late, so that the last can be changed. */
typedef struct late {
    const hy_word_sink *to;
    char held[24];
} late;

static void hold_word(void *user, const char *word)
{
    late *l = user;
    if (l->held[0] != '\0') {
        say(l->to, l->held);
    }
    snprintf(l->held, sizeof l->held, "%s", word);
}

void hy_say_ordinal(const hy_word_sink *sink, const char *digits, size_t n)
{
    static const char *const odd[][2] = {{"one", "first"},     {"two", "second"},   {"three", "third"},
                                         {"five", "fifth"},    {"eight", "eighth"}, {"nine", "ninth"},
                                         {"twelve", "twelfth"}};
    late l = {.to = sink};
    const hy_word_sink inner = {hold_word, &l};
    hy_say_cardinal(&inner, digits, n);
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        if (strcmp(l.held, odd[i][0]) == 0) {
            say(sink, odd[i][1]);
            return;
        }
    }
    size_t length = strlen(l.held);
    int y = length > 0 && l.held[length - 1] == 'y';
    char word[32];
    snprintf(word, sizeof word, "%.*s%s", (int)(length - (y ? 1 : 0)), l.held, y ? "ieth" : "th");
    say(sink, word);
}

int hy_is_year(const char *digits, size_t n)
{
    unsigned v = n == 4 ? value(digits, 4) : 0;
    return (v >= 1010 && v <= 1999) || (v >= 2010 && v <= 2099);
}

void hy_say_year(const hy_word_sink *sink, const char *digits)
{
    unsigned low = value(digits + 2, 2);
    below_hundred(sink, value(digits, 2));
    if (low == 0) {
        say(sink, "hundred");
        return;
    }
    if (low < 10) {
        say(sink, "oh");
    }
    below_hundred(sink, low);
}

void hy_say_plural(const hy_word_sink *sink, const char *digits, size_t n)
{
    late l = {.to = sink};
    const hy_word_sink inner = {hold_word, &l};
    if (hy_is_year(digits, n)) {
        hy_say_year(&inner, digits);
    } else {
        hy_say_cardinal(&inner, digits, n);
    }
    size_t length = strlen(l.held);
    char end = length > 0 ? l.held[length - 1] : '\0';
    char word[32];
    snprintf(word, sizeof word, "%.*s%s", (int)(length - (end == 'y' ? 1 : 0)), l.held,
             end == 'y'   ? "ies"
             : end == 'x' ? "es"
                          : "s");
    say(sink, word);
}
