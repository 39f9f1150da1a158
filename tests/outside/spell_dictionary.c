/* A whole dictionary through the speller: every purely alphabetic word of the one that a speech recogniser brings, one text
 * each. None may fail, every score must be one that the reader accepts, and the phones must agree with the
 * dictionary's (stress aside, any of a word's variants) for at least 92 of 100 words.
 *
 *     spell_dictionary [FILE]
 *
 * Prints how many, how many agree, the most frequent kind of difference, and the time; the time is not judged. */
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "../../frontends/spell/spell.h"
#include "score.h"

static const char dictionary[] = "/usr/share/pocketsphinx/model/en-us/cmudict-en-us.dict";

enum { VARIANTS = 12, WORD = 64, PHONES = 256, LEAST_WORDS = 117000, LEAST_AGREEING = 92 };

typedef struct entry {
    char word[WORD];
    char phones[VARIANTS][PHONES];
    size_t variants;
} entry;

/* What the speller said, as the dictionary would write it. */
typedef struct heard {
    char phones[PHONES * 40];
    size_t words;
} heard;

static void on_word(void *user, const hy_spelled *spelled)
{
    heard *h = user;
    if (spelled->arpabet[0] == '\0') {
        return;
    }
    h->words++;
    for (const char *s = spelled->arpabet; *s != '\0';) {
        size_t n = strcspn(s, " ");
        size_t bare = strcspn(s, " 01");
        size_t used = strlen(h->phones);
        int schwa = bare == 2 && strncmp(s, "ax", 2) == 0;
        snprintf(h->phones + used, sizeof h->phones - used, "%s%.*s", used > 0 ? " " : "", (int)bare,
                 schwa ? "ah" : s);
        s += n + (s[n] == ' ');
    }
}

/* "word PH PH" or "word(2) PH PH". 0 if the word has anything but letters. */
static int read_line(char *line, char *word, char *phones)
{
    size_t n = strcspn(line, " \t(");
    if (n == 0 || n >= WORD) {
        return 0;
    }
    for (size_t i = 0; i < n; i++) {
        if (line[i] < 'a' || line[i] > 'z') {
            return 0;
        }
        word[i] = line[i];
    }
    word[n] = '\0';
    const char *s = line + n;
    s += strcspn(s, " \t");
    s += strspn(s, " \t");
    size_t used = 0;
    for (; *s != '\0' && *s != '\n' && *s != '\r' && used + 1 < PHONES; s++) {
        phones[used++] = (char)tolower((unsigned char)*s);
    }
    phones[used] = '\0';
    return 1;
}

typedef struct tally {
    size_t words, agreeing, spelled_out;
} tally;

static int score_is_good(FILE *score, hy_diag *diag)
{
    rewind(score);
    hy_score *read = hy_score_read(score, "the score", diag);
    hy_score_free(read);
    return read != NULL;
}

static int try_word(hy_speller *speller, const entry *e, tally *t)
{
    heard h = {.words = 0};
    hy_diag diag = {""};
    const hy_spell_options options = {.level = 1, .word = on_word, .user = &h};
    char *text = NULL;
    size_t size = 0;
    FILE *score = open_memstream(&text, &size);
    int result = hy_spell(speller, e->word, strlen(e->word), &options, score, &diag);
    fclose(score);
    if (result == 0) {
        FILE *in = fmemopen(text, size, "r");
        result = score_is_good(in, &diag) ? 0 : -1;
        fclose(in);
    }
    free(text);
    if (result != 0) {
        fprintf(stderr, "%s: %s\n", e->word, diag.text);
        return -1;
    }
    int agrees = 0;
    for (size_t i = 0; i < e->variants; i++) {
        agrees = agrees || strcmp(e->phones[i], h.phones) == 0;
    }
    t->words++;
    t->agreeing += (size_t)agrees;
    t->spelled_out += h.words > 1 && !agrees;
    return 0;
}

/* Variants of a word stand together in the file. */
static int try_all(hy_speller *speller, FILE *in, tally *t)
{
    static entry e;
    char line[1024], word[WORD], phones[PHONES];
    int result = 0;
    while (result == 0 && fgets(line, sizeof line, in) != NULL) {
        if (!read_line(line, word, phones)) {
            continue;
        }
        if (strcmp(word, e.word) != 0) {
            result = e.word[0] != '\0' ? try_word(speller, &e, t) : 0;
            memcpy(e.word, word, sizeof word);
            e.variants = 0;
        }
        if (e.variants < VARIANTS) {
            memcpy(e.phones[e.variants++], phones, sizeof phones);
        }
    }
    return result == 0 && e.word[0] != '\0' ? try_word(speller, &e, t) : result;
}

static int skip(const char *why)
{
    if (getenv("CI") != NULL) {
        fprintf(stderr, "%s, and under CI nothing is skipped\n", why);
        return 1;
    }
    printf("SKIP: %s\n", why);
    return 77;
}

int main(int argc, char **argv)
{
    FILE *in = fopen(argc > 1 ? argv[1] : dictionary, "r");
    if (in == NULL) {
        return skip("pocketsphinx-en-us is not installed");
    }
    hy_diag diag = {""};
    if (!hy_speller_built_in()) {
        fclose(in);
        return skip("built without flite (flite1-dev)");
    }
    hy_speller *speller = hy_speller_new(&diag);
    tally t = {.words = 0};
    struct timespec from, to;
    clock_gettime(CLOCK_MONOTONIC, &from);
    int result = speller != NULL ? try_all(speller, in, &t) : -1;
    clock_gettime(CLOCK_MONOTONIC, &to);
    fclose(in);
    hy_speller_free(speller);
    if (result != 0) {
        fprintf(stderr, "stopped after %zu words: %s\n", t.words, diag.text);
        return 1;
    }
    double seconds = (double)(to.tv_sec - from.tv_sec) + 1e-9 * (double)(to.tv_nsec - from.tv_nsec);
    printf(
        "%zu words, %zu (%.2f %%) as the dictionary has them, %zu spelled out or read as an abbreviation, %.1f s\n",
        t.words, t.agreeing, t.words > 0 ? 100.0 * (double)t.agreeing / (double)t.words : 0.0, t.spelled_out,
        seconds);
    if (argc == 1 && t.words < LEAST_WORDS) {
        fprintf(stderr, "fewer than %d words: is this the whole dictionary?\n", LEAST_WORDS);
        return 1;
    }
    if (100 * t.agreeing < LEAST_AGREEING * t.words) {
        fprintf(stderr, "fewer than %d of 100 agree\n", LEAST_AGREEING);
        return 1;
    }
    return 0;
}
