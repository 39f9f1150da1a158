#include <criterion/criterion.h>
#include <inttypes.h>
#include <locale.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "inputs.h"
#include "log.h"
#include "number.h"

static hy_diag diag;

static hy_log *read_text(const char *text)
{
    FILE *in = text_stream(text, strlen(text));
    diag.text[0] = '\0';
    hy_log *log = hy_log_read_csv(in, "t.csv", &diag);
    fclose(in);
    return log;
}

static hy_log *good(const char *text)
{
    hy_log *log = read_text(text);
    cr_assert_not_null(log, "%s", diag.text);
    return log;
}

static char *written(hy_log *log)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    cr_assert_not_null(out);
    cr_assert_eq(hy_log_write_csv(log, out, &diag), 0, "%s", diag.text);
    fclose(out);
    return text;
}

static const char everything[] = "time_s,signal,value\n"
                                 "0.000000000000,clock_hz,720000\n"
                                 "0.000000000000,inflection,2\n"
                                 "0.000000000000,phoneme,27\n"
                                 "0.071000000002,mark,\"two,words \"\"quoted\"\"\"\n"
                                 "0.071000000002,clock_hz,720000\n"
                                 "0.100000000000,phoneme,2\n"
                                 "1.271000000002,clock_to,300000.1\n"
                                 "1.300000000000,p0,1\n"
                                 "1.300000000000,i1,1\n"
                                 "1.300000000001,strobe,1\n"
                                 "1.400000000000,strobe,0\n"
                                 "3999999.999999999999,clock_to,0\n"
                                 "4000000.000000000000,end,0\n";

Test(log, reads_what_it_writes)
{
    hy_log *log = good(everything);
    char *text = written(log);
    cr_expect_str_eq(text, everything);
    free(text);
    hy_log_free(log);
}

Test(log, events_of_a_file)
{
    hy_log *log = good(everything);
    hy_event e;
    for (int round = 0; round < 2; round++) {
        cr_assert_eq(hy_log_rewind(log, &diag), 0);
        cr_assert_eq(hy_log_next(log, &e, &diag), 1);
        cr_expect(e.signal == HY_CLOCK && e.ps == 0 && e.hz == 720e3);
        cr_expect_eq(e.to_ps, 0, "a constant clock, for all that the next clock row says");
        for (int i = 0; i < 3; i++) {
            cr_assert_eq(hy_log_next(log, &e, &diag), 1);
        }
        cr_expect_eq(e.signal, HY_MARK);
        cr_expect_str_eq(hy_log_mark_name(log, e.number), "two,words \"quoted\"");
        cr_assert_eq(hy_log_next(log, &e, &diag), 1);
        cr_expect(e.signal == HY_CLOCK && e.ps == INT64_C(71000000002) && e.to_ps == INT64_C(1271000000002));
        cr_expect_eq(e.to_hz, 300000.1);
        for (int i = 0; i < 3; i++) {
            cr_assert_eq(hy_log_next(log, &e, &diag), 1);
        }
        cr_expect(e.signal == HY_PIN && e.number == HY_P0 * 2 + 1);
    }
    cr_expect_eq(hy_log_end(log), HY_LOG_TIME_MAX);
    hy_log_free(log);
}

Test(log, an_end_is_supplied)
{
    hy_log *log = good("time_s,signal,value\r\n0.5,phoneme,1\r\n0.75,request,1");
    char *text = written(log);
    cr_expect_str_eq(text, "time_s,signal,value\n0.500000000000,phoneme,1\n0.750000000000,end,0\n");
    free(text);
    hy_log_free(log);
    log = good("time_s,signal,value\n");
    cr_expect_eq(hy_log_end(log), 0);
    hy_log_free(log);
}

Test(log, spaces_quotes_and_exponents)
{
    hy_log *log =
        good("\xef\xbb\xbftime_s, \"signal\" ,value\n\n  7e-05 ,phoneme, 3 \n \n\"1e0\",\"clock_hz\",7.2E5\n");
    char *text = written(log);
    cr_expect_str_eq(text, "time_s,signal,value\n0.000070000000,phoneme,3\n1.000000000000,clock_hz,720000\n"
                           "1.000000000000,end,0\n");
    free(text);
    hy_log_free(log);
}

