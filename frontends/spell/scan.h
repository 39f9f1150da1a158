/* Inside the tokens: tokens.c splits the text and decides on marks, pieces.c says what stands in a token, amounts.c reads
 * numbers. */
#ifndef HY_SPELL_SCAN_H
#define HY_SPELL_SCAN_H

#include "numbers.h"
#include "tokens.h"

typedef struct hy_scan {
    const hy_plain *plain;
    const hy_spell_tables *tables;
    const hy_token_sink *sink;
    int stopped;  /* the sink wanted no more */
    size_t words; /* said so far */

    /* the token */
    size_t from, end;   /* without the marks around it */
    int dot;            /* a dot follows it */
    unsigned char next; /* first character of the next token, past opening marks; 0 at the end */
    int dot_used;       /* which belongs to an abbreviation */
    int opens;          /* the abbreviation goes with what follows: no sentence ends here */

    int quantity;      /* what was said last is a number: 1 if it is one, 2 otherwise */
    int capital;       /* the token before starts with a capital letter */
    const char *owing; /* a currency's name, to be said after "million" */
} hy_scan;

int hy_is_digit(unsigned char c);
int hy_is_letter(unsigned char c);
int hy_is_capital(unsigned char c);

void hy_scan_say(hy_scan *scan, const char *word);      /* a word in small letters, or a capital: its name */
void hy_scan_say_all(hy_scan *scan, const char *words); /* separated by spaces, up to a | */
void hy_scan_mark(hy_scan *scan, char mark);
hy_word_sink hy_scan_sink(hy_scan *scan);

/* What is between the bars of one|many; n from 0. Empty if there are fewer. */
void hy_scan_choice(const char *words, int n, char *out, size_t size);

/* Says what starts at `i` in the token; returns where the rest starts. */
size_t hy_piece(hy_scan *scan, size_t i);

/* The same for a number or an amount of money; `i` itself if none stands there. */
size_t hy_amount(hy_scan *scan, size_t i);

#endif
