/* The report: what is escaped, what is judged, what stands where. tests/outside/report opens one in a browser. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "progress/progress.h"
#include "report/report.h"
#include "report/report_private.h"
#include "scratch.h"

static hy_diag diag;
static hy_report *report;

static void begin(void)
{
    const hy_report_head head = {.title = "Check", .item = "a<b>&\"c'", .part = hyoid_part_default()};
    scratch_begin();
    report = hy_report_open(scratch("a.html"), &head, &diag);
    cr_assert_not_null(report, "%s", diag.text);
}

static void end(void)
{
    hy_report_abandon(report);
    scratch_end();
}

TestSuite(report, .init = begin, .fini = end);

static char *finish(void)
{
    cr_assert_eq(hy_report_finish(report, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_report_commit(report, &diag), 0, "%s", diag.text);
    report = NULL;
    return scratch_read(scratch("a.html"), NULL);
}

static int count(const char *text, const char *word)
{
    int n = 0;
    for (const char *at = text; (at = strstr(at, word)) != NULL; at += strlen(word)) {
        n++;
    }
    return n;
}

static void escaped(const char *text, const char *expected)
{
    char *got = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&got, &size);
    cr_assert_not_null(out);
    hy_report_put(out, text);
    cr_assert_eq(fclose(out), 0);
    cr_expect_str_eq(got, expected);
    free(got);
}

Test(report_text, escapes)
{
    escaped(NULL, "");
    escaped("<a href=\"x\">'&amp;", "&lt;a href=&quot;x&quot;&gt;&#39;&amp;amp;");
    escaped("\u00b5s \u2192 ok\n\t", "\u00b5s \u2192 ok\n\t");
    escaped("a\xff"
            "b\x01\x7f\xc2\x80",
            "a\ufffdb\ufffd\ufffd\ufffd");
    escaped("\xc3", "\ufffd");                               /* cut within a character */
    escaped("\xed\xa0\x80", "\ufffd\ufffd\ufffd");           /* a surrogate */
    escaped("\xef\xbf\xbf \xc0\xaf", "\ufffd \ufffd\ufffd"); /* U+FFFF, an overlong slash */
}

Test(report_text, numbers)
{
    cr_expect_str_eq(hy_report_number(719832.25, 4.2).text, "719832");
    cr_expect_str_eq(hy_report_number(70.5, 0.05).text, "70.50");
    cr_expect_str_eq(hy_report_number(70.5, 0.1).text, "70.5");
    cr_expect_str_eq(hy_report_number(-1.26, 0.1).text, "\u22121.3");
    cr_expect_str_eq(hy_report_number(-0.01, 0.1).text, "0.0");
    cr_expect_str_eq(hy_report_number(NAN, 1).text, "\u2013");
    cr_expect_str_eq(hy_report_number(INFINITY, 1).text, "\u221e");
    cr_expect_str_eq(hy_report_number(1.0, 1e-30).text, "1.000000000");
    cr_expect(strlen(hy_report_number(-1e300, 1e-9).text) < 39);
}

Test(report_text, command_is_quoted)
{
    char *const words[] = {"timing", "board 7.vcd", "--map=p0=D0", "it's", ""};
    char *command = hy_report_command(5, words);
    cr_expect_str_eq(command, "hyoid timing 'board 7.vcd' --map=p0=D0 'it'\\''s' ''");
    free(command);
}

Test(report_text, judgement)
{
    hy_report_row row = hy_report_row_of("a", NULL);
    cr_expect_eq(hy_report_judge(&row), HY_INCONCLUSIVE);
    row.min = 10, row.max = 20;
    cr_expect_eq(hy_report_judge(&row), HY_INCONCLUSIVE, "nothing was measured");
    row.mean = 12;
    cr_expect_float_eq(hy_report_margin(&row), 2, 1e-12);
    cr_expect_eq(hy_report_judge(&row), HY_PASS);
    row.low = 10.1, row.high = 19.5;
    cr_expect_float_eq(hy_report_margin(&row), 0.1, 1e-9);
    row.uncertainty = 0.2;
    cr_expect_eq(hy_report_judge(&row), HY_INCONCLUSIVE);
    row.low = 9.9;
    cr_expect_eq(hy_report_judge(&row), HY_INCONCLUSIVE);
    row.low = 9.7;
    cr_expect_eq(hy_report_judge(&row), HY_FAIL);
    row.min = NAN;
    cr_expect_float_eq(hy_report_margin(&row), 0.5, 1e-9);
    cr_expect_eq(hy_report_judge(&row), HY_PASS);
    row.max = NAN;
    cr_expect_eq(hy_report_judge(&row), HY_INCONCLUSIVE, "without a limit there is nothing to judge");
}

