/* Searches a part's values, within their bit widths, against published figures and an ear that is not ours.
 *
 *   search formants --from FOLDER --to FOLDER [--inside]
 *   search sounds   --from FOLDER --to FOLDER
 *   search words    --from FOLDER --to FOLDER --words LIST [--seed N] [--tries N] [--constants] [--phonemes] [--only SYMBOL,SYMBOL,...]
 *   search merge    --from BASE --with A --with B --to FOLDER
 *   search check    --from FOLDER
 *
 * formants: moves F1, F2, F3 codes of the ten published vowels (all variants of a symbol together) to where the measured formants
 *   are nearest the published ones; with --inside only those that are outside the tolerance, and as few steps as it takes.
 * sounds: moves levels and spectra of fricatives and nasals into the bounds of checks.c.
 * words: moves any code by one step (or a constant by a small ratio) and keeps the move if the tuning words are understood better
 *   and the part stays inside the bounds of checks.c. Each word is said at two levels of inflection; a move must win two renderings
 *   more than it loses (a constant: four). Ends when no move helps, or after --tries moves; each line tells the tries so far, so that a run that
 *   was stopped by hand can be repeated to the same number.
 * merge: the base with all numbers that A and B moved (two searches of different symbols, run side by side).
 * check: prints the breaches. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "checks.h"
#include "hearing.h"
#include "measure.h"
#include "moves.h"
#include "partfile.h"
#include "partfile_fields.h"
#include "partout.h"
#include "score.h"

static uint64_t random_state = 1;

static uint32_t draw(uint32_t below)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)((random_state >> 33) * below >> 31);
}

static void shuffle(size_t *order, size_t count)
{
    for (size_t i = count; i > 1; i--) {
        const size_t j = draw((uint32_t)i), t = order[i - 1];
        order[i - 1] = order[j];
        order[j] = t;
    }
}

/* --- formants --- */

static double vowel_distance(const hyoid_part *part, const vowel *v)
{
    double sum = 0.0;
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        double hz[FORMANTS];
        measure_formants(part, v->code, level, hz);
        for (unsigned k = 0; k < FORMANTS; k++) {
            const double e = (hz[k] - v->hz[k]) / formant_tolerance(v, k);
            sum += e * e;
        }
    }
    return sum;
}

static void search_formants(hyoid_part *part)
{
    for (size_t i = 0; i < VOWELS; i++) {
        double best = vowel_distance(part, &vowels[i]);
        const double before = vowel_error(part, &vowels[i]);
        for (int better = 1; better;) {
            better = 0;
            for (unsigned q = F1; q <= F3; q++) {
                for (int delta = -1; delta <= 1; delta += 2) {
                    hyoid_part trial = *part;
                    const double d =
                        move_number(&trial, vowels[i].code, q, delta) ? vowel_distance(&trial, &vowels[i]) : 1e9;
                    if (d < best - 1e-9) {
                        best = d;
                        *part = trial;
                        better = 1;
                    }
                }
            }
        }
        printf("%s: worst error %.2f of the tolerance, was %.2f\n", vowels[i].symbol, vowel_error(part, &vowels[i]),
               before);
        fflush(stdout);
    }
}

/* The fewest steps, up to two of each formant, that bring each vowel within 95 % of its tolerance; of equals, the nearest. */
static void bring_inside(hyoid_part *part)
{
    for (size_t i = 0; i < VOWELS; i++) {
        if (vowel_error(part, &vowels[i]) <= 0.95) {
            continue;
        }
        hyoid_part best = *part;
        int steps = 100;
        double distance = 1e9;
        for (int n = 0; n < 125; n++) {
            const int d[3] = {n % 5 - 2, n / 5 % 5 - 2, n / 25 - 2}, sum = abs(d[0]) + abs(d[1]) + abs(d[2]);
            hyoid_part trial = *part;
            if (sum <= steps && sum <= 3 && move_number(&trial, vowels[i].code, F1, d[0]) &&
                move_number(&trial, vowels[i].code, F2, d[1]) && move_number(&trial, vowels[i].code, F3, d[2]) &&
                vowel_error(&trial, &vowels[i]) <= 0.95) {
                const double e = vowel_distance(&trial, &vowels[i]);
                if (sum < steps || e < distance) {
                    best = trial;
                    steps = sum;
                    distance = e;
                }
            }
        }
        *part = best;
        printf("%s: %d steps\n", vowels[i].symbol, steps);
        fflush(stdout);
    }
}

