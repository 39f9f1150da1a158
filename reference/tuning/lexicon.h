/* An English word to phoneme codes, for tests and tuning: flite's lexicon gives phones and stress, the table in lexicon.c
 * the codes. */
#ifndef TUNING_LEXICON_H
#define TUNING_LEXICON_H

#include <stddef.h>
#include <stdint.h>

enum { WORD_CODES_MAX = 64 };

/* Codes of one lower-case word, pauses at both ends not included. Returns their number, 0 if there is no pronunciation. */
size_t word_codes(const char *word, uint8_t codes[WORD_CODES_MAX]);

#endif
