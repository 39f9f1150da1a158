#include "lexicon.h"

#include <stdio.h>
#include <string.h>

#include <flite/flite.h>

cst_lexicon *cmu_lex_init(void); /* of libflite_cmulex; no header declares it */

/* Phone -> codes, stressed and unstressed; the rules are those at the end of part-laws.md: a stressed vowel takes the longer
 * variant, an unstressed one the shorter, diphthongs and affricates are sequences. -1 ends a sequence. */
typedef struct rule {
    const char *phone;
    int16_t stressed[5], unstressed[5];
} rule;

static const rule rules[] = {
    {"aa", {0x15, -1}, {0x08, -1}},
    {"ae", {0x2e, -1}, {0x2f, -1}},
    {"ah", {0x33, -1}, {0x32, -1}},
    {"ao", {0x13, -1}, {0x30, -1}},
    {"aw", {0x15, 0x37, -1}, {0x08, 0x37, -1}},
    {"ax", {0x31, -1}, {0x31, -1}},
    {"ay", {0x15, 0x29, -1}, {0x08, 0x29, -1}},
    {"eh", {0x3b, -1}, {0x02, -1}},
    {"er", {0x3a, -1}, {0x3a, -1}},
    {"ey", {0x20, 0x21, -1}, {0x06, 0x21, -1}},
    {"ih", {0x0b, -1}, {0x0a, -1}},
    {"iy", {0x2c, -1}, {0x29, -1}},
    {"ow", {0x35, 0x37, -1}, {0x34, 0x37, -1}},
    {"oy", {0x13, 0x01, 0x29, -1}, {0x30, 0x01, 0x29, -1}},
    {"uh", {0x17, -1}, {0x16, -1}},
    {"uw", {0x36, 0x37, -1}, {0x37, -1}},
    {"b", {0x0e, -1}, {0x0e, -1}},
    {"ch", {0x2a, 0x10, -1}, {0x2a, 0x10, -1}},
    {"d", {0x1e, -1}, {0x1e, -1}},
    {"dh", {0x38, -1}, {0x38, -1}},
    {"f", {0x1d, -1}, {0x1d, -1}},
    {"g", {0x1c, -1}, {0x1c, -1}},
    {"hh", {0x1b, -1}, {0x1b, -1}},
    {"jh", {0x1e, 0x1a, -1}, {0x1e, 0x1a, -1}},
    {"k", {0x19, -1}, {0x19, -1}},
    {"l", {0x18, -1}, {0x18, -1}},
    {"m", {0x0c, -1}, {0x0c, -1}},
    {"n", {0x0d, -1}, {0x0d, -1}},
    {"ng", {0x14, -1}, {0x14, -1}},
    {"p", {0x25, -1}, {0x25, -1}},
    {"r", {0x2b, -1}, {0x2b, -1}},
    {"s", {0x1f, -1}, {0x1f, -1}},
    {"sh", {0x11, -1}, {0x11, -1}},
    {"t", {0x2a, -1}, {0x2a, -1}},
    {"th", {0x39, -1}, {0x39, -1}},
    {"v", {0x0f, -1}, {0x0f, -1}},
    {"w", {0x2d, -1}, {0x2d, -1}},
    {"y", {0x22, -1}, {0x22, -1}},
    {"z", {0x12, -1}, {0x12, -1}},
    {"zh", {0x07, -1}, {0x07, -1}},
};

static const rule *rule_for(const char *phone, size_t length)
{
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        if (strlen(rules[i].phone) == length && memcmp(rules[i].phone, phone, length) == 0) {
            return &rules[i];
        }
    }
    return NULL;
}

size_t word_codes(const char *word, uint8_t codes[WORD_CODES_MAX])
{
    static cst_lexicon *lexicon;
    if (lexicon == NULL) {
        lexicon = cmu_lex_init();
    }
    cst_val *phones = lex_lookup(lexicon, word, NULL, NULL);
    size_t count = 0;
    for (const cst_val *v = phones; v != NULL; v = val_cdr(v)) {
        const char *phone = val_string(val_car(v));
        size_t length = strlen(phone);
        int stressed = 0;
        if (length > 1 && (phone[length - 1] >= '0' && phone[length - 1] <= '2')) {
            stressed = phone[length - 1] != '0';
            length--;
        }
        const rule *r = rule_for(phone, length);
        if (r == NULL) {
            fprintf(stderr, "%s: no rule for the phone %s\n", word, phone);
            count = 0;
            break;
        }
        const int16_t *sequence = stressed ? r->stressed : r->unstressed;
        for (; *sequence >= 0 && count < WORD_CODES_MAX; sequence++) {
            codes[count++] = (uint8_t)*sequence;
        }
    }
    delete_val(phones);
    return count;
}
