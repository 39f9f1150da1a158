/* The reader of value change dumps: what it tells of files that other programs wrote, what it refuses and in which words. */
#include <criterion/criterion.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "inputs.h"
#include "vcd_read_private.h"

static hy_diag diag;

/* ---- a dump as text: one line a variable, then one a change ---- */

typedef struct telling {
    FILE *out;
    const hy_vcd_reader *reader;
} telling;

static int tell_change(void *user, const hy_vcd_change *c)
{
    const telling *t = user;
    unsigned var = 0;
    while (hy_vcd_reader_var(t->reader, var).signal != c->signal) {
        var++;
    }
    fprintf(t->out, "%" PRId64 " %s ", c->ps, hy_vcd_reader_var(t->reader, var).name);
    if (c->digits == NULL) {
        fprintf(t->out, "%.17g\n", c->real);
        return 0;
    }
    for (unsigned i = c->width; i-- > 0;) {
        fputc(hy_vcd_digit(c, i), t->out);
        uint64_t bit = i < 64 ? UINT64_C(1) << i : 0;
        char digit = hy_vcd_digit(c, i);
        cr_assert(i >= 64 ||
                  (((c->bits & bit) != 0) == (digit == '1') && ((c->unknown & bit) != 0) == (digit > '1')));
    }
    fputc('\n', t->out);
    return 0;
}

static int tell_comment(void *user, int64_t ps, const char *text)
{
    const telling *t = user;
    fprintf(t->out, "%" PRId64 " (%s)\n", ps, text);
    return 0;
}

/* The caller frees it. A refusal is the last line. */
static char *told(FILE *in, const char *name, size_t chunk)
{
    char *text = NULL;
    size_t size = 0;
    telling t = {open_memstream(&text, &size), NULL};
    cr_assert_not_null(t.out);
    diag.text[0] = '\0';
    hy_vcd_reader *reader = hy_vcd_reader_open_by(in, name, chunk, &diag);
    int failed = reader == NULL;
    if (reader != NULL) {
        for (unsigned i = 0; i < hy_vcd_reader_vars(reader); i++) {
            fprintf(t.out, "%s\n", hy_vcd_reader_name(reader, i).text);
            hy_vcd_reader_select(reader, i);
        }
        t.reader = reader;
        const hy_vcd_listener listener = {.user = &t, .change = tell_change, .comment = tell_comment};
        failed = hy_vcd_reader_run(reader, &listener, &diag) != 0;
        if (!failed) {
            fprintf(t.out, "end %" PRId64 "\n", hy_vcd_reader_last(reader));
        }
    }
    cr_assert_eq(failed, diag.text[0] != '\0');
    fputs(diag.text, t.out);
    hy_vcd_reader_close(reader);
    fclose(t.out);
    return text;
}

static char *told_text(const char *text, size_t size, size_t chunk)
{
    FILE *in = text_stream(text, size);
    char *result = told(in, "t.vcd", chunk);
    fclose(in);
    return result;
}

static void expect_told(const char *text, const char *expected)
{
    char *got = told_text(text, strlen(text), 0);
    cr_expect_str_eq(got, expected);
    free(got);
}

static void expect_file(const char *name, const char *expected)
{
    char path[200];
    snprintf(path, sizeof path, "tests/outside/fixtures/vcd/%s", name);
    FILE *in = source_file(path);
    char *got = told(in, name, 0);
    cr_expect_str_eq(got, expected);
    free(got);
    fclose(in);
}

#define HEAD(SCALE)                                                                                                  \
    "$timescale " SCALE " $end $scope module t $end $var wire 1 ! a $end\n$upscope $end $enddefinitions $end\n"

/* ---- what others wrote ---- */

