/* Words to phones with flite (Carnegie Mellon University, permissive licence): its text front end, no waveform.
 *
 * It gets words only, never digits or punctuation, one token each. It tells apart words of one spelling, joins 's and the
 * like to what is before, knows Roman numbers behind names, finds words in its lexicon or by letter-to-sound rules, and
 * names the letters of those that it holds for unpronounceable. */
#include "front.h"

#include <flite/flite.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Exported by Debian's libraries, declared in no header; the build checks that they are there. */
void usenglish_init(cst_voice *voice);
cst_lexicon *cmu_lex_init(void);
cst_utterance *utt_synth_text2segs(cst_utterance *utterance);

struct hy_front {
    cst_voice *voice;
    cst_lexicon *lexicon; /* owned by the library, one for all */
};

int hy_front_built_in(void)
{
    return 1;
}

hy_front *hy_front_new(hy_diag *diag)
{
    hy_front *front = calloc(1, sizeof *front);
    if (front == NULL) {
        hy_fail(diag, "out of memory");
        return NULL;
    }
    flite_init();
    front->voice = new_voice();
    front->lexicon = cmu_lex_init();
    if (front->voice == NULL || front->lexicon == NULL) {
        hy_front_free(front);
        hy_fail(diag, "spell: flite's lexicon can't be opened");
        return NULL;
    }
    usenglish_init(front->voice);
    feat_set(front->voice->features, "lexicon", lexicon_val(front->lexicon));
    return front;
}

void hy_front_free(hy_front *front)
{
    if (front != NULL) {
        delete_voice(front->voice);
        free(front);
    }
}

static int add_phone(hy_phrase *phrase, const char *name, int stress, size_t word, uint32_t syllable, hy_diag *diag)
{
    int id = hy_phone_id(name, strlen(name));
    if (id < 0) {
        return strcmp(name, "pau") == 0 ? 0 : hy_fail(diag, "spell: flite gave the unknown phone %s", name);
    }
    hy_phone *phone = hy_phrase_phone(phrase);
    if (phone == NULL) {
        return hy_fail(diag, "out of memory");
    }
    phone->id = (uint8_t)id;
    phone->stress = (uint8_t)stress;
    phone->word = (uint32_t)word;
    phone->syllable = syllable;
    phrase->words[word].phone_count++;
    return 0;
}

static hy_word *begin_word(hy_phrase *phrase, size_t said, const char *text, hy_diag *diag)
{
    hy_word *word = hy_phrase_word(phrase);
    if (word == NULL) {
        hy_fail(diag, "out of memory");
        return NULL;
    }
    snprintf(word->text, sizeof word->text, "%s", text);
    word->said = said;
    word->phone = phrase->phone_count;
    return word;
}

static uint32_t next_syllable(const hy_phrase *phrase)
{
    return phrase->phone_count == 0 ? 0 : phrase->phones[phrase->phone_count - 1].syllable + 1;
}

/* Asks lexicon and letter-to-sound rules, past the front end: they give phones, each vowel with its stress. */
static int add_looked_up(hy_front *front, hy_phrase *phrase, size_t said, const char *text, const char *key,
                         hy_diag *diag)
{
    if (begin_word(phrase, said, text, diag) == NULL) {
        return -1;
    }
    cst_val *phones = lex_lookup(front->lexicon, key, NULL, NULL);
    uint32_t syllable = next_syllable(phrase);
    int stress = 1;
    int vowels = 0;
    int result = 0;
    for (const cst_val *v = phones; v != NULL && result == 0; v = val_cdr(v)) {
        const char *name = val_string(val_car(v));
        size_t n = strcspn(name, "01234");
        char bare[8];
        snprintf(bare, sizeof bare, "%.*s", (int)n, name);
        int id = hy_phone_id(bare, n);
        if (id >= 0 && hy_is_vowel((unsigned)id)) {
            syllable += vowels++ > 0;
            stress = name[n] == '1' || key[0] == '_';
        }
        result = add_phone(phrase, bare, stress, phrase->word_count - 1, syllable, diag);
    }
    delete_val(phones);
    return result;
}

/* The lexicon keeps the name of the letter a apart from the article. */
static int add_letter(hy_front *front, hy_phrase *phrase, size_t said, char letter, hy_diag *diag)
{
    const char text[2] = {letter, '\0'};
    return add_looked_up(front, phrase, said, text, letter == 'a' ? "_a" : text, diag);
}

