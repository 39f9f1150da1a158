/* An English word to phoneme codes, by the rules of `hyoid spell`. */
#ifndef TUNING_LEXICON_H
#define TUNING_LEXICON_H

#include <stddef.h>
#include <stdint.h>

enum { WORD_CODES_MAX = 64 };

/* Codes of one lower-case word said alone, pauses at its ends not included. Returns their number, 0 if it can't be said. */
size_t word_codes(const char *word, uint8_t codes[WORD_CODES_MAX]);

#endif
