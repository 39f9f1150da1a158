#include <criterion/criterion.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "host.h"
#include "inputs.h"
#include "score.h"

static hy_diag diag;

static hy_score *read_text(const char *text)
{
    FILE *in = text_stream(text, strlen(text));
    diag.text[0] = '\0';
    hy_score *score = hy_score_read(in, "t.score", &diag);
    fclose(in);
    return score;
}

static hy_score *good(const char *text)
{
    hy_score *score = read_text(text);
    cr_assert_not_null(score, "%s", diag.text);
    return score;
}

/* The codes that a score says, in hex, separated by spaces. */
static char *codes(const char *text)
{
    static char list[4096];
    hy_score *score = good(text);
    hy_action action;
    size_t used = 0;
    list[0] = '\0';
    while (hy_score_next(score, &action)) {
        if (action.kind == HY_SAY && used < sizeof list - 4) {
            used += (size_t)snprintf(list + used, 4, "%s%02x", used > 0 ? " " : "", (unsigned)action.number);
        }
    }
    hy_score_free(score);
    return list;
}

static hy_action only(const char *text)
{
    hy_score *score = good(text);
    hy_action action;
    hy_action further;
    cr_assert_eq(hy_score_next(score, &action), 1);
    cr_assert_eq(hy_score_next(score, &further), 0);
    hy_score_free(score);
    return action;
}

Test(score, symbols_are_those_of_the_chart)
{
    FILE *chart = source_file("reference/chart.csv");
    char line[512];
    cr_assert_not_null(fgets(line, sizeof line, chart));
    for (unsigned code = 0; code < 64; code++) {
        const hy_symbol *s = &hy_symbols[code];
        char expected[512];
        cr_assert_not_null(fgets(line, sizeof line, chart));
        snprintf(expected, sizeof expected, "0x%02x,%s,%s,%d,%s,", code, s->symbol, s->ipa, s->nominal_ms,
                 s->example);
        cr_expect_eq(strncmp(line, expected, strlen(expected)), 0, "%s is not %s", expected, line);
    }
    cr_expect_null(fgets(line, sizeof line, chart));
    fclose(chart);
}

Test(score, each_variant_has_a_name_of_its_own)
{
    for (unsigned code = 0; code < 64; code++) {
        char text[32];
        char expected[8];
        snprintf(text, sizeof text, "%s/%d", hy_symbols[code].symbol, hy_symbols[code].nominal_ms);
        snprintf(expected, sizeof expected, "%02x", code);
        cr_expect_str_eq(codes(text), expected, "%s", text);
    }
}

Test(score, statements_may_share_a_line)
{
    cr_expect_str_eq(codes("hh eh/121 l ow"), "1b 02 18 26");
    cr_expect_str_eq(codes("HH Eh/121\tl\n\n ow#comment\n#{"), "1b 02 18 26");
    cr_expect_str_eq(codes("\xef\xbb\xbfhh\r\neh\r\n"), "1b 3b");
}

Test(score, a_bare_symbol_is_the_longest_variant)
{
    cr_expect_str_eq(codes("eh ey ih aa ow uw iy ae ao ah ax pau uh"), "3b 20 27 24 26 28 2c 2e 3d 33 31 3e 17");
    cr_expect_str_eq(codes("0x1b 0X3F 0x7 0x07"), "1b 3f 07 07");
}

Test(score, frequencies)
{
    cr_expect_eq(only("clock 720k").hz, 720e3);
    cr_expect_eq(only("clock 1.02M").hz, 1.02e6);
    cr_expect_eq(only("clock 720kHz").hz, 720e3);
    cr_expect_eq(only("clock 719999.5Hz").hz, 719999.5);
    cr_expect_eq(only("clock 0").hz, 0.0);
    cr_expect_eq(only("clock 100M").hz, 100e6);
    cr_expect_eq(only("clock 0.1k").hz, 100.0);
    cr_expect_eq(only("clock 123456.7890123456789").hz, 123456.7890123456789);
}

Test(score, times_are_exact_to_the_picosecond)
{
    cr_expect_eq(only("rest 80ms").ps, INT64_C(80000000000));
    cr_expect_eq(only("rest 0.1us").ps, 100000);
    cr_expect_eq(only("rest 0.000000000001s").ps, 1);
    cr_expect_eq(only("rest 0.0000010us").ps, 1);
    cr_expect_eq(only("rest 12345.678901234567s").ps, INT64_C(12345678901234567));
    cr_expect_eq(only("rest 86400s").ps, INT64_C(86400000000000000));
    cr_expect_eq(only("rest 0s").ps, 0);
    cr_expect_eq(only("hold 4.7us").ps, 4700000);
    cr_expect_eq(only("hold off").ps, 0);
    cr_expect_eq(only("answer 0us").ps, 0);
}

Test(score, glides_levels_and_marks)
{
    hy_action a = only("\n  glide 300k over 1.2s exp # slower\n");
    cr_expect_eq(a.kind, HY_GLIDE);
    cr_expect_eq(a.hz, 300e3);
    cr_expect_eq(a.ps, INT64_C(1200000000000));
    cr_expect_eq(a.exponential, 1);
    cr_expect_eq(a.line, 2);
    cr_expect_eq(a.column, 3);
    cr_expect_eq(only("glide 0 over 1us").exponential, 0);
    cr_expect_eq(only("level 3").number, 3);

    hy_score *score = good("mark größe mark hh");
    cr_assert_eq(hy_score_next(score, &a), 1);
    cr_expect_str_eq(a.name, "größe");
    cr_assert_eq(hy_score_next(score, &a), 1);
    cr_expect_str_eq(a.name, "hh");
    cr_expect_eq(a.column, 12, "columns are characters");
    hy_score_free(score);
}