Test(log, a_glide_back_to_the_same_instant_and_value_is_no_glide)
{
    hy_log *log = good("time_s,signal,value\n0,clock_hz,5\n0,clock_to,5\n");
    hy_event e;
    cr_assert_eq(hy_log_next(log, &e, &diag), 1);
    cr_expect_eq(e.to_ps, 0);
    hy_log_free(log);
}

/* More than a block of events between a glide's two ends: the first has left memory when the second comes. */
Test(log, long_logs_and_long_glides)
{
    hy_log *log = hy_log_new(&diag);
    cr_assert_not_null(log);
    const int count = 5000;
    for (int i = 0; i < count; i++) {
        hy_event e = {.ps = i, .signal = HY_INFLECTION, .number = i % 4};
        if (i == 10 || i == 4000 || i == 4001) {
            e = (hy_event){.ps = i, .signal = HY_CLOCK, .hz = i};
        }
        cr_assert_eq(hy_log_append(log, &e, i > 10, &diag), 0, "%s", diag.text);
    }
    for (int round = 0; round < 2; round++) {
        hy_event e;
        hy_log_rewind(log, &diag);
        for (int i = 0; i < count; i++) {
            cr_assert_eq(hy_log_next(log, &e, &diag), 1);
            cr_assert_eq(e.ps, i);
            if (i == 10) {
                cr_expect(e.to_ps == 4000 && e.to_hz == 4000.0);
            } else if (i == 4000) {
                cr_expect(e.to_ps == 4001 && e.to_hz == 4001.0);
            } else {
                cr_assert(e.to_ps == 0 && (i == 4001 || e.number == i % 4));
            }
        }
        cr_expect_eq(hy_log_next(log, &e, &diag), 0);
    }
    hy_log_free(log);
}

Test(log, events_out_of_order_are_refused)
{
    hy_log *log = hy_log_new(&diag);
    cr_assert_not_null(log);
    hy_event e = {.ps = 5, .signal = HY_CLOCK, .hz = 1.0};
    hy_diag why = {{0}};
    cr_expect_eq(hy_log_append(log, &e, 1, &why), -1, "nothing to glide from");
    cr_expect_eq(hy_log_append(log, &e, 0, &diag), 0);
    e.hz = 2.0;
    cr_expect_eq(hy_log_append(log, &e, 1, &why), -1, "no time to glide in");
    e.ps = 4;
    cr_expect_eq(hy_log_append(log, &e, 0, &why), -1);
    e = (hy_event){.ps = 6, .signal = HY_END};
    cr_expect_eq(hy_log_append(log, &e, 0, &diag), 0);
    cr_expect_eq(hy_log_append(log, &e, 0, &why), -1, "nothing after the end");
    hy_log_free(log);
}

static void read_only(FILE *in, const char *name, char *message, size_t size)
{
    hy_diag why = {{0}};
    hy_log *log = hy_log_read_csv(in, name, &why);
    snprintf(message, size, "%s", log != NULL ? "accepted" : why.text);
    hy_log_free(log);
}

Test(log, bad_logs_say_what_is_wrong)
{
    check_bad_inputs("logs", ".csv", 25, read_only);
}

Test(log, examples_of_the_manual_are_read)
{
    char *manual = source_text("docs/formats.md");
    int found = 0;
    for (char *at = strstr(manual, "```log\n"); at != NULL; at = strstr(at, "```log\n")) {
        at += strlen("```log\n");
        char *end = strstr(at, "```");
        cr_assert_not_null(end);
        FILE *in = text_stream(at, (size_t)(end - at));
        char message[800];
        read_only(in, "formats.md", message, sizeof message);
        cr_expect_str_eq(message, "accepted");
        fclose(in);
        at = end + 3;
        found++;
    }
    cr_expect_geq(found, 1);
    free(manual);
}

/* ---- numbers ---- */

static double parsed(const char *text)
{
    hy_decimal d;
    cr_assert_eq(hy_decimal_read(text, strlen(text), 1, &d), strlen(text), "%s", text);
    return hy_decimal_double(&d, 0);
}

