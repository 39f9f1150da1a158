#include <criterion/criterion.h>
#include <csv.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/spell/spell.h"
#include "inputs.h"
#include "score.h"
#include "text.h"

/* All that a text gives, as one string of each kind; words are separated by a space, marks count as words. */
typedef struct result {
    char *score;
    size_t score_size;
    char said[4000], arpabet[8000], codes[16000], notes[2000];
    unsigned short rules[2000];
    size_t rule_count;
    hy_diag diag;
    int status;
} result;

static hy_speller *speller;

static void add(char *text, size_t size, const char *more)
{
    size_t used = strlen(text);
    snprintf(text + used, size - used, "%s%s", used > 0 && more[0] != '\0' ? " " : "", more);
}

static void on_word(void *user, const hy_spelled *spelled)
{
    result *r = user;
    add(r->said, sizeof r->said, spelled->said);
    add(r->arpabet, sizeof r->arpabet, spelled->arpabet);
    if (spelled->arpabet[0] != '\0') {
        add(r->codes, sizeof r->codes, spelled->codes);
    }
    for (size_t i = 0; i < spelled->rule_count && r->rule_count < 2000; i++) {
        r->rules[r->rule_count++] = spelled->rules[i];
    }
}

static void on_note(void *user, const char *note)
{
    result *r = user;
    add(r->notes, sizeof r->notes, note);
}

static result last; /* of the last text */

static result *spell_bytes(const char *text, size_t size, int level, int flat)
{
    free(last.score);
    memset(&last, 0, sizeof last);
    const hy_spell_options options = {level, flat, on_word, on_note, &last};
    FILE *score = open_memstream(&last.score, &last.score_size);
    cr_assert_not_null(score);
    last.status = hy_spell(speller, text, size, &options, score, &last.diag);
    fclose(score);
    if (last.status == 0) {
        FILE *in = text_stream(last.score, last.score_size);
        hy_diag diag = {""};
        hy_score *read = hy_score_read(in, "t.score", &diag);
        fclose(in);
        cr_assert_not_null(read, "the score of %.60s is refused: %s", text, diag.text);
        hy_score_free(read);
    }
    return &last;
}

static result *spell(const char *text)
{
    result *r = spell_bytes(text, strlen(text), 1, 0);
    cr_assert_eq(r->status, 0, "%s: %s", text, r->diag.text);
    return r;
}

/* The levels that the score sets, in their order: "1 3 0". */
static const char *levels(const char *text, int level)
{
    static char list[400];
    result *r = spell_bytes(text, strlen(text), level, 0);
    FILE *in = text_stream(r->score, r->score_size);
    hy_diag diag = {""};
    hy_score *score = hy_score_read(in, "t.score", &diag);
    fclose(in);
    hy_action action;
    list[0] = '\0';
    while (hy_score_next(score, &action)) {
        if (action.kind == HY_SET_LEVEL) {
            char number[12];
            snprintf(number, sizeof number, "%d", action.number);
            add(list, sizeof list, number);
        }
    }
    hy_score_free(score);
    return list;
}

static void start(void)
{
    hy_diag diag = {""};
    if (!hy_speller_built_in()) {
        cr_assert_null(getenv("CI"), "built without flite; under CI nothing is skipped");
        cr_skip_test("built without flite");
    }
    speller = hy_speller_new(&diag);
    cr_assert_not_null(speller, "%s", diag.text);
}

static void stop(void)
{
    free(last.score);
    last.score = NULL;
    hy_speller_free(speller);
}

Test(spell_built_in, or_it_says_what_it_lacks)
{
    hy_diag diag = {""};
    hy_speller *s = hy_speller_new(&diag);
    if (hy_speller_built_in()) {
        cr_expect_not_null(s, "%s", diag.text);
    } else {
        cr_expect_null(s);
        cr_expect_not_null(strstr(diag.text, "flite1-dev"), "%s", diag.text);
    }
    hy_speller_free(s);
}

