/* The survey as C arrays: what a score becomes, and what is refused. tests/outside/survey checks the whole. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/survey/survey.h"

static hy_diag diag;

static char *c_array(const char *text, int expected)
{
    char *got = NULL;
    size_t size = 0;
    FILE *in = fmemopen((void *)(uintptr_t)text, strlen(text), "r");
    FILE *out = open_memstream(&got, &size);
    cr_assert(in != NULL && out != NULL);
    hy_score *score = hy_score_read(in, "test", &diag);
    cr_assert_not_null(score, "%s", diag.text);
    cr_expect_eq(hy_survey_c(out, score, "What.", &diag), expected, "%s", diag.text);
    hy_score_free(score);
    fclose(in);
    cr_assert_eq(fclose(out), 0);
    return got;
}

Test(survey, steps)
{
    char *c = c_array(
        "clock 500k hold 80ms mark first aa/250 rest 5ms rest 6ms level 3 rest 7ms level 2 hold off s clock 1M", 0);
    cr_expect_not_null(strstr(c, "#define HYOID_SURVEY_STEPS 3\n"));
    cr_expect_not_null(strstr(c, "    /* first, step 0 */\n"
                                 "    {36, 1, 80, 11}, /* aa */\n"
                                 "    {HYOID_SURVEY_NO_STROBE, 3, 0, 7},\n"
                                 "    {31, 2, 0, 0}, /* s */\n"
                                 "};\n"));
    cr_expect_not_null(strstr(c, "#define HYOID_SURVEY_CLOCKS 1\n"));
    cr_expect_not_null(strstr(c, "    {0, 500000},\n};"));
    free(c);
    c = c_array("rest 9ms aa", 0);
    cr_expect_not_null(strstr(c, "    {HYOID_SURVEY_NO_STROBE, 1, 0, 9},\n    {36, 1, 0, 0}, /* aa */\n"));
    cr_expect_null(strstr(c, "HYOID_SURVEY_CLOCKS"), "no clock, no array");
    free(c);
}

Test(survey, what_no_array_holds)
{
    static const char *const scores[] = {"aa glide 300k over 1s s", "answer 40us aa s", "aa rest 1500us",
                                         "aa rest 66s s"};
    for (size_t i = 0; i < sizeof scores / sizeof scores[0]; i++) {
        diag.text[0] = '\0';
        char *c = c_array(scores[i], -1);
        cr_expect_str_neq(diag.text, "", "%s", scores[i]);
        cr_expect_str_eq(c, "", "%s", scores[i]);
        free(c);
    }
}

Test(survey, slow_boards_wait_longer)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    const hy_survey_options options = {.brief = 1, .clock_hz = 180e3, .nominal_hz = 720e3};
    hy_survey_score(out, &options);
    cr_assert_eq(fclose(out), 0);
    cr_expect_not_null(strstr(text, "clock 180000\n"));
    cr_expect_not_null(strstr(text, "hold 2400ms #"), "four times 600 ms");
    free(text);
}