/* --- levels and spectra of consonants --- */

static void search_sounds(hyoid_part *part)
{
    static const unsigned codes[] = {0x1f, 0x11, 0x1d, 0x39, 0x12, 0x07, 0x0f, 0x38, 0x1b, 0x0c, 0x0d, 0x14};
    static const unsigned quantities[] = {FA, FC, F1, VA, F3};
    const unsigned what = CHECK_FRICATIVES | CHECK_NASALS;
    double best = checks_breach(part, what, 0.15, NULL);
    for (int better = 1; better && best > 0.0;) {
        better = 0;
        for (size_t i = 0; i < sizeof codes / sizeof *codes; i++) {
            for (size_t q = 0; q < sizeof quantities / sizeof *quantities; q++) {
                for (int delta = -1; delta <= 1; delta += 2) {
                    hyoid_part trial = *part;
                    if (*number(part, codes[i], quantities[q]) == 0 && quantities[q] != F1 && quantities[q] != FC) {
                        continue; /* voiceless stays voiceless, noiseless stays noiseless */
                    }
                    const double breach = move_number(&trial, codes[i], quantities[q], delta)
                                              ? checks_breach(&trial, what, 0.15, NULL)
                                              : 1e9;
                    if (breach < best - 1e-6) {
                        best = breach;
                        *part = trial;
                        better = 1;
                        printf("%s %s %+d: breach %.3f\n", hy_symbols[codes[i]].symbol,
                               hy_quantities[quantities[q]].name, delta, best);
                        fflush(stdout);
                    }
                }
            }
        }
    }
}

/* --- words --- */

static const vowel *vowel_of(unsigned code)
{
    for (size_t i = 0; i < VOWELS; i++) {
        if (same_symbol(code, vowels[i].code)) {
            return &vowels[i];
        }
    }
    return NULL;
}

/* Which checks can a move of this number break, besides a vowel's own? */
static unsigned concerned(unsigned code, unsigned quantity)
{
    unsigned what = CHECK_STOPS;
    if (vowel_of(code) != NULL) {
        what |= CHECK_PITCH | (quantity == VA ? CHECK_FRICATIVES | CHECK_NASALS : 0);
    } else if (quantity != VD && quantity != CLD) {
        what |= CHECK_FRICATIVES | CHECK_NASALS;
    }
    return what;
}

static const char *only; /* symbols that may be moved, or null */

static int is_wanted(unsigned code)
{
    char wanted[16];
    if (only == NULL) {
        return 1;
    }
    snprintf(wanted, sizeof wanted, ",%s,", hy_symbols[code].symbol);
    char symbols[512];
    snprintf(symbols, sizeof symbols, ",%s,", only);
    return strstr(symbols, wanted) != NULL;
}

static int worth_moving(const hyoid_part *part, unsigned code, unsigned quantity)
{
    const hyoid_phoneme *p = &part->phoneme[code];
    if (p->pause || first_of_symbol(code) != code || !is_wanted(code)) {
        return 0;
    }
    switch (quantity) {
    case VA:
        return p->va > 0;
    case FA:
        return p->fa > 0;
    case FC:
        return p->fa > 0;
    case CLD:
        return p->fa > 0;
    default:
        return 1;
    }
}

static unsigned long tries; /* moves of the present search, kept or not */

static const char *from, *to, *list; /* the folders read and written, and the words */
static const char by_words[] = "by the search of reference/tuning (tuning words, bounded by the published checks)";

static void tell(const char *what, const char *which, int delta)
{
    size_t wrong, word_count;
    const double cost = hearing_cost(&wrong, &word_count);
    printf("%5lu %-10s %-20s %+d   cost %.2f, %zu of %zu wrong\n", tries, what, which, delta, cost, wrong,
           word_count);
    fflush(stdout);
}