TestSuite(spell, .init = start, .fini = stop);

typedef struct golden {
    const char *text, *expected;
} golden;

#define CHECK_ALL(list, field)                                                                                       \
    for (size_t i = 0; i < sizeof(list) / sizeof(list)[0]; i++) {                                                    \
        cr_expect_str_eq(spell((list)[i].text)->field, (list)[i].expected, "%s: \"%s\" is not \"%s\"",               \
                         (list)[i].text, spell((list)[i].text)->field, (list)[i].expected);                          \
    }

Test(spell, numbers_are_read_out)
{
    static const golden list[] = {
        {"42", "forty two ."},
        {"0", "zero ."},
        {"3.5", "three point five ."},
        {".5", "point five ."},
        {"-5", "minus five ."},
        {"100", "one hundred ."},
        {"1,234", "one thousand two hundred thirty four ."},
        {"1000000", "one million ."},
        {"999999999999999", "nine hundred ninety nine trillion nine hundred ninety nine billion nine hundred ninety "
                            "nine million nine hundred "
                            "ninety nine thousand nine hundred ninety nine ."},
        {"1234567890123456", "one two three four five six seven eight nine zero one two three four five six ."},
        {"007", "zero zero seven ."},
        {"1.2.3", "one dot two dot three ."},
        {"1980", "nineteen eighty ."},
        {"1900", "nineteen hundred ."},
        {"1066", "ten sixty six ."},
        {"1905", "nineteen oh five ."},
        {"2000", "two thousand ."},
        {"2024", "twenty twenty four ."},
        {"1,980", "one thousand nine hundred eighty ."},
        {"1990s", "nineteen nineties ."},
        {"the 60s", "the sixties ."},
        {"21st", "twenty first ."},
        {"2nd 3rd 12th 20th 1000th", "second third twelfth twentieth one thousandth ."},
        {"1/2", "one half ."},
        {"3 1/2", "three and one half ."},
        {"2/3 3/4 9/10", "two thirds and three quarters and nine tenths ."},
        {"12/25/2020", "twelve slash twenty five slash twenty twenty ."},
        {"10-20", "ten to twenty ."},
        {"1980\xe2\x80\x93"
         "1985",
         "nineteen eighty to nineteen eighty five ."},
        {"555-1234", "five five five , one two three four ."},
        {"555-123-4567", "five five five , one two three , four five six seven ."},
    };
    CHECK_ALL(list, said)
}

Test(spell, times_money_and_units)
{
    static const golden list[] = {
        {"4 pm", "four p m ."},
        {"4pm.", "four p m ."},
        {"at 4 a.m. today", "at four a m today ."},
        {"I am", "I am ."},
        {"10:30", "ten thirty ."},
        {"7:05", "seven oh five ."},
        {"10:00", "ten o'clock ."},
        {"10:00 pm", "ten p m ."},
        {"14:00", "fourteen hundred ."},
        {"1:02:03", "one oh two and three seconds ."},
        {"$5", "five dollars ."},
        {"$1", "one dollar ."},
        {"$5.50", "five dollars fifty cents ."},
        {"$1.01", "one dollar one cent ."},
        {"$0.99", "ninety nine cents ."},
        {"$20.00", "twenty dollars ."},
        {"$5 million", "five million dollars ."},
        {"\xe2\x82\xac"
         "3",
         "three euros ."},
        {"\xc2\xa5"
         "100",
         "one hundred yen ."},
        {"720 kHz", "seven hundred twenty kilohertz ."},
        {"5 V", "five volts ."},
        {"1 kg", "one kilogram ."},
        {"100km", "one hundred kilometers ."},
        {"50%", "fifty percent ."},
        {"1\xc2\xb0 or 50\xc2\xb0", "one degree or fifty degrees ."},
        {"#5", "number five ."},
    };
    CHECK_ALL(list, said)
}

