/* Numbers as English words. `digits` are n ASCII digits. */
#ifndef HY_SPELL_NUMBERS_H
#define HY_SPELL_NUMBERS_H

#include <stddef.h>

typedef struct hy_word_sink {
    void (*say)(void *user, const char *word);
    void *user;
} hy_word_sink;

/* One by one, "oh" never: zero. */
void hy_say_digits(const hy_word_sink *sink, const char *digits, size_t n);

/* Up to 15 digits without a leading zero; others one by one. */
void hy_say_cardinal(const hy_word_sink *sink, const char *digits, size_t n);
void hy_say_ordinal(const hy_word_sink *sink, const char *digits, size_t n);

/* Four digits that are read in pairs, as years are: 1010 to 1999 and 2010 to 2099. */
int hy_is_year(const char *digits, size_t n);
void hy_say_year(const hy_word_sink *sink, const char *digits);

/* The same with the last word's plural: "nineteen eighties". */
void hy_say_plural(const hy_word_sink *sink, const char *digits, size_t n);

#endif