Test(vcd_read, four_states_reals_aliases_and_escaped_names)
{
    expect_file("full.vcd",
                "top.clk\ntop.data[5:0]\ntop.strobe\ntop.audio\ntop.odd/name\ntop.count\n"
                "top.inner.clk_alias\ntop.inner.zline\n"
                "0 clk 0\n0 data xxxxxx\n0 strobe x\n0 audio 0\n0 odd/name 0\n"
                "0 count 00000000000000000000000000000000\n0 zline z\n"
                "500000 clk 1\n500000 data 000101\n500000 audio 0.125\n"
                "1000000 clk 0\n1000000 strobe 1\n1000000 count 00000000000000000000000000000011\n"
                "1200000 zline x\n"
                "1500000 clk 1\n1500000 strobe 0\n1500000 data zzzzz1\n1500000 audio -0.0015\n"
                "2000000 clk x\n2000000 data xxxxxx\n2000000 strobe x\n2000000 audio 0\n2000000 odd/name x\n"
                "2000000 count xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\n2000000 zline x\n"
                "2500000 clk 0\n2500000 data 111111\n2500000 strobe 0\n2500000 audio 1\n2500000 odd/name 1\n"
                "2500000 count 00000000000000000000000000000100\n2500000 zline 1\n"
                "end 3000000\n");
}

Test(vcd_read, icarus)
{
    FILE *in = source_file("tests/outside/fixtures/vcd/iv.vcd");
    char *got = told(in, "iv.vcd", 0);
    static const char start[] = "tb.clk\ntb.d[5:0]\ntb.odd/name\ntb.n[31:0]\ntb.r\n0 r 0\n0 n 00000000";
    cr_expect_eq(strncmp(got, start, sizeof start - 1), 0);
    cr_expect_not_null(strstr(got, "\n10000 d zz1x01\n"));
    cr_expect(strstr(got, "\n13000 r nan\n") != NULL || strstr(got, "\n13000 r -nan\n") != NULL);
    cr_expect_not_null(strstr(got, "end 20000\n"));
    free(got);
    fclose(in);
}

Test(vcd_read, verilator)
{
    expect_file("ver.vcd", "TOP.clk\nTOP.d[5:0]\nTOP.q\nTOP.vtop.clk\nTOP.vtop.d[5:0]\nTOP.vtop.q\n"
                           "0 clk 0\n0 d 000000\n0 q 0\n10 clk 1\n10 d 000101\n20 clk 0\n20 d 001010\n"
                           "30 clk 1\n30 d 001111\n40 clk 0\n40 d 010100\n50 clk 1\n50 d 011001\n50 q 1\nend 50\n");
}

Test(vcd_read, logic_analyser)
{
    expect_file("logic.vcd", "top.clk\ntop.strobe\ntop.ack\ntop.data\n0 clk 0\n0 strobe 0\n0 ack 0\n0 data 000000\n"
                             "10000000 data 101010\n12000000 strobe 1\n14000000 strobe 0\n15000000 ack 1\n"
                             "20000000 clk 1\n100000000 ack 0\nend 200000000\n");
    expect_file("scalar.vcd", "top.clk\ntop.strobe\ntop.ack\n0 clk 0\n0 strobe 0\n0 ack 0\n12000000 strobe 1\n"
                              "14000000 strobe 0\n15000000 ack 1\n20000000 clk 1\n100000000 ack 0\nend 120000000\n");
}

