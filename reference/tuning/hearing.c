#include "hearing.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ear.h"
#include "lexicon.h"
#include "moves.h"
#include "say.h"
#include "wordlist.h"

enum { GRAMMAR_WORDS = 200 };

typedef struct word {
    const char *text;
    char grammar[32], alone[32];
    uint8_t codes[WORD_CODES_MAX + 1];
    size_t count;
    unsigned level;
    double cost, trial;
    int tried;
} word;

static ear *listener;
static word *words;
static size_t word_count;

static double listen(const hyoid_part *part, const word *w)
{
    sound s = {0};
    say(&s, part, w->codes, w->count, w->level, part->nominal_hz, EAR_RATE, 50.0);
    int32_t best, own;
    double cost = 0.0;
    if (strcmp(ear_hear(listener, w->grammar, &s, &best), w->text) != 0) {
        const char *heard = ear_hear(listener, w->alone, &s, &own);
        cost = heard[0] != 0 && best > own ? 0.5 + fmin(1.0, (double)(best - own) / 600.0)
               : heard[0] != 0             ? 0.5
                                           : 1.5;
    }
    sound_free(&s);
    return cost;
}

void hearing_open(const char *path, const hyoid_part *part)
{
    static wordlist list;
    wordlist_read(&list, path);
    listener = ear_open(1);
    if (listener == NULL) {
        exit(2);
    }
    words = calloc(list.count, sizeof *words);
    word_count = list.count;
    for (size_t i = 0; i < word_count; i++) {
        word *w = &words[i];
        w->text = list.words[i];
        w->count = word_codes(w->text, w->codes);
        w->codes[w->count++] = 0x03;
        w->level = (unsigned)i & 3;
        snprintf(w->grammar, sizeof w->grammar, "g%zu", i / GRAMMAR_WORDS);
        snprintf(w->alone, sizeof w->alone, "w%zu", i);
        ear_grammar(listener, w->alone, &w->text, 1);
    }
    for (size_t i = 0; i < word_count; i += GRAMMAR_WORDS) {
        const size_t count = word_count - i < GRAMMAR_WORDS ? word_count - i : GRAMMAR_WORDS;
        ear_grammar(listener, words[i].grammar, (const char *const *)&list.words[i], count);
    }
    for (size_t i = 0; i < word_count; i++) {
        words[i].cost = listen(part, &words[i]);
    }
}

void hearing_close(void)
{
    ear_close(listener);
    free(words);
}

static int uses(const word *w, int code)
{
    for (size_t i = 0; i < w->count && code >= 0; i++) {
        if (same_symbol(w->codes[i], (unsigned)code)) {
            return 1;
        }
    }
    return code < 0;
}

double hearing_cost(size_t *wrong, size_t *count)
{
    double sum = 0.0;
    *wrong = 0;
    *count = word_count;
    for (size_t i = 0; i < word_count; i++) {
        sum += words[i].cost;
        *wrong += words[i].cost > 0.0;
    }
    return sum;
}

static double hear_again(const hyoid_part *trial, word *w)
{
    w->trial = listen(trial, w);
    w->tried = 1;
    return w->trial - w->cost;
}

/* The misunderstood words first: only they can gain. */
int hearing_better(const hyoid_part *trial, int code, double gain)
{
    double change = 0.0;
    size_t heard = 0;
    for (size_t i = 0; i < word_count; i++) {
        words[i].tried = 0;
    }
    if (code < 0) { /* everything changes: a fifth of the words decides whether to go on */
        for (size_t i = 0; i < word_count; i += 5) {
            change += hear_again(trial, &words[i]);
        }
        if (change > -0.2 * gain) {
            return 0;
        }
    }
    for (int wrong = 1; wrong >= 0; wrong--) {
        for (size_t i = 0; i < word_count; i++) {
            word *w = &words[i];
            if (!w->tried && (w->cost > 0.0) == wrong && uses(w, code)) {
                change += hear_again(trial, w);
                if (!wrong && change > -gain) {
                    return 0;
                }
                if (wrong && ++heard % 16 == 0 && change > 0.02 * (double)heard) {
                    return 0; /* on no way to a gain */
                }
            }
        }
        if (change > -gain) {
            return 0;
        }
    }
    return 1;
}

void hearing_take(void)
{
    for (size_t i = 0; i < word_count; i++) {
        if (words[i].tried) {
            words[i].cost = words[i].trial;
        }
    }
}
