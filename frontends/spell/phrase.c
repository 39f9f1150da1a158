#include "phrase.h"

#include <stdlib.h>
#include <string.h>

/* Vowels first, then voiceless obstruents, voiced ones, sonorants. */
const char *const hy_phone_names[HY_PHONES] = {
    "aa", "ae", "ah", "ao", "aw", "ax", "ay", "eh", "er", "ey", "ih", "iy", "ow", "oy", "uh", "uw", /* 0..15 */
    "ch", "f",  "hh", "k",  "p",  "s",  "sh", "t",  "th",                                           /* 16..24 */
    "b",  "d",  "dh", "g",  "jh", "v",  "z",  "zh",                                                 /* 25..32 */
    "l",  "m",  "n",  "ng", "r",  "w",  "y",                                                        /* 33..39 */
};

int hy_phone_id(const char *name, size_t n)
{
    for (int i = 0; i < HY_PHONES; i++) {
        if (strlen(hy_phone_names[i]) == n && memcmp(hy_phone_names[i], name, n) == 0) {
            return i;
        }
    }
    return -1;
}

int hy_is_vowel(unsigned id)
{
    return id < 16;
}

int hy_is_voiceless(unsigned id)
{
    return id >= 16 && id < 25;
}

int hy_is_voiced(unsigned id)
{
    return id >= 25 && id < 33;
}

static void *append(void **list, size_t *count, size_t *capacity, size_t size)
{
    if (*count == *capacity) {
        size_t larger = 2 * *capacity + 64;
        void *grown = realloc(*list, larger * size);
        if (grown == NULL) {
            return NULL;
        }
        *list = grown;
        *capacity = larger;
    }
    void *item = (char *)*list + (*count)++ * size;
    memset(item, 0, size);
    return item;
}

hy_word *hy_phrase_word(hy_phrase *phrase)
{
    void *list = phrase->words;
    hy_word *word = append(&list, &phrase->word_count, &phrase->word_capacity, sizeof *word);
    phrase->words = list;
    return word;
}

hy_phone *hy_phrase_phone(hy_phrase *phrase)
{
    void *list = phrase->phones;
    hy_phone *phone = append(&list, &phrase->phone_count, &phrase->phone_capacity, sizeof *phone);
    phrase->phones = list;
    return phone;
}

hy_code *hy_phrase_code(hy_phrase *phrase)
{
    void *list = phrase->codes;
    hy_code *code = append(&list, &phrase->code_count, &phrase->code_capacity, sizeof *code);
    phrase->codes = list;
    return code;
}

void hy_phrase_free(hy_phrase *phrase)
{
    free(phrase->words);
    free(phrase->phones);
    free(phrase->codes);
}
