/* The labels, compared word by word. tests/outside/textgrid.praat shows that Praat reads them. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "labels.h"
#include "scratch.h"

#define MS INT64_C(1000000000)

static hy_diag diag;
static hy_labels *labels;

static void begin(void)
{
    scratch_begin();
    labels = hy_labels_open(scratch("a.TextGrid"), &diag);
    cr_assert_not_null(labels, "%s", diag.text);
}

static void end(void)
{
    hy_labels_abandon(labels);
    scratch_end();
}

TestSuite(labels, .init = begin, .fini = end);

static char *finish(int64_t end_ps)
{
    cr_assert_eq(hy_labels_finish(labels, end_ps, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_labels_commit(labels, &diag), 0, "%s", diag.text);
    labels = NULL;
    return scratch_read(scratch("a.TextGrid"), NULL);
}

/* Reads a tier as "from-to text|from-to text|", in ps, and checks that it is what is expected and that it tiles. */
static void expect_tier(const char *all, const char *name, int64_t end_ps, const char *expected)
{
    char head[64];
    char found[2000] = "";
    snprintf(head, sizeof head, "name = \"%s\"", name);
    const char *at = strstr(all, head);
    cr_assert_not_null(at);
    const char *stop = strstr(at, "class =");
    stop = stop != NULL ? stop : at + strlen(at);
    int count = 0;
    int counted = 0;
    int64_t now = 0;
    cr_assert_eq(sscanf(strstr(at, "size = "), "size = %d", &count), 1);
    for (at = strstr(at, "s ["); at != NULL && at < stop; at = strstr(at + 1, "intervals [")) {
        long long from_s, from_ps, to_s, to_ps;
        char text[100];
        cr_assert_eq(sscanf(strstr(at, "xmin"), "xmin = %lld.%12lld xmax = %lld.%12lld text = %99[^\n]", &from_s,
                            &from_ps, &to_s, &to_ps, text),
                     5);
        int64_t from = from_s * 1000 * MS + from_ps;
        int64_t to = to_s * 1000 * MS + to_ps;
        cr_assert_eq(from, now);
        cr_assert_gt(to, from);
        now = to;
        counted++;
        snprintf(found + strlen(found), sizeof found - strlen(found), "%lld %s|", (long long)from, text);
    }
    cr_assert_eq(now, end_ps);
    cr_assert_eq(count, counted);
    cr_assert_str_eq(found, expected);
}

Test(labels, tiers_tile_the_whole_time)
{
    hy_labels_latch(labels, 1388, 0x1b);
    hy_labels_request(labels, 1390, 0);
    hy_labels_latch(labels, 70 * MS, 0x2a);
    hy_labels_request(labels, 71 * MS, 0);
    hy_labels_request(labels, 72 * MS, 1);
    char *all = finish(100 * MS);
    expect_tier(all, "phoneme", 100 * MS, "0 \"\"|1388 \"hh\"|70000000000 \"t\"|");
    expect_tier(all, "code", 100 * MS, "0 \"\"|1388 \"0x1b\"|70000000000 \"0x2a\"|");
    expect_tier(all, "request", 100 * MS, "0 \"high\"|1390 \"low\"|72000000000 \"high\"|");
    cr_assert_eq(
        strncmp(all, "File type = \"ooTextFile\"\nObject class = \"TextGrid\"\n\nxmin = 0\nxmax = 0.100000000000\n",
                80),
        0);
    free(all);
}

Test(labels, a_repeated_phoneme_is_a_new_interval)
{
    hy_labels_latch(labels, 0, 0x0c);
    hy_labels_latch(labels, MS, 0x0c);
    char *all = finish(2 * MS);
    expect_tier(all, "phoneme", 2 * MS, "0 \"m\"|1000000000 \"m\"|");
    free(all);
}

Test(labels, intervals_without_length_and_beyond_the_end_are_left_out)
{
    hy_labels_latch(labels, MS, 0x0c);
    hy_labels_latch(labels, MS, 0x0d);
    hy_labels_request(labels, MS, 0);
    hy_labels_request(labels, MS, 1);
    hy_labels_latch(labels, 3 * MS, 0x0e);
    char *all = finish(3 * MS);
    expect_tier(all, "phoneme", 3 * MS, "0 \"\"|1000000000 \"n\"|");
    /* the request pulse without length has split the interval; that both halves say the same is true */
    expect_tier(all, "request", 3 * MS, "0 \"high\"|1000000000 \"high\"|");
    free(all);
}

Test(labels, nothing_at_all_is_still_a_valid_file)
{
    char *all = finish(0);
    expect_tier(all, "phoneme", 1, "0 \"\"|");
    expect_tier(all, "request", 1, "0 \"high\"|");
    cr_assert_not_null(strstr(all, "points: size = 0\n"));
    free(all);
}

Test(labels, marks_are_points_with_quotes_doubled)
{
    hy_labels_mark(labels, 0, "a");
    hy_labels_mark(labels, MS, "say \"\u00e4h\"\n");
    hy_labels_mark(labels, MS, "and");
    hy_labels_mark(labels, 9 * MS, "late");
    char *all = finish(2 * MS);
    cr_assert_not_null(strstr(all,
                              "        points: size = 3\n        points [1]:\n            number = 0.000000000000\n"
                              "            mark = \"a\"\n        points [2]:\n            number = 0.001000000000\n"
                              "            mark = \"say \"\"\u00e4h\"\"  / and\"\n        points [3]:\n"
                              "            number = 0.002000000000\n            mark = \"late\"\n"),
                       "%s", strstr(all, "points"));
    free(all);
}

Test(labels, a_full_disk_is_told)
{
    hy_labels *full = hy_labels_open("/dev/full", &diag);
    cr_assert_eq(hy_labels_finish(full, MS, &diag), 0);
    cr_assert_eq(hy_labels_commit(full, &diag), -1);
    cr_assert_str_eq(diag.text, "cannot write /dev/full: the disk is full");
}

Test(labels, abandon_leaves_nothing)
{
    hy_labels_latch(labels, 0, 1);
    hy_labels_abandon(labels);
    labels = NULL;
    cr_assert_eq(scratch_count(), 0);
}
