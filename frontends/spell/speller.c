/* From the text to the score: phrase by phrase through the stages that spell.h names. */
#include <stdlib.h>
#include <string.h>

#include "front.h"
#include "plain.h"
#include "rules.h"
#include "spell.h"
#include "tables.h"
#include "tokens.h"
#include "tune.h"

struct hy_speller {
    hy_spell_tables tables;
    hy_rules *rules;
    hy_front *front;
    hy_phrase phrase;
};

/* One text under way. */
typedef struct work {
    hy_speller *speller;
    const hy_spell_options *options;
    const hy_plain *plain;
    FILE *score;
    hy_diag *diag;
    int level;   /* as the score has it; -1: not yet */
    int written; /* a phoneme is in the score */
} work;

int hy_speller_built_in(void)
{
    return hy_front_built_in();
}

hy_speller *hy_speller_new(hy_diag *diag)
{
    hy_speller *s = calloc(1, sizeof *s);
    if (s == NULL) {
        hy_fail(diag, "out of memory");
        return NULL;
    }
    if (hy_spell_tables_read(&s->tables, diag) != 0 || (s->rules = hy_rules_read(diag)) == NULL ||
        (s->front = hy_front_new(diag)) == NULL) {
        hy_speller_free(s);
        return NULL;
    }
    return s;
}

void hy_speller_free(hy_speller *speller)
{
    if (speller != NULL) {
        hy_front_free(speller->front);
        hy_rules_free(speller->rules);
        hy_spell_tables_free(&speller->tables);
        hy_phrase_free(&speller->phrase);
        free(speller);
    }
}

/* The words of, the, and so on are said without stress, unless they end the phrase. */
static void weaken(const hy_spell_tables *tables, hy_phrase *phrase)
{
    for (size_t i = 0; i < phrase->word_count; i++) {
        hy_word *word = &phrase->words[i];
        int weak = !phrase->said[word->said].letter && hy_spell_word_is(tables, word->text, HY_WEAK);
        word->accented = !weak;
        for (size_t k = 0; weak && i + 1 < phrase->word_count && k < word->phone_count; k++) {
            phrase->phones[word->phone + k].stress = 0;
        }
        word->accented = !weak || (i + 1 == phrase->word_count && phrase->word_count == 1);
    }
}

static void place_phones(hy_phrase *phrase, int before_mark)
{
    int more = 0;
    int found = !before_mark;
    uint32_t last = phrase->phone_count > 0 ? phrase->phones[phrase->phone_count - 1].syllable : 0;
    for (size_t i = phrase->phone_count; i-- > 0;) {
        hy_phone *p = &phrase->phones[i];
        const hy_word *word = &phrase->words[p->word];
        p->initial = i == word->phone;
        p->final = i + 1 == word->phone + word->phone_count;
        more = p->final ? 0 : more;
        p->more = more != 0 && p->syllable < phrase->phones[more].syllable;
        if (hy_is_vowel(p->id)) {
            more = (int)i;
            last = found ? last : p->syllable;
            found = 1;
        }
        p->last = before_mark && p->syllable >= last;
    }
}

enum { SCORE_BYTES = 16 << 20 }; /* what a reader takes */

enum { CODES_TEXT = 16 * 700, PHONES_TEXT = 5 * 700 };

static void append_text(char *text, size_t size, const char *more)
{
    size_t used = strlen(text);
    snprintf(text + used, size - used, "%s%s", used > 0 ? " " : "", more);
}

static void arpabet_of(const hy_phrase *phrase, const hy_word *word, char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = word->phone; i < word->phone + word->phone_count; i++) {
        const hy_phone *p = &phrase->phones[i];
        char name[8];
        snprintf(name, sizeof name, hy_is_vowel(p->id) ? "%s%d" : "%s", hy_phone_names[p->id], p->stress);
        append_text(text, size, name);
    }
}