Test(number, shortest_text_of_a_double)
{
    static const struct {
        double value;
        const char *text;
    } cases[] = {
        {0.0, "0"},
        {720e3, "720000"},
        {0.1, "0.1"},
        {0.30000000000000004, "0.30000000000000004"},
        {1e-5, "0.00001"},
        {1.5e-6, "1.5e-6"},
        {2.5e-300, "2.5e-300"},
        {1e20, "100000000000000000000"},
        {1e21, "1e21"},
        {1e23, "1e23"},
        {123456.75, "123456.75"},
        {99999999.99999999, "99999999.99999999"},
        {0.012345, "0.012345"},
        {2.5, "2.5"},
        {1e8, "100000000"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cr_expect_str_eq(hy_double_text(cases[i].value).text, cases[i].text);
    }
}

Test(number, doubles_survive)
{
    uint64_t state = 88172645463325252u; /* xorshift64 */
    for (int i = 0; i < 200000; i++) {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        uint64_t bits = i % 2 != 0 ? state : (state >> 12) | UINT64_C(0x4190000000000000);
        double value;
        bits &= UINT64_C(0x7fffffffffffffff);
        memcpy(&value, &bits, sizeof value);
        if (value - value != 0.0) {
            continue; /* not finite */
        }
        hy_number_text text = hy_double_text(value);
        double back = parsed(text.text);
        cr_assert_eq(memcmp(&back, &value, sizeof value), 0, "%s", text.text);
    }
}

Test(number, the_locale_does_not_matter)
{
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "pt_BR.UTF-8", "de_DE.utf8"};
    int changed = 0;
    for (size_t i = 0; !changed && i < sizeof names / sizeof names[0]; i++) {
        changed = setlocale(LC_ALL, names[i]) != NULL;
    }
    if (!changed) {
        cr_log_info("no locale with a decimal comma is installed: only the C locale was tried");
    }
    cr_expect_eq(parsed("123456.75"), 493827.0 / 4.0);
    cr_expect_str_eq(hy_double_text(123456.75).text, "123456.75");
    setlocale(LC_ALL, "C");
}

Test(number, whole_numbers_are_exact)
{
    hy_decimal d;
    int64_t value;
    cr_assert_eq(hy_decimal_read("9223372.036854775807", 20, 0, &d), 20);
    cr_expect_eq(hy_decimal_whole(&d, 12, INT64_MAX, &value), HY_EXACT);
    cr_expect_eq(value, INT64_MAX);
    cr_expect_eq(hy_decimal_whole(&d, 11, INT64_MAX, &value), HY_TOO_FINE);
    cr_expect_eq(hy_decimal_whole(&d, 13, INT64_MAX, &value), HY_TOO_LARGE);
    cr_assert_eq(hy_decimal_read("007.500", 7, 0, &d), 7);
    cr_expect_eq(hy_decimal_whole(&d, 1, 75, &value), HY_EXACT);
    cr_expect_eq(value, 75);
    cr_expect_eq(hy_decimal_whole(&d, 1, 74, &value), HY_TOO_LARGE);
    cr_expect_eq(hy_decimal_read("7.", 2, 0, &d), 1, "a point without digits is no part of the number");
    cr_expect_eq(hy_decimal_read(".7", 2, 0, &d), 0);
    cr_expect_eq(hy_decimal_read("1e5", 3, 0, &d), 1);
    cr_expect_eq(hy_decimal_read("1e5", 3, 1, &d), 3);
    cr_expect_eq(hy_decimal_read("1e", 2, 1, &d), 1);
}

/* The place is told whatever the path; a character is not cut in two. */
Test(log, a_long_path_keeps_the_place)
{
    static const char text[] = "time_s,signal,value\n0,what,0\n";
    for (int odd = 0; odd < 2; odd++) {
        char path[1003] = "";
        for (size_t i = 0; i < 500; i++) {
            memcpy(path + 2 * i, "\xc2\xb5", 3);
        }
        strcat(path, odd ? "x" : "xx");
        FILE *in = text_stream(text, strlen(text));
        diag.text[0] = '\0';
        cr_expect_null(hy_log_read_csv(in, path, &diag));
        fclose(in);
        cr_expect_not_null(strstr(diag.text, "x:2:3: "), "%s", diag.text);
        cr_expect_eq(memcmp(diag.text, "...\xc2\xb5\xc2\xb5", 7), 0, "%s", diag.text);
    }
}