static int add_by_rule(hy_front *front, hy_phrase *phrase, size_t said, hy_diag *diag)
{
    char key[sizeof phrase->said[0].text];
    snprintf(key, sizeof key, "%s", phrase->said[said].text);
    for (char *c = key; *c != '\0'; c++) {
        *c = (char)(*c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
    }
    return add_looked_up(front, phrase, said, phrase->said[said].text, key, diag);
}

static int has_vowel(const cst_item *syllable)
{
    for (const cst_item *p = item_daughter(syllable); p != NULL; p = item_next(p)) {
        const char *name = item_feat_string(p, "name");
        int id = hy_phone_id(name, strlen(name));
        if (id >= 0 && hy_is_vowel((unsigned)id)) {
            return 1;
        }
    }
    return 0;
}

/* The phones of one of flite's words, to the word begun last. The s of it's belongs to the syllable before. */
static int add_syllables(hy_phrase *phrase, const cst_item *word, hy_diag *diag)
{
    for (cst_item *s = item_daughter(item_as(word, "SylStructure")); s != NULL; s = item_next(s)) {
        int joins = !has_vowel(s) && phrase->words[phrase->word_count - 1].phone_count > 0;
        uint32_t syllable = next_syllable(phrase) - (joins ? 1u : 0u);
        int stress = strcmp(ffeature_string(s, "stress"), "1") == 0;
        for (cst_item *p = item_daughter(s); p != NULL; p = item_next(p)) {
            if (add_phone(phrase, item_feat_string(p, "name"), stress, phrase->word_count - 1, syllable, diag) != 0) {
                return -1;
            }
        }
    }
    return 0;
}

static int add_token(hy_front *front, hy_phrase *phrase, size_t said, const cst_item *token, hy_diag *diag)
{
    const hy_said *s = &phrase->said[said];
    size_t before = phrase->phone_count;
    if (s->letter) {
        return add_letter(front, phrase, said, s->text[0], diag);
    }
    if (s->by_rule) {
        return add_by_rule(front, phrase, said, diag);
    }
    int first = 1;
    for (cst_item *w = token != NULL ? item_daughter(token) : NULL; w != NULL; w = item_next(w)) {
        const char *name = item_feat_string(w, "name");
        name += name[0] == '_';         /* _a */
        if (first || name[0] != '\'') { /* 's and 'll belong to the word before */
            int whole = first && (item_next(w) == NULL || item_feat_string(item_next(w), "name")[0] == '\'');
            if (begin_word(phrase, said, whole ? s->text : name, diag) == NULL) {
                return -1;
            }
        }
        first = 0;
        if (add_syllables(phrase, w, diag) != 0) {
            return -1;
        }
    }
    if (phrase->phone_count > before) {
        return 0;
    }
    for (const char *c = s->text; *c != '\0'; c++) { /* it knew nothing: the letters */
        char letter = (char)(*c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
        if (letter >= 'a' && letter <= 'z' && add_letter(front, phrase, said, letter, diag) != 0) {
            return -1;
        }
    }
    return 0;
}

static cst_utterance *look_up(hy_front *front, const char *text)
{
    cst_utterance *utterance = new_utterance();
    utt_set_input_text(utterance, text);
    utt_init(utterance, front->voice);
    if (utt_synth_text2segs(utterance) == NULL) {
        delete_utterance(utterance);
        return NULL;
    }
    if (front->lexicon->postlex != NULL) { /* the before a vowel; s or z for 's */
        front->lexicon->postlex(utterance);
    }
    return utterance;
}

int hy_front_phrase(hy_front *front, hy_phrase *phrase, hy_diag *diag)
{
    char text[HY_PHRASE_WORDS * sizeof phrase->said[0].text + 1];
    size_t used = 0;
    for (size_t i = 0; i < phrase->said_count; i++) {
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%s", i > 0 ? " " : "", phrase->said[i].text);
    }
    cst_utterance *utterance = look_up(front, text);
    if (utterance == NULL) {
        return hy_fail(diag, "spell: flite refused \"%.60s\"", text);
    }
    cst_item *token = relation_head(utt_relation(utterance, "Token"));
    int result = 0;
    for (size_t i = 0; i < phrase->said_count && result == 0; i++) {
        result = add_token(front, phrase, i, token, diag);
        token = token != NULL ? item_next(token) : NULL;
    }
    delete_utterance(utterance);
    return result;
}
