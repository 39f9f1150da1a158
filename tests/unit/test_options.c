/* The command line of a verb: options, operands, their values, and names of files that must differ. */
#define _XOPEN_SOURCE 700 /* symlink */

#include <criterion/criterion.h>
#include <criterion/redirect.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "options.h"
#include "optvalue.h"
#include "places.h"
#include "scratch.h"

enum { LOUD, NAME };

static const hy_option rows[] = {
    [LOUD] = {"loud", 'l', NULL, "louder"},
    [NAME] = {"name", 'n', "TEXT", "a name"},
    {NULL, 0, NULL, NULL},
};
static const hy_usage usage = {"tide", "INPUT [options]", "Tells the tide.", rows, "Examples:\n  hyoid tide now"};

typedef struct request {
    const char *input, *name;
    int loud, taken;
} request;

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    r->taken++;
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->input, value, &usage, "INPUT", diag);
    case LOUD:
        r->loud = 1;
        return 0;
    default:
        r->name = value;
        return value[0] != '\0' ? 0 : hy_fail(diag, "--name is empty");
    }
}

static hy_diag diag;

static int each(request *r, int *status, const char *const *words)
{
    static char line[8][32]; /* operands and values point into it */
    char *argv[9] = {NULL};
    int argc = 0;
    for (; words[argc] != NULL; argc++) {
        snprintf(line[argc], sizeof line[argc], "%s", words[argc]);
        argv[argc] = line[argc];
    }
    *r = (request){0};
    diag = (hy_diag){""};
    *status = 77;
    return hy_options_each(&usage, argc, argv, take, r, status, &diag);
}

TestSuite(options, .init = scratch_begin, .fini = scratch_end);

Test(options, each_argument_is_handed_over)
{
    request r;
    int status;
    cr_expect_eq(each(&r, &status, (const char *[]){"tide", "-l", "--name=x", "now", NULL}), 0);
    cr_expect_eq(r.taken, 3);
    cr_expect_eq(r.loud, 1);
    cr_expect_str_eq(r.input, "now");
    cr_expect_eq(each(&r, &status, (const char *[]){"tide", "-l", "--", "--name", NULL}), 0);
    cr_expect_str_eq(r.input, "--name", "behind -- everything is an operand");
}

Test(options, what_is_wrong_is_said_and_ends_the_verb)
{
    static const struct {
        const char *words[5], *said;
    } wrong[] = {
        {{"tide", "now", "then", NULL}, "tide takes one INPUT; then is a second one"},
        {{"tide", "--laud", NULL}, "unknown option --laud of tide; did you mean --loud?"},
        {{"tide", "-l", "-l", NULL}, "option --loud of tide is given twice"},
        {{"tide", "--name", NULL}, "option --name of tide needs a value: --name TEXT"},
        {{"tide", "--loud=1", NULL}, "option --loud of tide takes no value, but has \"1\""},
        {{"tide", "--name=", "now", NULL}, "--name is empty"},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        request r;
        int status;
        cr_expect_eq(each(&r, &status, wrong[i].words), -1);
        cr_expect_eq(status, 2);
        cr_expect_str_eq(diag.text, wrong[i].said);
    }
}

Test(options, help_ends_the_verb_well)
{
    cr_redirect_stdout();
    request r;
    int status;
    cr_expect_eq(each(&r, &status, (const char *[]){"tide", "-l", "--help", "now", NULL}), -1);
    cr_expect_eq(status, 0);
    cr_expect_null(r.input);
    cr_expect_str_empty(diag.text);
}

Test(options, values_hold_to_their_ranges)
{
    double number;
    int whole;
    int64_t ps;
    cr_expect_eq(hy_value_number("0.5", 0, 1, "x", &number, &diag), 0);
    cr_expect_eq(number, 0.5);
    cr_expect_eq(hy_value_number("-6.5", -100, 60, "x", &number, &diag), 0);
    cr_expect_eq(number, -6.5);
    cr_expect_eq(hy_value_whole("16", 2, 32, "x", &whole, &diag), 0);
    cr_expect_eq(whole, 16);
    cr_expect_eq(hy_value_bits("24", &whole, &diag), 0);
    cr_expect_eq(whole, 24);
    cr_expect_eq(hy_value_time("1.5 us", 0, 10000000, "less", "x", &ps, &diag), 0);
    cr_expect_eq(ps, 1500000);
    cr_expect_eq(hy_value_time("10us", 0, 10000000, "less", "x", &ps, &diag), 0);
    cr_expect_str_empty(diag.text);
    static const char *const bad[] = {"", "-", "+-0", "0,5", "1.1", "-1", "nan", "inf", "1e0", "0x1", " 1"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cr_expect_eq(hy_value_number(bad[i], 0, 1, "x", &number, &diag), -1, "%s", bad[i]);
        cr_expect_eq(hy_value_whole(bad[i], 0, 1, "x", &whole, &diag), -1, "%s", bad[i]);
        cr_expect_eq(hy_value_bits(bad[i], &whole, &diag), -1, "%s", bad[i]);
        cr_expect_eq(hy_value_time(bad[i], 0, 1000, "less", "x", &ps, &diag), -1, "%s", bad[i]);
    }
    static const char *const bad_times[] = {"10.1us", "0.1ps", "1", "1 hour", "99999999999999s"};
    for (size_t i = 0; i < sizeof bad_times / sizeof bad_times[0]; i++) {
        cr_expect_eq(hy_value_time(bad_times[i], 0, 10000000, "less", "x", &ps, &diag), -1, "%s", bad_times[i]);
    }
    cr_expect_eq(hy_value_time("0s", 1, 10, "more", "x", &ps, &diag), -1);
    diag = (hy_diag){""};
    cr_expect_eq(hy_value_whole("0.5", 0, 1, "x", &whole, &diag), -1);
    cr_expect_str_eq(diag.text, "--x 0.5: a whole number from 0 to 1 would be right");
}

static int differ(const char *output, const char *other, const char *input)
{
    const char *const outputs[] = {NULL, output, other};
    diag = (hy_diag){""};
    return hy_places_check(outputs, 3, &input, 1, &diag);
}

Test(options, one_file_by_two_names_is_seen)
{
    const char *file = scratch("a.vcd"), *link = scratch("b.vcd"), *again = scratch("./a.vcd");
    const char *missing = scratch("c.wav"), *absent = scratch("/.//c.wav");
    FILE *made = fopen(file, "w");
    cr_assert_not_null(made);
    fclose(made);
    cr_assert_eq(symlink(file, link), 0);
    cr_expect_eq(differ(missing, "-", file), 0);
    cr_expect_eq(differ("-", NULL, "-"), 0, "standard input and output are two streams");
    cr_expect_eq(differ("-", "-", NULL), -1);
    cr_expect_eq(differ(again, NULL, file), -1);
    cr_expect_eq(differ(link, NULL, file), -1);
    cr_expect_eq(differ(missing, absent, file), -1, "a file that is not there yet");
    cr_expect_eq(differ("", NULL, file), -1);
    cr_expect_eq(differ(missing, NULL, ""), -1);
}