Test(report, header_says_what_is_known)
{
    char *page = finish();
    cr_expect_not_null(strstr(page, "a&lt;b&gt;&amp;&quot;c&#39;"));
    cr_expect_null(strstr(page, "a<b>"));
    char hash[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(hyoid_part_default()));
    cr_expect_not_null(strstr(page, hash));
    cr_expect_not_null(strstr(page, "ESTIMATE"));
    cr_expect_null(strstr(page, "<dt>Date"), "no date unless one was given");
    cr_expect_null(strstr(page, "<script"));
    cr_expect_eq(count(page, "<h2>Cautions</h2>"), 1, "added although nobody asked");
    free(page);
}

Test(report, another_part_is_not_called_an_estimate)
{
    hyoid_part part = *hyoid_part_default();
    part.output_gain *= 0.5;
    const hy_report_head head = {.title = "T", .part = &part, .part_name = "mine", .date = "today"};
    hy_report *other = hy_report_open(scratch("b.html"), &head, &diag);
    cr_assert_eq(hy_report_finish(other, &diag), 0);
    cr_assert_eq(hy_report_commit(other, &diag), 0);
    char *page = scratch_read(scratch("b.html"), NULL);
    cr_expect_null(strstr(page, "ESTIMATE"));
    cr_expect_not_null(strstr(page, "<dt>Date</dt><dd>today</dd>"));
    free(page);
}

Test(report, everything_that_opens_closes)
{
    static const char *const headings[] = {"a", "#b"};
    static const char *const cells[] = {"<1>", NULL};
    hy_report_verdict(report, HY_PASS, "fine", "more");
    hy_report_section(report, "One");
    hy_report_table(report, NULL, headings, 2);
    hy_report_cells(report, cells);
    hy_report_cells_bar(report, cells, 2.5);
    hy_report_section(report, "Two"); /* with a table left open */
    hy_report_limits(report, "L");
    hy_report_row row = hy_report_row_of("r & s", "ms");
    row.min = 1, row.max = 2, row.mean = 1.5, row.n = 1;
    hy_report_limit(report, &row);
    hy_report_text(report, "after a table that was left open");
    hy_report_svg(report, "alt", NULL, "<?xml version=\"1.0\"?>\n<svg viewBox=\"0 0 1 1\"/>");
    hy_report_svg(report, "alt", NULL, "no picture");
    hy_report_svg(report, "alt", NULL, NULL);
    hy_report_limits(report, NULL);
    hy_report_cautions(report);
    hy_report_cautions(report);
    char *page = finish();
    static const char *const tags[] = {"section", "table",  "tbody", "tr",      "td",     "th",   "p",
                                       "div",     "figure", "dl",    "main",    "body",   "html", "ul",
                                       "li",      "span",   "thead", "caption", "header", "head"};
    for (size_t i = 0; i < sizeof tags / sizeof tags[0]; i++) {
        char bare[20], open[20], close[20];
        snprintf(bare, sizeof bare, "<%s>", tags[i]);
        snprintf(open, sizeof open, "<%s ", tags[i]);
        snprintf(close, sizeof close, "</%s>", tags[i]);
        cr_expect_eq(count(page, bare) + count(page, open), count(page, close), "%s", tags[i]);
        cr_expect_gt(count(page, close), 0, "%s", tags[i]);
    }
    cr_expect_eq(count(page, "<figure>"), 1, "what is no SVG draws nothing");
    cr_expect_null(strstr(page, "<?xml"));
    cr_expect_eq(count(page, "<h2>Cautions</h2>"), 1);
    free(page);
}

