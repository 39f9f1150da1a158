/* Writes the word lists of this folder: the commonest English words by the recogniser's own language model, split into tuning
 * and check words by a hash of the word, so that no choice of ours decides which is which.
 *
 *   make_lists FOLDER
 *
 * A word is taken if it has only letters, at least 3 letters and at least 3 phones, is no digit and no obscenity, has one spelling (no commoner word
 * has a pronunciation of it), and the lexicon can say it. Order: falling unigram probability. FNV-1a, 32 bits, of its letters:
 * hash mod 5 is 0 or 1 -> tuning, else check. The first 1000 tuning words; the first 400 check words, dealt in turn to four lists. */
#include <ctype.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <pocketsphinx.h>
#include <sphinxbase/err.h>
#include <sphinxbase/ngram_model.h>

#include "lexicon.h"

#define MODEL "/usr/share/pocketsphinx/model/en-us/"

enum { TUNING = 1000, CHECK = 400, LISTS = 4, SAID_MAX = 20000, DICTIONARY_MAX = 140000 };

typedef struct common {
    const char *word;
    int32 score;
} common;

typedef struct entry {
    char *word, *phones;
} entry;

static entry dictionary[DICTIONARY_MAX];
static size_t entries;
static char *said[SAID_MAX];
static size_t said_count;

static int by_score(const void *a, const void *b)
{
    const common *x = a, *y = b;
    return x->score != y->score ? (x->score < y->score) - (x->score > y->score) : strcmp(x->word, y->word);
}

static int by_word(const void *a, const void *b)
{
    return strcmp(((const entry *)a)->word, ((const entry *)b)->word);
}

static void read_dictionary(void)
{
    FILE *in = fopen(MODEL "cmudict-en-us.dict", "r");
    if (in == NULL) {
        perror(MODEL "cmudict-en-us.dict");
        exit(2);
    }
    char line[512];
    while (entries < DICTIONARY_MAX && fgets(line, sizeof line, in) != NULL) {
        line[strcspn(line, "\r\n")] = 0;
        char *space = strchr(line, ' ');
        if (space == NULL) {
            continue;
        }
        *space = 0;
        char *alternative = strchr(line, '('); /* word(2): another pronunciation */
        if (alternative != NULL && alternative != line) {
            *alternative = 0;
        }
        dictionary[entries].word = strdup(line);
        dictionary[entries++].phones = strdup(space + 1);
    }
    fclose(in);
    qsort(dictionary, entries, sizeof *dictionary, by_word);
}

static const entry *find(const char *word)
{
    const entry key = {.word = (char *)(uintptr_t)word};
    const entry *e = bsearch(&key, dictionary, entries, sizeof *dictionary, by_word);
    while (e != NULL && e > dictionary && strcmp(e[-1].word, word) == 0) {
        e--;
    }
    return e;
}

/* Tested elsewhere, or not fit to be printed. */
static int is_left_out(const char *word)
{
    static const char *const stems[] = {"fuck", "shit", "bitch", "nigg", "whore", "porn", "rape"};
    for (size_t i = 0; i < sizeof stems / sizeof *stems; i++) {
        if (strstr(word, stems[i]) != NULL) {
            return 1;
        }
    }
    static const char *const digits[] = {"zero", "one", "two",   "three", "four",
                                         "five", "six", "seven", "eight", "nine"};
    for (size_t i = 0; i < 10; i++) {
        if (strcmp(word, digits[i]) == 0) {
            return 1;
        }
    }
    return 0;
}

static int wanted(const char *word)
{
    for (const char *c = word; *c != 0; c++) {
        if (!islower((unsigned char)*c)) {
            return 0;
        }
    }
    if (strlen(word) < 3 || is_left_out(word)) {
        return 0;
    }
    const entry *first = find(word);
    if (first == NULL) {
        return 0;
    }
    int good = 1;
    for (const entry *e = first; e < dictionary + entries && strcmp(e->word, word) == 0; e++) {
        int phones = 1;
        for (const char *c = e->phones; *c != 0; c++) {
            phones += *c == ' ';
        }
        good = good && phones >= 3;
        for (size_t i = 0; i < said_count && good; i++) {
            good = strcmp(said[i], e->phones) != 0;
        }
    }
    uint8_t codes[WORD_CODES_MAX];
    if (!good || word_codes(word, codes) == 0) {
        return 0;
    }
    for (const entry *e = first; e < dictionary + entries && strcmp(e->word, word) == 0 && said_count < SAID_MAX;
         e++) {
        said[said_count++] = e->phones;
    }
    return 1;
}

static uint32_t fnv1a(const char *word)
{
    uint32_t hash = 2166136261u;
    for (; *word != 0; word++) {
        hash = (hash ^ (uint8_t)*word) * 16777619u;
    }
    return hash;
}

static FILE *open_list(const char *folder, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *out = fopen(path, "w");
    if (out == NULL) {
        perror(path);
        exit(2);
    }
    return out;
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: make_lists FOLDER\n");
        return 2;
    }
    err_set_logfp(NULL);
    read_dictionary();
    logmath_t *math = logmath_init(1.0001, 0, 0);
    ngram_model_t *model = ngram_model_read(NULL, MODEL "en-us.lm.bin", NGRAM_AUTO, math);
    if (model == NULL) {
        fprintf(stderr, "the language model can't be read\n");
        return 2;
    }
    const uint32 words = ngram_model_get_counts(model)[0];
    common *list = calloc(words, sizeof *list);
    for (uint32 i = 0; i < words; i++) {
        int32 used;
        list[i].word = ngram_word(model, (int32)i);
        list[i].score = ngram_ng_score(model, (int32)i, NULL, 0, &used);
    }
    qsort(list, words, sizeof *list, by_score);

    FILE *tuning = open_list(argv[1], "words_tuning.txt"), *check[LISTS];
    for (int i = 0; i < LISTS; i++) {
        char name[32];
        snprintf(name, sizeof name, "words_check_%d.txt", i + 1);
        check[i] = open_list(argv[1], name);
    }
    int tuned = 0, checked = 0;
    for (uint32 i = 0; i < words && (tuned < TUNING || checked < CHECK); i++) {
        const char *word = list[i].word;
        if (!wanted(word)) {
            continue;
        }
        if (fnv1a(word) % 5 < 2) {
            if (tuned < TUNING) {
                fprintf(tuning, "%s\n", word);
                tuned++;
            }
        } else if (checked < CHECK) {
            fprintf(check[checked % LISTS], "%s\n", word);
            checked++;
        }
    }
    fclose(tuning);
    for (int i = 0; i < LISTS; i++) {
        fclose(check[i]);
    }
    free(list);
    ngram_model_free(model);
    logmath_free(math);
    return 0;
}
