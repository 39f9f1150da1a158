/* hyoid spell: the verb. */
#include "spell.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "options.h"
#include "outfile.h"
#include "score.h"
#include "text.h"

enum { OUTPUT, EXPLAIN, LEVEL, FLAT };

static const hy_option options[] = {
    [OUTPUT] = {"output", 'o', "FILE.score", "where the score goes (default: standard output)"},
    [EXPLAIN] = {"explain", 0, NULL, "print each word, its ARPABET and its codes instead;\nwith -o FILE both"},
    [LEVEL] = {"level", 0, "N", "inflection from which the voice rises and falls, 0..3 (default 1)"},
    [FLAT] = {"flat", 0, NULL, "stay at that level"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "spell",
    "TEXT... [-o FILE.score] [options]",
    "Turns English into a score for `hyoid render`. TEXT may be several arguments; - is standard input.\n"
    "Numbers and abbreviations are read out, punctuation becomes pauses, a question rises, and what can't be\n"
    "pronounced is spelled out. What has no name is left out with a note on standard error.",
    options,
    "Examples:\n"
    "  hyoid spell 'Is high water at 4 pm?' --explain\n"
    "  hyoid spell 'High water at six.' | hyoid render - -o water.wav",
};

typedef struct text {
    char *bytes;
    size_t size, capacity;
} text;

static int append(text *t, const char *bytes, size_t n, hy_diag *diag)
{
    if (t->size + n > HY_SPELL_TEXT_MAX) {
        return hy_fail(diag, "the text is longer than %d bytes; cut it into several", HY_SPELL_TEXT_MAX);
    }
    if (t->size + n > t->capacity) {
        size_t capacity = 2 * (t->size + n);
        char *grown = realloc(t->bytes, capacity);
        if (grown == NULL) {
            return hy_fail(diag, "out of memory");
        }
        t->bytes = grown;
        t->capacity = capacity;
    }
    if (n > 0) {
        memcpy(t->bytes + t->size, bytes, n);
    }
    t->size += n;
    return 0;
}

static int append_input(text *t, hy_diag *diag)
{
    char block[4096];
    size_t n;
    while ((n = fread(block, 1, sizeof block, stdin)) > 0) {
        if (append(t, block, n, diag) != 0) {
            return -1;
        }
    }
    return ferror(stdin) ? hy_fail(diag, "cannot read standard input: %s", strerror(errno)) : 0;
}

static int append_operand(text *t, const char *operand, hy_diag *diag)
{
    if (t->size > 0 && append(t, " ", 1, diag) != 0) {
        return -1;
    }
    return strcmp(operand, "-") == 0 ? append_input(t, diag) : append(t, operand, strlen(operand), diag);
}

static void cell(FILE *out, const char *s, size_t width)
{
    size_t columns = hy_text_columns(s, strlen(s));
    fprintf(out, "%s%*s  ", s, (int)(columns < width ? width - columns : 0), "");
}

static void explain_row(FILE *out, const char *word, const char *said, const char *arpabet, const char *codes)
{
    cell(out, word, 16);
    cell(out, said, 14);
    cell(out, arpabet, 26);
    fprintf(out, "%s\n", codes);
}

static void on_word(void *user, const hy_spelled *spelled)
{
    if (user != NULL) {
        explain_row(user, spelled->text, spelled->said, spelled->arpabet, spelled->codes);
    }
}

static void on_note(void *user, const char *note)
{
    (void)user;
    fprintf(stderr, "note: %s\n", note);
}

/* A score that render would refuse is no result: it may have become too long. */
static int check_score(FILE *stream, hy_diag *diag)
{
    if (fflush(stream) != 0 || ferror(stream)) {
        return 0; /* the outfile tells */
    }
    rewind(stream);
    hy_diag why = {""};
    hy_score *score = hy_score_read(stream, "the score", &why);
    fseek(stream, 0, SEEK_END);
    if (score == NULL) {
        return hy_fail(diag, "the text makes too long a score; cut it into several (%s)", why.text);
    }
    hy_score_free(score);
    return 0;
}

typedef struct request {
    const char *output;
    int explain, level, flat;
    text text;
} request;

static int write_all(const request *r, hy_speller *speller, hy_outfile *score, hy_outfile *table, hy_diag *diag)
{
    FILE *rows = table != NULL ? hy_outfile_stream(table) : NULL;
    FILE *out = score != NULL ? hy_outfile_stream(score) : NULL;
    const hy_spell_options how = {r->level, r->flat, on_word, on_note, rows};
    if (rows != NULL) {
        explain_row(rows, "text", "said", "ARPABET", "codes");
    }
    if (hy_spell(speller, r->text.bytes, r->text.size, &how, out, diag) != 0 ||
        (out != NULL && (check_score(out, diag) != 0 || hy_outfile_finish(score, diag) != 0)) ||
        (table != NULL && hy_outfile_finish(table, diag) != 0)) {
        return -1;
    }
    return 0;
}

static int spell(const request *r, hy_diag *diag)
{
    hy_speller *speller = hy_speller_new(diag);
    hy_outfile *score = NULL;
    hy_outfile *table = NULL;
    int result = speller != NULL ? 0 : -1;
    if (result == 0 && (r->output != NULL || !r->explain)) {
        score = hy_outfile_open(r->output != NULL ? r->output : "-", diag);
        result = score != NULL ? 0 : -1;
    }
    if (result == 0 && r->explain) {
        table = hy_outfile_open("-", diag);
        result = table != NULL ? 0 : -1;
    }
    if (result == 0) {
        result = write_all(r, speller, score, table, diag);
    }
    if (result != 0) {
        hy_outfile_abandon(score);
        hy_outfile_abandon(table);
    } else {
        if (score != NULL) {
            result = hy_outfile_commit(score, diag);
        }
        if (table != NULL) {
            result = hy_outfile_commit(table, diag) == 0 ? result : -1;
        }
    }
    hy_speller_free(speller);
    return result;
}

/* A score over a sound file of the same purpose would be a sad slip: spell writes text, render makes sound. */
static int score_place(const char *path, hy_diag *diag)
{
    const size_t n = strlen(path), e = strlen(".score");
    if (strcmp(path, "-") == 0 || (n > e && strcmp(path + n - e, ".score") == 0) || strncmp(path, "/dev/", 5) == 0) {
        return 0;
    }
    return hy_fail(diag,
                   "--output %s: spell writes a score, so the name must end in .score; for sound: hyoid spell ... | "
                   "hyoid render - -o %s",
                   path, path);
}

static int take(request *r, int option, const char *value, hy_diag *diag)
{
    switch (option) {
    case HY_OPERAND:
        return append_operand(&r->text, value, diag);
    case OUTPUT:
        r->output = value;
        return score_place(value, diag);
    case EXPLAIN:
        r->explain = 1;
        return 0;
    case LEVEL:
        if (strlen(value) != 1 || value[0] < '0' || value[0] > '3') {
            return hy_fail(diag, "--level %s: 0, 1, 2 or 3 would be right", value);
        }
        r->level = value[0] - '0';
        return 0;
    default:
        r->flat = 1;
        return 0;
    }
}

int hy_spell_main(int argc, char **argv)
{
    request r = {.level = 1};
    hy_diag diag = {""};
    hy_options state;
    int operands = 0;
    int result = 0;
    hy_options_start(&state, &usage, argc, argv);
    for (;;) {
        int next = hy_options_next(&state, &diag);
        if (next == HY_OPTIONS_END) {
            break;
        }
        if (next == HY_OPTIONS_HELP) {
            free(r.text.bytes);
            return hy_options_help(&usage);
        }
        operands += next == HY_OPERAND;
        if (next == HY_OPTIONS_BAD || take(&r, next, state.value, &diag) != 0) {
            result = -1;
            break;
        }
    }
    if (result == 0 && operands == 0) {
        result = hy_fail(&diag, "spell needs a TEXT, or - for standard input");
    }
    if (result == 0 && r.explain && r.output != NULL && strcmp(r.output, "-") == 0) {
        result =
            hy_fail(&diag, "--explain goes to standard output, where the score can't go too; -o FILE would be right");
    }
    if (result == 0) {
        result = spell(&r, &diag);
    }
    free(r.text.bytes);
    return result == 0 ? 0 : hy_refuse(&diag);
}