Test(spell, abbreviations)
{
    static const golden list[] = {
        {"Dr. Smith", "doctor Smith ."},
        {"Elm Dr. is long", "Elm drive is long ."},
        {"the Dr.", "the doctor ."},
        {"Mr. St. John lives on Main St.", "mister saint John lives on Main street ."},
        {"e.g. this, i.e. that", "for example this , that is that ."},
        {"U.S.A.", "u s a ."},
        {"No. 5", "number five ."},
        {"no.", "no ."},
        {"J. Smith", "j Smith ."},
        {"cats, etc. and dogs", "cats , et cetera and dogs ."},
        {"cats etc. Dogs", "cats et cetera . Dogs ."},
        {"Sat. or the boy sat.", "saturday or the boy sat ."},
    };
    CHECK_ALL(list, said)
}

Test(spell, symbols_have_names)
{
    static const golden list[] = {
        {"& % @", "and percent at ."},
        {"a_b", "a underscore b ."},
        {"C++ C#", "c plus plus c hash ."},
        {"foo@bar.com", "foo at bar dot com ."},
        {"http://x.org/a", "h t t p colon slash slash x dot org slash a ."},
        {"and/or", "and slash or ."},
        {"x < y", "x less than y ."},
        {"\xce\xb1 \xce\xa9", "alpha ohm ."},
        {"--level -o", "dash dash level dash o ."},
    };
    CHECK_ALL(list, said)
    cr_expect_str_eq(spell("=====")->said, "equals .");
    cr_expect_str_eq(spell("=====")->notes, "= stands 5 times in a row; said once");
}

Test(spell, punctuation_becomes_pauses)
{
    static const golden list[] = {
        {"well-known", "well known ."},
        {"yes -- no", "yes - no ."},
        {"yes\xe2\x80\x94no", "yes - no ."},
        {"yes... no", "yes - no ."},
        {"one; two: three, four", "one ; two : three , four ."},
        {"Is it? Yes! Good.", "Is it ? Yes ! Good ."},
        {"(so) they [say]", "so ) they ( say )"},
        {"\"so\" 'they' \xe2\x80\x9csay\xe2\x80\x9d", "so they say ."},
        {"one\n\ntwo", "one . two ."},
        {"one\ntwo", "one two ."},
        {"?", "question mark ."},
        {"...", "dot dot dot ."},
        {"what ?!", "what ?"},
    };
    CHECK_ALL(list, said)
    cr_expect_not_null(strstr(spell("a, b")->score, "pau/185  # ,\n"));
    cr_expect_not_null(strstr(spell("a. b")->score, "pau/185 rest 300ms  # .\n"));
}

Test(spell, what_cannot_be_pronounced_is_spelled_out)
{
    static const golden list[] = {
        {"xkcd", "x k c d ."}, {"FBI", "f b i ."},         {"NASA", "NASA ."},
        {"A B C", "a b c ."},  {"MP3", "m p three ."},     {"Henry IV", "Henry the fourth ."},
        {"don't", "don't ."},  {"McKnight", "McKnight ."}, {"thousandth", "thousandth ."},
    };
    CHECK_ALL(list, said)
    cr_expect_str_eq(spell("McKnight")->arpabet, "m ax0 k n ay1 t");
    cr_expect_str_eq(spell("w")->arpabet, "d ah1 b ax0 l y uw0");
    cr_expect_str_eq(spell("vitamin A")->arpabet, "v ay1 t ax0 m ax0 n ey1");
    cr_expect_str_eq(spell("a dog")->arpabet, "ax0 d ao1 g");
    char word[61];
    memset(word, 'b', 60);
    word[60] = '\0';
    cr_expect_eq(strlen(spell(word)->arpabet), 60 * strlen("b iy1 ") - 1);
    cr_expect_str_eq(spell(word)->notes, "a word of 60 letters was spelled out; words have at most 50");
}