/* What was counted is whole, but its limit, and so its margin, need not be. */
Test(report, margins_have_the_decimals_of_their_limit)
{
    hy_report_row row = hy_report_row_of("r", NULL);
    hy_report_limits(report, NULL);
    row.max = 7.25, row.low = row.mean = row.high = 0, row.n = 3;
    hy_report_limit(report, &row);
    char *page = finish();
    cr_expect_not_null(strstr(page, "data-label=\"limit max\">7.25<"));
    cr_expect_not_null(strstr(page, "data-label=\"margin\">7.25<"));
    cr_expect_not_null(strstr(page, "data-label=\"mean\">0<"));
    free(page);
}

Test(report, ids_of_pictures_do_not_meet)
{
    const char *svg = "<svg viewBox=\"0 0 9 9\"><g id=\"g\"/><use xlink:href=\"#g\" clip-path=\"url(#g)\"/></svg>";
    hy_report_svg(report, "one", NULL, svg);
    hy_report_svg(report, "two", NULL, svg);
    char *page = finish();
    cr_expect_not_null(strstr(page, "<g id=\"p1-g\"/><use xlink:href=\"#p1-g\" clip-path=\"url(#p1-g)\"/>"));
    cr_expect_not_null(strstr(page, "<g id=\"p2-g\"/>"));
    free(page);
}

Test(report, png_is_base64)
{
    static const struct {
        const char *bytes, *digits;
    } cases[] = {{"f", "Zg=="}, {"fo", "Zm8="}, {"foo", "Zm9v"}, {"foobar", "Zm9vYmFy"}}; /* RFC 4648, section 10 */
    for (size_t i = 0; i < 4; i++) {
        hy_report_png(report, "x", NULL, (const unsigned char *)cases[i].bytes, strlen(cases[i].bytes));
    }
    char *page = finish();
    for (size_t i = 0; i < 4; i++) {
        char whole[64];
        snprintf(whole, sizeof whole, "base64,%s\"/>", cases[i].digits);
        cr_expect_eq(count(page, whole), 1, "%s", whole);
    }
    free(page);
}

Test(report, null_is_allowed)
{
    hy_report_verdict(NULL, HY_PASS, "a", NULL);
    hy_report_section(NULL, "a");
    hy_report_text(NULL, "a");
    hy_report_note(NULL, "a");
    hy_report_svg(NULL, "a", NULL, "<svg/>");
    hy_report_png(NULL, "a", NULL, (const unsigned char *)"a", 1);
    cr_expect_eq(hy_report_surface(NULL, "a", NULL, NULL, &diag), 0);
    hy_report_limits(NULL, "a");
    hy_report_row row = hy_report_row_of("a", NULL);
    hy_report_limit(NULL, &row);
    hy_report_limits_end(NULL);
    hy_report_table(NULL, "a", NULL, 0);
    hy_report_cells(NULL, NULL);
    hy_report_table_end(NULL);
    hy_report_cautions(NULL);
    cr_expect_eq(hy_report_finish(NULL, &diag), 0);
    cr_expect_eq(hy_report_commit(NULL, &diag), 0);
    hy_report_abandon(NULL);
}

Test(report, abandoned_leaves_nothing)
{
    hy_report_abandon(report);
    report = NULL;
    cr_expect_eq(scratch_count(), 0);
}

Test(progress, line_says_what_is_left)
{
    char line[80];
    hy_progress_line(line, sizeof line, "reading", 25, 100, 10000);
    cr_expect_str_eq(line, "reading: 25 %, 30 s left");
    hy_progress_line(line, sizeof line, "reading", 1, 1000, 5000);
    cr_expect_str_eq(line, "reading: 0 %, 1 h 23 min left");
    hy_progress_line(line, sizeof line, "reading", 100, 100, 10000);
    cr_expect_str_eq(line, "reading: 100 %, 0 s left");
    hy_progress_line(line, sizeof line, "reading", 7, 0, 65000);
    cr_expect_str_eq(line, "reading: 1 min 05 s so far");
    hy_progress_line(line, sizeof line, "reading", 1, UINT64_MAX, INT64_MAX / 2);
    cr_expect_not_null(strstr(line, "left"));
}