/* One line of the score, and one row for whoever wants to know. */
static void tell_word(work *w, size_t index, size_t *code)
{
    const hy_phrase *phrase = &w->speller->phrase;
    const hy_word *word = &phrase->words[index];
    const hy_said *said = &phrase->said[word->said];
    int again = index > 0 && (word - 1)->said == word->said;
    again = again || (word->said > 0 && phrase->said[word->said - 1].from == said->from);
    const hy_source_text source = hy_plain_source(w->plain, said->from, said->to);
    char arpabet[PHONES_TEXT];
    char codes[CODES_TEXT] = "";
    unsigned short rules[700];
    size_t count = 0;
    arpabet_of(phrase, word, arpabet, sizeof arpabet);
    for (; *code < phrase->code_count && phrase->phones[phrase->codes[*code].phone].word == index; (*code)++) {
        const hy_code *c = &phrase->codes[*code];
        const hy_code_text name = hy_code_name(c->code);
        if (w->score != NULL) {
            if (w->level != c->level) {
                fprintf(w->score, "level %d ", c->level);
                w->level = c->level;
            }
            fprintf(w->score, "%s ", name.text);
        }
        w->written = 1;
        append_text(codes, sizeof codes, name.text);
        if (count < sizeof rules / sizeof rules[0]) {
            rules[count++] = c->rule;
        }
    }
    if (w->score != NULL) {
        fprintf(w->score, "  # %s%s%s  %s\n", again ? "" : source.text, again ? "... " : " ",
                strcmp(source.text, word->text) == 0 ? "" : word->text, arpabet);
    }
    if (w->options->word != NULL) {
        w->options->word(w->options->user,
                         &(hy_spelled){again ? "" : source.text, word->text, arpabet, codes, rules, count});
    }
}

static int flush(work *w, const hy_mark_row *mark)
{
    hy_speller *s = w->speller;
    hy_phrase *phrase = &s->phrase;
    if (phrase->said_count == 0) {
        return 0;
    }
    if (w->score != NULL && ftell(w->score) > SCORE_BYTES) {
        return hy_fail(w->diag, "the text makes too long a score; cut it into several");
    }
    phrase->word_count = phrase->phone_count = phrase->code_count = 0;
    if (hy_front_phrase(s->front, phrase, w->diag) != 0) {
        return -1;
    }
    weaken(&s->tables, phrase);
    place_phones(phrase, mark != NULL);
    if (hy_rules_apply(s->rules, phrase, w->diag) != 0) {
        return -1;
    }
    if (w->options->flat) {
        for (size_t i = 0; i < phrase->code_count; i++) {
            phrase->codes[i].level = (uint8_t)w->options->level;
        }
    } else {
        hy_tune_phrase(phrase, mark != NULL ? mark->tune : HY_STAY, w->options->level);
    }
    size_t code = 0;
    for (size_t i = 0; i < phrase->word_count; i++) {
        tell_word(w, i, &code);
    }
    phrase->said_count = 0;
    if (mark != NULL) {
        const char name[2] = {mark->mark, '\0'};
        if (w->score != NULL) {
            fprintf(w->score, "%s  # %s\n", mark->codes, name);
        }
        if (w->options->word != NULL) {
            w->options->word(w->options->user, &(hy_spelled){"", name, "", mark->codes, NULL, 0});
        }
    }
    return 0;
}

static int on_word(void *user, const hy_said *said)
{
    work *w = user;
    hy_phrase *phrase = &w->speller->phrase;
    if (phrase->said_count == HY_PHRASE_WORDS && flush(w, NULL) != 0) {
        return -1;
    }
    hy_said *mine = &phrase->said[phrase->said_count++];
    *mine = *said;
    mine->by_rule = hy_spell_word_is(&w->speller->tables, said->text, HY_BY_RULE);
    return 0;
}

static int on_mark(void *user, char mark)
{
    work *w = user;
    return flush(w, hy_spell_mark(&w->speller->tables, mark));
}

static void on_note(void *user, const char *text)
{
    work *w = user;
    if (w->score != NULL) {
        fprintf(w->score, "# note: %s\n", text);
    }
    if (w->options->note != NULL) {
        w->options->note(w->options->user, text);
    }
}

int hy_spell(hy_speller *speller, const char *text, size_t size, const hy_spell_options *options, FILE *score,
             hy_diag *diag)
{
    hy_plain plain = {.bytes = NULL};
    work w = {speller, options, &plain, score, diag, -1, 0};
    speller->phrase.said_count = 0;
    if (size > HY_SPELL_TEXT_MAX) {
        return hy_fail(diag, "the text is longer than %d bytes; cut it into several", HY_SPELL_TEXT_MAX);
    }
    if (score != NULL) {
        fprintf(score, "# English text as phonemes, made by hyoid spell\n");
    }
    int result = hy_plain_read(&plain, &speller->tables, text, size, on_note, &w, diag);
    if (result == 0) {
        const hy_token_sink sink = {on_word, on_mark, on_note, &w};
        result = hy_tokens(&plain, &speller->tables, &sink);
    }
    if (result == 0 && !w.written) {
        result = hy_fail(diag, "nothing to say: the text has no letter, digit or sign with a name");
    }
    hy_plain_free(&plain);
    return result;
}