Test(score, repeats_expand_in_order)
{
    cr_expect_str_eq(codes("repeat 2 { k repeat 3 { aa } }hh"), "19 24 24 24 19 24 24 24 1b");
    cr_expect_str_eq(codes("repeat 1\n# on another line\n{\nk\n}\n"), "19");
    cr_expect_str_eq(codes("repeat 2 { repeat 2 { k } }"), "19 19 19 19");

    hy_score *score = good("hold 1us repeat 10000 { repeat 1000 { k } }");
    hy_action action;
    long said = 0;
    for (int round = 0; round < 2; round++) {
        hy_score_rewind(score);
        for (said = 0; hy_score_next(score, &action);) {
            said += action.kind == HY_SAY;
        }
        cr_expect_eq(said, 10000000);
    }
    hy_score_free(score);
}

Test(score, babble_is_the_documented_sequence)
{
    static const char text[] = "babble seed 7 phonemes 10..20 from all except pau end";
    static const char expected[] = "37 1c 19 08 22 38 30 05 20 16 25 11 1f 0d 26 31 33 08";
    cr_expect_str_eq(codes(text), expected);

    char *manual = source_text("docs/formats.md");
    cr_expect_not_null(strstr(manual, expected), "docs/formats.md states another sequence");
    free(manual);

    char twice[200];
    snprintf(twice, sizeof twice, "repeat 2 { %s }", text);
    char both[200];
    snprintf(both, sizeof both, "%s %s", expected, expected);
    cr_expect_str_eq(codes(twice), both);
}

Test(score, babble_draws_from_its_list)
{
    cr_expect_str_eq(codes("babble seed 1 phonemes 4 from 0x1b"), "1b 1b 1b 1b");
    char *list = codes("babble seed 99 phonemes 300 from eh aa/71 # both");
    int seen[64] = {0};
    for (char *c = list; *c != '\0'; c += *c == ' ') {
        seen[strtoul(c, &c, 16) & 63]++;
    }
    for (int code = 0; code < 64; code++) {
        int listed = code <= 2 || code == 0x3b || code == 8;
        cr_expect(listed ? seen[code] > 30 : seen[code] == 0, "code %02x: %d", (unsigned)code, seen[code]);
    }
}

Test(score, limits_let_through_what_they_should)
{
    hy_score_free(good("repeat 10000000 { level 1 }"));
    hy_score_free(good("rest 86399s hh"));
    /* a hold cuts what is counted, wherever it was set */
    hy_score_free(good("hold 1us repeat 1000000 { aa }"));
    hy_score_free(good("repeat 1000000 { hold 1us aa }"));
    hy_score_free(good("repeat 1000 { repeat 1000 { hold 1us aa } hold off }"));
    cr_expect_null(read_text("hold 1us repeat 1000000 { aa hold off }"));
    cr_expect_null(read_text("hold 1us repeat 1000 { repeat 1000 { aa } hold off }"));
    cr_expect_null(read_text("hold 1us repeat 10000000 { aa } hh"));
}

Test(score, more_than_16_mib_is_refused)
{
    size_t size = (16u << 20) + 1;
    char *text = malloc(size);
    cr_assert_not_null(text);
    memset(text, '\n', size);
    text[0] = 'k';
    FILE *in = text_stream(text, size - 1);
    hy_score *score = hy_score_read(in, "t.score", &diag);
    cr_expect_not_null(score, "%s", diag.text);
    hy_score_free(score);
    fclose(in);
    in = text_stream(text, size);
    cr_expect_null(hy_score_read(in, "t.score", &diag));
    fclose(in);
    free(text);
}

static void read_and_play(FILE *in, const char *name, char *message, size_t size)
{
    hy_diag why = {{0}};
    const hy_host_options options = {.clock_hz = 720e3, .level = 0};
    hy_score *score = hy_score_read(in, name, &why);
    hy_log *log = score != NULL ? hy_host_play(score, hyoid_part_default(), &options, &why) : NULL;
    snprintf(message, size, "%s", log != NULL ? "accepted" : why.text);
    hy_log_free(log);
    hy_score_free(score);
}

Test(score, bad_scores_say_what_is_wrong)
{
    check_bad_inputs("scores", ".score", 40, read_and_play);
}

Test(score, examples_of_the_manual_play)
{
    char *manual = source_text("docs/formats.md");
    int found = 0;
    for (char *at = strstr(manual, "```score\n"); at != NULL; at = strstr(at, "```score\n")) {
        at += strlen("```score\n");
        char *end = strstr(at, "```");
        cr_assert_not_null(end);
        FILE *in = text_stream(at, (size_t)(end - at));
        char message[800];
        read_and_play(in, "formats.md", message, sizeof message);
        cr_expect_str_eq(message, "accepted");
        fclose(in);
        at = end + 3;
        found++;
    }
    cr_expect_geq(found, 3);
    free(manual);
}
