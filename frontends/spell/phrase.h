/* A phrase on its way from words to codes: what is said between two marks. */
#ifndef HY_SPELL_PHRASE_H
#define HY_SPELL_PHRASE_H

#include <stddef.h>
#include <stdint.h>

#include "tokens.h"

enum { HY_PHRASE_WORDS = 60 }; /* tokens; a longer phrase goes on as a new one without a pause */

typedef struct hy_phone {
    uint8_t id;             /* in hy_phone_names */
    uint8_t stress;         /* of a vowel: 0 or 1 */
    uint8_t initial, final; /* in its word */
    uint8_t last;           /* in the last syllable before a mark */
    uint8_t more;           /* further syllables follow in its word */
    uint32_t word, syllable;
} hy_phone;

typedef struct hy_word {
    char text[HY_WORD_LETTERS + 14]; /* as looked up */
    size_t said;                     /* which of the phrase's tokens it belongs to */
    size_t phone, phone_count;
    int accented; /* its stressed syllables get an accent */
} hy_word;

typedef struct hy_code {
    uint8_t code, level;
    uint16_t rule; /* row, from 1 */
    uint32_t phone;
} hy_code;

typedef struct hy_phrase {
    hy_said said[HY_PHRASE_WORDS];
    size_t said_count;
    hy_word *words;
    size_t word_count, word_capacity;
    hy_phone *phones;
    size_t phone_count, phone_capacity;
    hy_code *codes;
    size_t code_count, code_capacity;
} hy_phrase;

void hy_phrase_free(hy_phrase *phrase);

/* Zeroed and at the end; null without memory. */
hy_word *hy_phrase_word(hy_phrase *phrase);
hy_phone *hy_phrase_phone(hy_phrase *phrase);
hy_code *hy_phrase_code(hy_phrase *phrase);

/* The phones: ARPABET without stress, small letters. HY_PAUSE stands for what is beyond a phrase. */
enum { HY_PHONES = 40, HY_PAUSE = HY_PHONES };
extern const char *const hy_phone_names[HY_PHONES];
int hy_phone_id(const char *name, size_t n); /* -1: none */
int hy_is_vowel(unsigned id);
int hy_is_voiceless(unsigned id); /* obstruents */
int hy_is_voiced(unsigned id);

#endif