Test(spell, letters_of_other_kinds)
{
    static const golden list[] = {
        {"caf\xc3\xa9", "cafe ."},
        {"cafe\xcc\x81", "cafe ."},
        {"Stra\xc3\x9f"
         "e",
         "Strasse ."},
        {"\xc5\x81\xc3\xb3"
         "dz",
         "Lodz ."},
        {"don\xe2\x80\x99t", "don't ."},
        {"\xef\xbc\xa1\xef\xbc\xa2 \xef\xbc\x94", "AB four ."}, /* full width */
    };
    CHECK_ALL(list, said)
    result *r = spell("yes \xe6\x97\xa5\xe6\x97\xa5 no \xe2\x98\x83");
    cr_expect_str_eq(r->said, "yes no .");
    cr_expect_str_eq(r->notes, "1:5: character U+65E5 has no name here; left out 2 times "
                               "1:11: character U+2603 has no name here; left out 1 time");
    cr_expect_not_null(strstr(r->score, "# note: 1:5: character U+65E5"));
}

Test(spell, control_characters_and_bad_bytes_are_noted)
{
    static const char text[] = "a\0b\n\x1b\x7f \xff no";
    result *r = spell_bytes(text, sizeof text - 1, 1, 0);
    cr_assert_eq(r->status, 0);
    cr_expect_str_eq(r->said, "a b no .");
    cr_expect_str_eq(r->notes, "1:2: control character U+0000; left out 1 time "
                               "2:1: control character U+001B; left out 1 time "
                               "2:2: control character U+007F; left out 1 time "
                               "2:4: byte 0xff is not UTF-8; left out 1 time");
}

Test(spell, nothing_to_say_is_an_error)
{
    static const char *const texts[] = {"", " ", "\n\n", "\xe6\x97\xa5", "\x01"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        result *r = spell_bytes(texts[i], strlen(texts[i]), 1, 0);
        cr_expect_eq(r->status, -1);
        cr_expect_str_eq(r->diag.text, "nothing to say: the text has no letter, digit or sign with a name");
    }
}

Test(spell, long_texts)
{
    enum { REPEATS = 20000 };
    static char text[REPEATS * 6 + 1];
    for (size_t i = 0; i < REPEATS; i++) {
        memcpy(text + 6 * i, "it is ", 6);
    }
    cr_expect_eq(spell_bytes(text, sizeof text - 1, 1, 0)->status, 0);
    char *large = malloc(HY_SPELL_TEXT_MAX + 1);
    memset(large, 'x', HY_SPELL_TEXT_MAX + 1);
    result *r = spell_bytes(large, HY_SPELL_TEXT_MAX + 1, 1, 0);
    cr_expect_eq(r->status, -1);
    cr_expect_not_null(strstr(r->diag.text, "longer than 1048576 bytes"), "%s", r->diag.text);
    memset(large, '7', 400);
    cr_expect_eq(spell_bytes(large, 400, 1, 0)->status, 0);
    free(large);
}

/* Any bytes: a valid score, or a refusal; the seed replays it. */
Test(spell, random_bytes)
{
    static const char alphabet[] =
        "abcdeAZ 0123456789'\"-.,:;?!$%&/()[]{}#@*+=<>|~^_`\\\n\xc3\xa9\xe2\x80\x93\xff\x01";
    uint32_t seed = 20240917;
    for (unsigned round = 0; round < 300; round++) {
        char text[120];
        for (size_t i = 0; i < sizeof text; i++) {
            seed ^= seed << 13;
            seed ^= seed >> 17;
            seed ^= seed << 5;
            text[i] = alphabet[seed % (sizeof alphabet - 1)];
        }
        result *r = spell_bytes(text, sizeof text, (int)(round % 4), (int)(round / 4 % 2));
        cr_expect(r->status == 0 || r->diag.text[0] != '\0', "round %u of seed 20240917", round);
    }
}