Test(vcd_read, odd_but_right)
{
    expect_told("\xef\xbb\xbf \n$scope fork f$1 $end $var wor 4 ab bus[3:0] $end $attrbegin x y $end\n"
                "$var wire 1 a bus\t[ 7 ] $end $comment 1! #5 $end $var time 2 b mem [1] [1:0] $end\n"
                "$var wire 3 c \\q[2:0] $end $var wire 1 d \\q[2:0] [4] $end $var wire 8 e mem[3] $end\n"
                "$upscope $end $timescale 10us$end2 $end",
                "t.vcd:5:26: found \"10us$end2\"; expected a unit of s, ms, us, ns, ps or fs");
    expect_told(
        "\xef\xbb\xbf \n$scope fork f$1 $end $var wor 4 ab bus[3:0] $end $attrbegin x y $end\n"
        "$var wire 1 a bus\t[ 7 ] $end $comment 1! #5 $end $var time 2 b mem [1] [1:0] $end\n"
        "$var wire 3 c \\q[2:0] $end $var wire 1 d \\q[2:0] [4] $end $var wire 8 e mem[3] $end\n"
        "$var string 0 s state $end $var parameter 64 p pi $end $var realtime 1 r now $end\n"
        "$upscope $end $timescale\n10\nus $end $enddefinitions\n$end\n"
        "$date in the body $end B1X0z ab Xa R-1.5E3 r sidle s r3.25 p s s $comment  mark  here\n $end "
        "#000 $dumpvars 1a $comment within $end $end #2 #2 0a 1ab #3",
        "f$1.bus[3:0]\nf$1.bus[7]\nf$1.mem[1][1:0]\nf$1.q[2:0]\nf$1.q[2:0][4]\nf$1.mem[3]\nf$1.state\nf$1.pi\n"
        "f$1.now\n"
        "-1 bus 1x0z\n-1 bus x\n-1 now -1500\n-1 (mark here)\n0 bus 1\n0 (within)\n20000000 bus 0\n"
        "20000000 bus 0001\nend 30000000\n");
    expect_told(HEAD("1 ns"), "t.a\nend -1\n");
}

/* ---- what is refused ---- */

static void read_message(FILE *in, const char *name, char *message, size_t size)
{
    free(told(in, name, 0));
    snprintf(message, size, "%s", diag.text);
}

Test(vcd_read, bad_inputs)
{
    check_bad_inputs("vcd", ".vcd", 70, read_message);
}

Test(vcd_read, listeners_can_refuse_at_the_value)
{
    const char *text = HEAD("1 ns") "#0 1!\n  b0 !";
    FILE *in = text_stream(text, strlen(text));
    hy_vcd_reader *reader = hy_vcd_reader_open(in, "t.vcd", &diag);
    cr_assert_not_null(reader);
    hy_vcd_reader_run(reader, &(hy_vcd_listener){0}, &diag);
    hy_vcd_reader_refuse(reader, "1");
    cr_expect_str_eq(diag.text, "t.vcd:4:3: found \"0\"; expected 1");
    hy_vcd_reader_close(reader);
    fclose(in);
}

/* ---- times ---- */

static void expect_time(const char *scale, const char *stamp, int64_t ps)
{
    char text[300];
    char expected[100];
    snprintf(text, sizeof text, HEAD("%s") "#%s 1!", scale, stamp);
    snprintf(expected, sizeof expected, "t.a\n%" PRId64 " a 1\nend %" PRId64 "\n", ps, ps);
    expect_told(text, expected);
}

Test(vcd_read, time_scales)
{
    static const char *const scales[] = {"1 ps",   "10 ps", "100ps", "1ns",    "10\nns", "100 ns", "1 us", "10us",
                                         "100 us", "1 ms",  "10 ms", "100 ms", "1s",     "10 s",   "100 s"};
    int64_t ps = 1;
    for (size_t i = 0; i < sizeof scales / sizeof scales[0]; i++, ps *= 10) {
        char most[40];
        snprintf(most, sizeof most, "%" PRId64, HY_VCD_TIME_MAX / ps);
        expect_time(scales[i], "7", 7 * ps);
        expect_time(scales[i], most, HY_VCD_TIME_MAX);
    }
}

