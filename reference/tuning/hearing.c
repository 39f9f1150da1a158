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

enum { GRAMMAR_WORDS = 100, RENDERINGS = 2 };

typedef struct word { /* one rendering of a word */
    const char *text;
    char grammar[32];
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
    const int right = strcmp(ear_hear(listener, w->grammar, &s), w->text) == 0;
    sound_free(&s);
    return right ? 0.0 : 1.0;
}

void hearing_open(const char *path, const hyoid_part *part)
{
    static wordlist list;
    wordlist_read(&list, path);
    listener = ear_open();
    if (listener == NULL) {
        exit(2);
    }
    word_count = RENDERINGS * list.count;
    words = calloc(word_count, sizeof *words);
    for (size_t i = 0; i < word_count; i++) {
        word *w = &words[i];
        const size_t n = i / RENDERINGS;
        w->text = list.words[n];
        w->count = word_codes(w->text, w->codes);
        w->codes[w->count++] = 0x03;
        w->level = (unsigned)(n + 2 * (i % RENDERINGS)) & 3;
        snprintf(w->grammar, sizeof w->grammar, "g%zu", n / GRAMMAR_WORDS);
    }
    for (size_t n = 0; n < list.count; n += GRAMMAR_WORDS) {
        const size_t count = list.count - n < GRAMMAR_WORDS ? list.count - n : GRAMMAR_WORDS;
        ear_grammar(listener, words[RENDERINGS * n].grammar, (const char *const *)&list.words[n], count);
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