Test(spell, the_voice_rises_and_falls)
{
    cr_expect_str_eq(levels("the cat.", 1), "1 3 0"); /* up on the stressed vowel, down behind it */
    cr_expect_str_eq(levels("the cat?", 1), "1 3");   /* low on the stressed vowel, up behind it */
    cr_expect_str_eq(levels("the black cat.", 1), "1 3 1 2 0");
    cr_expect_str_eq(levels("the black cat?", 1), "1 2 1 3");
    cr_expect_str_eq(levels("the black cat!", 1), "1 3 1 3 0");
    cr_expect_str_eq(levels("the black cat,", 1), "1 3 1 2");
    cr_expect_str_eq(levels("the cat.", 0), "0 2 0"); /* 0 to 3 is all there is */
    cr_expect_str_eq(levels("the cat.", 3), "3 2");
    cr_expect_str_eq(levels("the cat sat. The cat sat.", 1), "1 3 1 2 0 1 3 1 2 0"); /* anew in each phrase */
}

Test(spell, flat_stays_at_its_level)
{
    result *r = spell_bytes("Is it so? It is.", 16, 2, 1);
    cr_assert_eq(r->status, 0);
    char *first = strstr(r->score, "level");
    cr_assert_not_null(first);
    cr_expect_eq(strncmp(first, "level 2 ", 8), 0);
    cr_expect_null(strstr(first + 1, "level"));
}

/* Each row's example must use that row, and each row must have one. */
typedef struct rows {
    const char *fields[6];
    char text[6][300];
    size_t field, row, unused;
} rows;

static void on_field(void *text, size_t size, void *user)
{
    rows *r = user;
    cr_assert_lt(r->field, 6);
    cr_assert_lt(size, 300);
    memcpy(r->text[r->field], text, size);
    r->text[r->field++][size] = '\0';
}

static void on_row(int end, void *user)
{
    (void)end;
    rows *r = user;
    cr_assert_eq(r->field, 6);
    r->field = 0;
    if (r->row++ == 0) {
        return;
    }
    const char *example = r->text[4];
    cr_expect_str_neq(example, "");
    cr_expect_str_neq(r->text[5], "");
    if (strcmp(r->text[3], "-") == 0) {
        return; /* writes no code; golden below */
    }
    result *s = spell(example);
    int used = 0;
    for (size_t i = 0; i < s->rule_count; i++) {
        used = used || s->rules[i] == r->row - 1;
    }
    cr_expect(used, "row %zu (%s%s, %s): \"%s\" is %s: %s", r->row - 1, r->text[0], r->text[1], r->text[2], example,
              s->arpabet, s->codes);
    cr_expect_not_null(strstr(s->codes, r->text[3]), "%s: %s has no %s", example, s->codes, r->text[3]);
}

Test(spell, every_row_has_an_example_that_uses_it)
{
    char *table = source_text("reference/spell/arpabet_to_codes.csv");
    struct csv_parser parser;
    rows r = {.field = 0};
    cr_assert_eq(csv_init(&parser, CSV_STRICT), 0);
    cr_expect_eq(csv_parse(&parser, table, strlen(table), on_field, on_row, &r), strlen(table));
    csv_fini(&parser, on_field, on_row, &r);
    csv_free(&parser);
    free(table);
    cr_expect_gt(r.row, 90);
}