Test(vcd_read, femtoseconds_are_rounded)
{
    expect_time("1 fs", "499", 0);
    expect_time("1 fs", "500", 1);
    expect_time("1 fs", "0001499", 1);
    expect_time("1 fs", "4000000000000000000499", HY_VCD_TIME_MAX);
    expect_time("1 fs", "4000000000000000000000", HY_VCD_TIME_MAX);
    expect_time("1 fs", "0000000000000000000000000000000000000000001500", 2);
    expect_time("10 fs", "149", 1);
    expect_time("10 fs", "150", 2);
    expect_time("100 fs", "4", 0);
    expect_time("100 fs", "5", 1);
    expect_time("100 fs", "123456789012344", INT64_C(12345678901234));
    expect_told(HEAD("100 fs") "#14 1! #13",
                "t.a\n1 a 1\nt.vcd:3:8: found \"#13\"; expected at least #14, the time before");
    expect_told(HEAD("1 fs") "#4 1! #3",
                "t.a\n0 a 1\nt.vcd:3:7: found \"#3\"; expected at least #4, the time before");
    expect_told(
        HEAD("1 fs") "#4000000000000000000500",
        "t.a\nt.vcd:3:1: found \"#4000000000000000000500\"; expected a time of at most 4000000 seconds (46 days)");
}

/* ---- buffers ---- */

static void same_in_chunks(const char *path)
{
    char *text = source_text(path);
    char *whole = told_text(text, strlen(text), 0);
    for (size_t chunk = 1; chunk <= 40; chunk++) {
        char *got = told_text(text, strlen(text), chunk);
        cr_expect_str_eq(got, whole, "%s in chunks of %zu", path, chunk);
        free(got);
    }
    free(whole);
    free(text);
}

Test(vcd_read, words_across_buffers)
{
    same_in_chunks("tests/outside/fixtures/vcd/full.vcd");
    same_in_chunks("tests/outside/fixtures/vcd/iv.vcd");
    same_in_chunks("tests/outside/fixtures/vcd/ver.vcd");
    same_in_chunks("tests/bad/vcd/too_wide.vcd");
    same_in_chunks("tests/bad/vcd/value_columns_are_characters.vcd");
    same_in_chunks("tests/bad/vcd/crlf_line_number.vcd");
}

/* Widest vector, longest name and code, and so much text around them that they lie across the reader's own buffers. */
Test(vcd_read, long_words)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    static char code[5001];
    static char name[120001];
    memset(code, '~', sizeof code - 1);
    memset(name, 'n', sizeof name - 1);
    fprintf(out, "$timescale 1 ps $end $var wire %d %s %s $end $var wire 1 ~~ m $end $enddefinitions $end #1\n",
            HY_VCD_WIDTH_MAX, code, name);
    for (int round = 0; round < 7; round++) {
        fprintf(out, "b1%0*d %s\n$comment %0*d $end 1~~\n", HY_VCD_WIDTH_MAX - 1, round % 2 * 11, code, 30000 + round,
                0);
    }
    fclose(out);
    char *whole = told_text(text, size, 0);
    char *parts = told_text(text, size, 4093);
    cr_expect_str_eq(whole, parts);
    cr_expect_gt(strlen(whole), (size_t)7 * HY_VCD_WIDTH_MAX);
    cr_expect_not_null(strstr(whole, "00011\n"));
    cr_expect_not_null(strstr(whole, "end 1\n"));
    free(parts);
    free(whole);
    free(text);
}

static void expect_run(const char *before, char letter, int count, const char *after, const char *expected)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    fputs(before, out);
    for (int i = 0; i < count; i++) {
        fputc(letter, out);
    }
    fputs(after, out);
    fclose(out);
    char *got = told_text(text, size, 0);
    cr_expect_str_eq(got, expected);
    free(got);
    free(text);
}

