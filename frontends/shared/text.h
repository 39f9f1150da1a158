/* What the text readers share: UTF-8, showing what was found, suggesting what was meant. */
#ifndef HY_TEXT_H
#define HY_TEXT_H

#include <stddef.h>
#include <stdint.h>

/* Decodes one code point at s[0..n), n > 0. Its length in bytes, or 0 if the bytes are not UTF-8 (overlong
 * forms, surrogates and what lies beyond U+10FFFF are not). */
size_t hy_utf8(const char *s, size_t n, uint32_t *point);

/* Null if s[0..n) begins with a code point that may stand in a text file (everything but control characters; tab is one
 * that may); otherwise a phrase that says what stands there. *length is set to the bytes of the code point. */
const char *hy_text_bad(const char *s, size_t n, size_t *length);

size_t hy_text_columns(const char *s, size_t n); /* code points in valid UTF-8 */

/* How many of the n bytes fit into `most` without cutting a character in two. */
size_t hy_text_fit(const char *s, size_t n, size_t most);

/* A found word as a message quotes it: in double quotes, cut after 32 code points. */
typedef struct hy_shown {
    char text[144];
} hy_shown;
hy_shown hy_show(const char *s, size_t n);

/* The names that the word may have been meant for: at most three, those that need the fewest corrections first (ASCII case
 * ignored), separated by ", "; empty if none is near. */
typedef struct hy_near {
    char text[104];
} hy_near;
hy_near hy_near_names(const char *word, size_t n, const char *const *names, size_t count);

/* Whether the word is this name, letters of either case. */
int hy_word_is(const char *word, size_t n, const char *name);

#endif