Test(spell, codes)
{
    static const golden list[] = {
        /* length by stress and what follows */
        {"see", "s iy"},
        {"seat", "s iy/121 t"},
        {"happy", "hh ae p iy/103"},
        {"rig", "r ih g"},
        {"ring", "r ih/121 ng ng"},
        {"fish", "f ih/121 sh"},
        {"landing", "l ae n d ih/80 ng ng"},
        {"bed", "b eh d"},
        {"wreck", "r eh/121 k"},
        {"captain", "k ae/103 p t ax/47 n n"},
        {"dawn", "d ao n n"},
        {"haul", "hh ao/146 l"},
        {"tug", "t ah/103 g"},
        {"rudder", "r ah/103 dx er"},
        {"good", "g uh/103 d"},
        {"hook", "hh uh/103 k"},
        {"moon", "m uw n n"},
        {"new", "n ux uw"},
        {"tuna", "t ux uw/90 n ax"},
        /* schwa, syllabic consonants */
        {"about", "ax b ae/103 uw/90 t"},
        {"sofa", "s ow/80 uw/90 f ax"},
        {"button", "b ah/103 t n n"},
        {"bottle", "b aa/146 t ax/47 l"},
        {"model", "m aa/146 dx ax/47 l"},
        {"rhythm", "r ih/121 dh ax/47 m m"},
        /* r */
        {"car", "k aa/146 r"},
        {"forty", "f ao/90 r t iy/103"},
        {"fear", "f ih/121 ax/47 r"},
        {"fearing", "f ih/80 r ih/80 ng ng"},
        {"worker", "w er k er"},
        /* diphthongs, affricates */
        {"day", "d ey ey/65"},
        {"road", "r ow/121 uw/90 d"},
        {"light", "l aa/71 iy/103 t"},
        {"sky", "s k aa/146 iy/103"},
        {"tide", "t aa/146 ih/80 d"},
        {"now", "n ae/103 aa/71 uw/90"},
        {"boy", "b ao/146 eh/71 iy/103"},
        {"cue", "k y ux uw"},
        {"chart", "t ch aa/146 r t"},
        {"judge", "d jh ah/103 d jh"},
        {"tree", "t ch r iy"},
        {"dream", "d jh r iy m m"},
        /* stops */
        {"water", "w ao/146 t er"},
        {"water tank", "w ao/146 dx er t ae ng k"},
        {"ladder", "l ae dx er"},
        {"attack", "ax t ae k"},
        {"get it out", "g eh/121 dx ih/55 dx ae/103 uw/90 t"},
        {"black cat", "b l ae/103 pau/47 k ae t"},
        {"bad day", "b ae pau/47 d ey ey/65"},
        /* words without stress; the before a vowel */
        {"the day of the apple", "dh ax/47 d ey/103 ey/65 ax v dh iy/103 ae p ax/47 l"},
        {"what is it of", "w ah/103 dx ih/55 z ih/55 dx ah/103 v"},
        {"cat's dog's bus's", "k ae/103 t s d ao/146 g z b ah/103 s ax/47 z"},
    };
    CHECK_ALL(list, codes)
}

/* Lines "TEXT => WORDS" in blocks marked `spell`, "TEXT => CODES" in those marked `spell-codes`. */
Test(spell, examples_of_the_page)
{
    char *page = source_text("docs/spell.md");
    char *rest = NULL;
    size_t checked = 0;
    int kind = 0; /* 1 said, 2 codes */
    for (char *line = strtok_r(page, "\n", &rest); line != NULL; line = strtok_r(NULL, "\n", &rest)) {
        if (strncmp(line, "```", 3) == 0) {
            kind = strcmp(line, "```spell") == 0 ? 1 : strcmp(line, "```spell-codes") == 0 ? 2 : 0;
            continue;
        }
        char *arrow = kind != 0 ? strstr(line, " => ") : NULL;
        if (arrow == NULL) {
            continue;
        }
        char *text = line;
        char *end = arrow;
        while (end > text && end[-1] == ' ') {
            end--;
        }
        *end = '\0';
        result *r = spell(text);
        cr_expect_str_eq(kind == 1 ? r->said : r->codes, arrow + 4, "%s: \"%s\" is not \"%s\"", text,
                         kind == 1 ? r->said : r->codes, arrow + 4);
        checked++;
    }
    free(page);
    cr_expect_geq(checked, 25, "only %zu examples", checked);
}