Test(vcd_read, words_beyond_the_limit)
{
    expect_run("$comment\n ", 'x', 300000, " $end",
               "t.vcd:2:2: found a word of more than 131072 bytes; expected shorter ones");
    expect_run(HEAD("1 ns") "#0 b", '1', HY_VCD_WIDTH_MAX, " !",
               "t.a\nt.vcd:3:4: found 65536 digits for t.a; expected at most 1, its width");
    expect_run(HEAD("1 ns") "#0 b", '1', HY_VCD_WIDTH_MAX + 1, " !",
               "t.a\nt.vcd:3:4: found more than 65536 digits for t.a; expected at most 1, its width");
    expect_run(HEAD("1 ns") "#0 b", '1', HY_VCD_WIDTH_MAX + 2, " !",
               "t.a\nt.vcd:3:4: found more than 65536 digits for t.a; expected at most 1, its width");
}

/* ---- names ---- */

Test(vcd_read, every_code_finds_its_variable)
{
    enum { COUNT = 20000 };
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    fputs("$timescale 1 ps $end\n", out);
    for (int pass = 0; pass < 2; pass++) {
        for (unsigned i = 0; i < COUNT; i++) {
            char code[8];
            size_t n = 0;
            for (unsigned left = i + 1; left > 0;
                 left = (left - 1) / 94) { /* all of one character, of two, of three */
                code[n++] = (char)('!' + (left - 1) % 94);
            }
            code[n] = '\0';
            fprintf(out, pass == 0 ? "$var wire 1 %s v%u $end\n" : "1%s $comment %u $end\n", code, i);
        }
        fputs(pass == 0 ? "$enddefinitions $end #1\n" : "", out);
    }
    fclose(out);
    char *got = told_text(text, size, 0);
    const char *at = strstr(got, "\n1 v0 1\n");
    for (unsigned i = 0; i < COUNT; i++) {
        char expected[60];
        int length = snprintf(expected, sizeof expected, "\n1 v%u 1\n1 (%u)", i, i);
        cr_assert(at != NULL && strncmp(at, expected, (size_t)length) == 0, "variable %u", i);
        at += length;
    }
    free(got);
    free(text);
}

static int matches(const hy_vcd_reader *reader, unsigned var, const char *text, int fold)
{
    return hy_vcd_reader_matches(reader, var, text, strlen(text), fold);
}

Test(vcd_read, names_with_and_without_scopes)
{
    const char *text = "$timescale 1 ns $end $scope module top $end $scope module \\a.b $end\n"
                       "$var wire 1 ! \\odd/n $end $var wire 6 \" Data [0:5] $end $upscope $end\n"
                       "$upscope $end $var wire 1 # free $end $enddefinitions $end";
    FILE *in = text_stream(text, strlen(text));
    hy_vcd_reader *r = hy_vcd_reader_open(in, "t.vcd", &diag);
    cr_assert_not_null(r, "%s", diag.text);
    cr_expect_str_eq(hy_vcd_reader_name(r, 0).text, "top.a.b.odd/n");
    cr_expect_str_eq(hy_vcd_reader_name(r, 1).text, "top.a.b.Data[0:5]");
    cr_expect_eq(matches(r, 0, "top.a.b.odd/n", 0), 2);
    cr_expect_eq(matches(r, 0, "top.\\a.b.\\odd/n", 0), 2);
    cr_expect_eq(matches(r, 0, "\\odd/n", 0), 1);
    cr_expect_eq(matches(r, 0, "a.b.odd/n", 0), 1);
    cr_expect_eq(matches(r, 0, "b.odd/n", 0), 0, "half a scope's name");
    cr_expect_eq(matches(r, 0, "x.top.a.b.odd/n", 0), 0);
    cr_expect_eq(matches(r, 0, "n", 0), 0);
    cr_expect_eq(matches(r, 0, "", 0), 0);
    cr_expect_eq(matches(r, 1, "data", 0), 0);
    cr_expect_eq(matches(r, 1, "TOP.A.B.DATA", 1), 2);
    cr_expect_eq(matches(r, 2, "free", 0), 2);
    hy_vcd_var var = hy_vcd_reader_var(r, 1);
    cr_expect(var.msb == 0 && var.lsb == 5 && var.ranged && var.width == 6);
    hy_vcd_reader_close(r);
    fclose(in);
}