/* The words first, then the checks, which cost more than to find out that a move is none. */
static int accept(const hyoid_part *trial, int code, double gain, unsigned checks, const vowel *v)
{
    if (!hearing_better(trial, code, gain) || (v != NULL && vowel_error(trial, v) > 0.95) ||
        checks_breach(trial, checks, 0.05, NULL) > 0.0) {
        return 0;
    }
    hearing_take();
    return 1;
}

static int try_constant(hyoid_part *part, size_t which, int sign)
{
    hyoid_part trial = *part;
    tries++;
    if (!move_constant(&trial, which, sign) || hyoid_part_check(&trial, NULL) != HYOID_OK ||
        !accept(&trial, -1, 4.0, CHECK_ALL, NULL)) {
        return 0;
    }
    *part = trial;
    recognise_pulse(part);
    tell("constant", constant_names[which], sign);
    part_write(part, from, to, by_words);
    return 1;
}

static int try_number(hyoid_part *part, unsigned code, unsigned quantity, int delta)
{
    hyoid_part trial = *part;
    tries++;
    if (!move_number(&trial, code, quantity, delta) || hyoid_part_check(&trial, NULL) != HYOID_OK) {
        return 0;
    }
    if (checks_breach(&trial, concerned(code, quantity) & (CHECK_STOPS | CHECK_PITCH), 0.05, NULL) > 0.0 ||
        !accept(&trial, (int)code, 2.0, concerned(code, quantity), quantity <= BW2 ? vowel_of(code) : NULL)) {
        return 0;
    }
    *part = trial;
    char which[64];
    snprintf(which, sizeof which, "%s %s", hy_symbols[code].symbol, hy_quantities[quantity].name);
    tell("phoneme", which, delta);
    part_write(part, from, to, by_words);
    return 1;
}

static void search_words(hyoid_part *part, unsigned long most, int constants, int phonemes)
{
    hearing_open(list, part);
    recognise_pulse(part);
    tell("start", "", 0);
    enum { NUMBERS = HYOID_PHONEMES * MOVABLE, MOVES = 2 * (NUMBERS + CONSTANTS) };
    static size_t order[MOVES];
    size_t moves = 0;
    for (size_t i = 0; i < MOVES; i++) {
        const size_t n = i / 2;
        if (n < NUMBERS ? phonemes && worth_moving(part, (unsigned)(n / MOVABLE), (unsigned)(n % MOVABLE))
                        : constants) {
            order[moves++] = i;
        }
    }
    for (int found = 1; found && tries < most;) {
        found = 0;
        shuffle(order, moves);
        for (size_t m = 0; m < moves && tries < most; m++) {
            const size_t n = order[m] / 2;
            const int sign = order[m] & 1 ? 1 : -1;
            if (n >= NUMBERS) {
                while (tries < most && try_constant(part, n - NUMBERS, sign)) {
                    found = 1;
                }
            } else {
                while (tries < most && try_number(part, (unsigned)(n / MOVABLE), (unsigned)(n % MOVABLE), sign)) {
                    found = 1;
                }
            }
        }
        tell("round", found ? "goes on" : "nothing better", 0);
    }
    hearing_close();
}

static void merge_parts(hyoid_part *part, const char *const folders[2])
{
    const hyoid_part base = *part;
    for (size_t f = 0; f < 2; f++) {
        hy_diag diag = {""};
        hy_partfile *file = hy_partfile_read(folders[f], &diag);
        if (file == NULL) {
            fprintf(stderr, "%s\n", diag.text);
            exit(2);
        }
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            for (unsigned q = 0; q < MOVABLE; q++) {
                const uint8_t now =
                    *((const uint8_t *)&hy_partfile_part(file)->phoneme[code] + hy_quantities[q].offset);
                if (now != *((const uint8_t *)&base.phoneme[code] + hy_quantities[q].offset)) {
                    *number(part, code, q) = now;
                }
            }
        }
        hy_partfile_free(file);
    }
}

/* --- the command line --- */

typedef enum mode { FORMANTS_MODE, SOUNDS_MODE, WORDS_MODE, MERGE_MODE, CHECK_MODE, NO_MODE } mode;

typedef struct request {
    mode mode;
    const char *with[2]; /* merge */
    int inside;          /* formants */
    unsigned long most;  /* words: tries */
    int constants, phonemes;
} request;

static int usage(void)
{
    fprintf(stderr,
            "usage: search formants|sounds|words|merge|check --from FOLDER --to FOLDER (see the top of search.c)\n");
    return 2;
}

/* Options with a value. 0: it is none of them. */
static int take_value(request *r, const char *option, const char *value)
{
    if (strcmp(option, "--from") == 0) {
        from = value;
    } else if (strcmp(option, "--to") == 0) {
        to = value;
    } else if (strcmp(option, "--words") == 0) {
        list = value;
    } else if (strcmp(option, "--with") == 0 && r->with[1] == NULL) {
        r->with[r->with[0] != NULL] = value;
    } else if (strcmp(option, "--only") == 0) {
        only = value;
    } else if (strcmp(option, "--seed") == 0) {
        random_state = strtoull(value, NULL, 0);
    } else if (strcmp(option, "--tries") == 0) {
        r->most = strtoul(value, NULL, 0);
    } else {
        return 0;
    }
    return 1;
}

static int take_options(request *r, int argc, char **argv)
{
    static const char *const names[] = {"formants", "sounds", "words", "merge", "check"};
    for (int m = 0; argc > 1 && m < NO_MODE; m++) {
        r->mode = strcmp(argv[1], names[m]) == 0 ? (mode)m : r->mode;
    }
    for (int i = 2; i < argc; i++) {
        if (strcmp(argv[i], "--constants") == 0) {
            r->constants = 1;
        } else if (strcmp(argv[i], "--phonemes") == 0) {
            r->phonemes = 1;
        } else if (strcmp(argv[i], "--inside") == 0) {
            r->inside = 1;
        } else if (i + 1 < argc && take_value(r, argv[i], argv[i + 1])) {
            i++;
        } else {
            fprintf(stderr, "%s: no such option, or no value behind it (see the top of search.c)\n", argv[i]);
            return -1;
        }
    }
    return 0;
}

static int run(const request *r, hyoid_part *part)
{
    static const char *const said_to_be_by[] = {
        [FORMANTS_MODE] = "by the search of reference/tuning (formants by Burg's method on the rendered vowel)",
        [SOUNDS_MODE] =
            "by the search of reference/tuning (levels and spectra of Jongman et al. 2000 and Stevens 1998)",
        [WORDS_MODE] = by_words,
        [MERGE_MODE] = by_words};
    switch (r->mode) {
    case CHECK_MODE: {
        const double breach = checks_breach(part, CHECK_ALL, 0.0, stdout);
        printf("breach %.3f\n", breach);
        return breach > 0.0;
    }
    case WORDS_MODE:
        search_words(part, r->most, r->constants, r->phonemes);
        break;
    case MERGE_MODE:
        merge_parts(part, r->with);
        break;
    case SOUNDS_MODE:
        search_sounds(part);
        break;
    default:
        (r->inside ? bring_inside : search_formants)(part);
        break;
    }
    part_write(part, from, to, said_to_be_by[r->mode]);
    return 0;
}

int main(int argc, char **argv)
{
    request r = {.mode = NO_MODE, .most = (unsigned long)-1};
    if (take_options(&r, argc, argv) != 0) {
        return 2;
    }
    if (r.mode == NO_MODE || from == NULL || (r.mode != CHECK_MODE && to == NULL) ||
        (r.mode == WORDS_MODE && list == NULL) || (r.mode == MERGE_MODE && r.with[1] == NULL)) {
        return usage();
    }
    hy_diag diag = {""};
    hy_partfile *file = hy_partfile_read(from, &diag);
    if (file == NULL) {
        fprintf(stderr, "%s\n", diag.text);
        return 2;
    }
    hyoid_part part = *hy_partfile_part(file);
    hy_partfile_free(file);
    return run(&r, &part);
}
