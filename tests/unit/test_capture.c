/* Captures as inputs: what hyoid wrote comes back, what others captured is mapped. */
#include <criterion/criterion.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "capture.h"
#include "host.h"
#include "input.h"
#include "inputs.h"
#include "perform.h"
#include "scratch.h"
#include "vcd.h"

static hy_diag diag;
static hy_capture_note note;

TestSuite(capture, .init = scratch_begin, .fini = scratch_end);

/* ---- there and back ---- */

typedef struct happening {
    int64_t ps;
    int what; /* a latched code, or 64 + the level of request */
} happening;

typedef struct story {
    happening *all;
    size_t count, room;
    hy_vcd *vcd;
    hy_log *log;
} story;

static void add(story *s, int64_t ps, int what)
{
    if (s->count == s->room) {
        s->room = s->room == 0 ? 256 : s->room * 2;
        s->all = realloc(s->all, s->room * sizeof *s->all);
        cr_assert_not_null(s->all);
    }
    s->all[s->count++] = (happening){ps, what};
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    (void)cycle;
    add(user, ps, (int)code);
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    story *s = user;
    (void)cycle;
    add(s, ps, 64 + level);
    hy_vcd_request(s->vcd, ps, level);
}

static void on_input(void *user, const hy_event *event)
{
    story *s = user;
    hy_vcd_input(s->vcd, event, s->log);
}

/* What the chip does, and the pins as a dump. */
static story performed(hy_log *log, int64_t end, const char *pins)
{
    story s = {.log = log, .vcd = hy_vcd_open(pins, HY_VCD_PINS, NULL, &diag)};
    cr_assert_not_null(s.vcd, "%s", diag.text);
    const hy_performance performance = {.log = log,
                                        .part = hyoid_part_default(),
                                        .end_ps = end,
                                        .observer = {.user = &s, .latch = on_latch, .request = on_request},
                                        .input = on_input};
    cr_assert_eq(hy_perform(&performance, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_vcd_finish(s.vcd, end, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_vcd_commit(s.vcd, &diag), 0, "%s", diag.text);
    return s;
}

static hy_input input_of(const char *path)
{
    const hy_host_options host = {.clock_hz = 720e3, .level = 1};
    hy_input input;
    diag.text[0] = '\0';
    cr_assert_eq(hy_input_read_mapped(&input, path, NULL, hyoid_part_default(), &host, &note, &diag), 0, "%s",
                 diag.text);
    return input;
}

/* Through a dump and back, twice; what the chip does is the same to a nanosecond. */
static void expect_back(const char *path, size_t least)
{
    hy_input input = input_of(path);
    int64_t end = (hy_log_end(input.log) / 1000 + 1) * 1000; /* the dump's last time stamp is a whole nanosecond */
    story first = performed(input.log, end, scratch("a.vcd"));
    cr_expect_geq(first.count, least);
    for (int round = 0; round < 2; round++) {
        hy_input back = input_of(scratch(round == 0 ? "a.vcd" : "b.vcd"));
        cr_expect(back.sets_clock);
        story again = performed(back.log, end, scratch(round == 0 ? "b.vcd" : "c.vcd"));
        cr_expect_eq(again.count, first.count);
        for (size_t i = 0; i < first.count && i < again.count; i++) {
            int64_t off = again.all[i].ps - first.all[i].ps;
            cr_assert(again.all[i].what == first.all[i].what && off >= -1000 && off <= 1000,
                      "%s: %d at %" PRId64 ", off by %" PRId64 " ps", path, again.all[i].what, again.all[i].ps, off);
        }
        free(again.all);
        hy_input_free(&back);
    }
    free(first.all);
    hy_input_free(&input);
}

static void expect_score_back(const char *name, size_t least)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/docs/scores/%s.score", source_dir(), name);
    expect_back(path, least);
}

Test(capture, hour_comes_back)
{
    expect_score_back("hour", 41 * 2);
    scratch_same(scratch("a.vcd"), scratch("b.vcd")); /* with a constant clock, to the byte */
}

Test(capture, storm_comes_back)
{
    expect_score_back("storm", 49);
}

Test(capture, mutter_comes_back)
{
    expect_score_back("mutter", 40 * 2);
}

static const char *written(const char *name, const char *text)
{
    const char *path = scratch(name);
    FILE *out = fopen(path, "wb");
    cr_assert_not_null(out);
    fputs(text, out);
    fclose(out);
    return path;
}

/* Round times lie on clock edges of 720 kHz: in time for them, which only request can show. */
Test(capture, strobes_on_clock_edges_come_back)
{
    expect_back(written("edges.csv",
                        "time_s,signal,value\n0.1,phoneme,3\n0.2,phoneme,2\n0.4,phoneme,27\n0.42,phoneme,1\n"
                        "0.6,phoneme,24\n0.9,end,0\n"),
                5 + 4);
}

Test(capture, glides_cut_and_jumps_come_back)
{
    expect_back(written("cut.score",
                        "aa/250 glide 1M over 2s aa/250 clock 500k ow ow answer 40us ow hold 80ms "
                        "glide 0 over 30ms ow ow clock 1.1M glide 600k over 5ms glide 700k over 600ms exp aa aa "
                        "rest 1ms hold off ow ow"),
                20);
}

/* ---- what becomes of a dump ---- */

#define VARS_IN(UNIT)                                                                                                \
    "$timescale " UNIT " $end $scope module t $end $var wire 6 P p [5:0] $end $var wire 1 0 i0 $end "                \
    "$var wire 1 1 i1 $end\n$var wire 1 S Strobe $end $var wire 1 C clk $end $var real 64 H clock_hz $end $upscope " \
    "$end "                                                                                                          \
    "$enddefinitions $end\n"
#define VARS VARS_IN("1 us")
#define QUIET_VARS                                                                                                   \
    "$timescale 1 us $end $scope module t $end $var wire 6 P p [5:0] $end $var wire 1 S strobe $end $upscope $end "  \
    "$enddefinitions $end\n"

/* As CSV without its header; or the message. The caller frees it. */
static char *log_of(const char *text, const char *map)
{
    FILE *in = text_stream(text, strlen(text));
    diag.text[0] = '\0';
    hy_log *log = hy_capture_read(in, "t.vcd", map, hyoid_part_default(), &note, &diag);
    fclose(in);
    cr_assert_eq(log == NULL, diag.text[0] != '\0');
    if (log == NULL) {
        return strdup(diag.text);
    }
    char *csv = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&csv, &size);
    cr_assert_eq(hy_log_write_csv(log, out, &diag), 0);
    fclose(out);
    hy_log_free(log);
    char *body = strdup(strchr(csv, '\n') + 1);
    free(csv);
    return body;
}

static void expect_log(const char *text, const char *map, const char *expected)
{
    char *got = log_of(text, map);
    cr_expect_str_eq(got, expected);
    free(got);
}

Test(capture, pins_and_marks)
{
    expect_log(
        VARS "$dumpvars b000011 P 01 00 0S $end #1000 r7.2e5 H #1010 $comment mark a b $end 1S b100001 P\n"
             "#1012 1S 0S 11 #1012 #1015 b100001 P 1S\n#1030",
        NULL,
        "0.000000000000,clock_hz,720000\n0.000000000000,inflection,0\n0.000000000000,p0,1\n"
        "0.000000000000,p1,1\n"
        "0.000010000000,mark,\"a b\"\n0.000010000000,p1,0\n0.000010000000,p5,1\n0.000010000000,strobe,1\n"
        "0.000012000000,inflection,2\n0.000012000000,strobe,0\n0.000015000000,strobe,1\n0.000030000000,end,0\n");
    cr_expect_str_eq(note.text, "note: t.vcd: p = t.p[5:0], i0 = t.i0, i1 = t.i1, strobe = t.Strobe, clock_hz = "
                                "t.clock_hz (guessed by name; --map says otherwise)\n");
}

Test(capture, unknown_levels)
{
    expect_log(VARS "#0 bx P x0 z1 xS #1 1S #2 xS #3 1S #4 0S b1z1111 P 10 11 #5 1S x0 #6 $dumpoff xS bx P $end\n"
                    "#7 $dumpon 1S b111111 P $end #8 0S",
               NULL,
               "0.000000000000,inflection,0\n0.000001000000,strobe,1\n0.000004000000,inflection,3\n"
               "0.000004000000,p0,1\n0.000004000000,p1,1\n0.000004000000,p2,1\n0.000004000000,p3,1\n"
               "0.000004000000,p5,1\n0.000004000000,strobe,0\n0.000005000000,strobe,1\n"
               "0.000006000000,p0,0\n0.000006000000,p1,0\n0.000006000000,p2,0\n0.000006000000,p3,0\n"
               "0.000006000000,p5,0\n0.000007000000,p0,1\n0.000007000000,p1,1\n0.000007000000,p2,1\n"
               "0.000007000000,p3,1\n0.000007000000,p4,1\n0.000007000000,p5,1\n0.000008000000,strobe,0\n"
               "0.000008000000,end,0\n");
    cr_expect_not_null(
        strstr(note.text, "note: t.vcd: at 2 of 2 strobes a bit of the code was x or z; it was read as 0\n"));
}

Test(capture, a_strobe_that_is_high_at_the_start_rose_before)
{
    expect_log(QUIET_VARS "#5 1S b1 P #6 0S #7 b0 P", NULL,
               "0.000000000000,p0,1\n0.000001000000,strobe,0\n0.000002000000,p0,0\n0.000002000000,end,0\n");
    cr_expect_str_eq(note.text,
                     "note: t.vcd: p = t.p[5:0], i0 by --level, i1 by --level, strobe = t.strobe, clock by "
                     "--clock (guessed by name; --map says otherwise)\nnote: t.vcd: strobe never rises\n");
}

/* ---- clocks ---- */

Test(capture, stated_clock)
{
    /* constant; a glide from 2 ms that is not said to begin, to 5.5 ms; a jump; a glide that a jump cuts; NaN says nothing */
    expect_log(
        VARS "#0 r500000 H #3000 r501000 H #4000 r502000 H #5000 r503000 H #5500 r503500 H rNaN H\n"
             "#9000 r100000 H #20000 r300000 H #21000 r299000 H #22000 r298000 H #22500 r1000 H #22600 rNaN H #30000",
        NULL,
        "0.000000000000,clock_hz,500000\n0.000000000000,inflection,0\n0.002000000000,clock_hz,500000\n"
        "0.003000000000,clock_to,501000\n0.004000000000,clock_to,502000\n0.005000000000,clock_to,503000\n"
        "0.005500000000,clock_to,503500\n0.009000000000,clock_hz,100000\n0.020000000000,clock_hz,300000\n"
        "0.021000000000,clock_to,299000\n0.022499000000,clock_to,297501\n0.022500000000,clock_hz,1000\n"
        "0.030000000000,end,0\n");
    /* where time stamps are fine enough to be sure, a straight glide is one event */
    expect_log(
        VARS_IN("1 ns") "#0 r5e5 H #2000000 r501000 H #3000000 r502000 H #4000000 r503000 H #5000000 r505000 H\n"
                        "#6000000 r507000 H #7000000 r509000 H",
        NULL,
        "0.000000000000,clock_hz,500000\n0.000000000000,inflection,0\n0.001000000000,clock_hz,500000\n"
        "0.002000000000,clock_to,501000\n0.004000000000,clock_to,503000\n0.007000000000,clock_to,509000\n"
        "0.007000000000,end,0\n");
    /* too few statements for a line are jumps, and so are those too far apart */
    expect_log(VARS "#0 r5e5 H #900 r6e5 H #3000 r501000 H #6000 r502000 H #9000 r503000 H #9001", NULL,
               "0.000000000000,clock_hz,500000\n0.000000000000,inflection,0\n0.000900000000,clock_hz,600000\n"
               "0.003000000000,clock_hz,501000\n0.006000000000,clock_hz,502000\n0.009000000000,clock_hz,503000\n"
               "0.009001000000,end,0\n");
    expect_log(VARS "#0 r0 H r5 H #10 r100000001 H", NULL,
               "t.vcd:3:18: found \"100000001\"; expected a frequency in Hz, 0 to 100000000");
    expect_log(VARS "#0 r-1 H", NULL, "t.vcd:3:4: found \"-1\"; expected a frequency in Hz, 0 to 100000000");
}

/* A clock pin of this many cycles in each stretch, each so many us long. */
static void put_clock(FILE *out, int64_t *us, int cycles, int length)
{
    for (int i = 0; i < cycles; i++, *us += length) {
        fprintf(out, "#%" PRId64 " 1C #%" PRId64 " 0C\n", *us, *us + length / 2);
    }
}

Test(capture, counted_clock)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    int64_t us = 1100;
    fputs(VARS "#1000 0C 0S r1 H\n", out);
    put_clock(out, &us, 4000, 5);  /* 200 kHz for 20 ms, */
    put_clock(out, &us, 2000, 10); /* 100 kHz for 20 ms, */
    us += 30000;                   /* standing, */
    put_clock(out, &us, 3000, 4);  /* 250 kHz for 12 ms */
    fprintf(out, "#%" PRId64, us + 20000);
    fclose(out);
    expect_log(text, "clock=clk",
               "0.000000000000,clock_hz,0\n0.000000000000,inflection,0\n0.000095000000,clock_hz,200000\n"
               "0.005100000000,clock_hz,200000\n0.015100000000,clock_to,200000\n0.025100000000,clock_to,100000\n"
               "0.035095000000,clock_to,100000\n0.040095000000,clock_hz,0\n0.070098000000,clock_hz,250000\n"
               "0.075100000000,clock_hz,250000\n0.082098000000,clock_hz,0\n0.102100000000,end,0\n");
    cr_expect_not_null(
        strstr(note.text, "note: t.vcd: the clock is approximate: the mean over 10 ms, 100..250 kHz\n"));
    free(text);
    expect_log(
        VARS "#0 0C #1 1C #30000 0C #30001 1C", "clock=clk",
        "t.vcd: t.clk, the clock, does not toggle at 100 Hz or more; a clock pin that does, or none and --clock HZ "
        "would be right");
}

/* ---- maps ---- */

#define BOARD                                                                                                        \
    "$timescale 1 us $end $scope module top $end $scope module a $end $var wire 8 B bus [0:7] $end "                 \
    "$var wire 1 W wr $end $upscope $end $scope module b $end $var wire 1 V wr $end $var wire 1 W wr_a $end "        \
    "$var wire 1 0 d [0] $end $var wire 1 1 d [1] $end $var real 1 R hz $end $upscope $end $upscope $end "           \
    "$enddefinitions $end\n"

Test(capture, maps)
{
    expect_log(BOARD "#0 b0 B 0W #1 b10000001 B 1W #2", "p0=bus[0], P1=d[0] ,strobe=a.wr",
               "0.000001000000,p0,1\n0.000001000000,strobe,1\n0.000002000000,end,0\n");
    cr_expect_str_eq(note.text,
                     "note: t.vcd: p0 = top.a.bus[0], p1 = top.b.d[0], p2 low, p3 low, p4 low, p5 low, "
                     "i0 by --level, i1 by --level, strobe = top.a.wr, clock by --clock\nnote: t.vcd: at 1 of 1 "
                     "strobes a bit of the code was x or z; it was read as 0\n");
    expect_log(BOARD "#0 b0 B 0W #1 b00000010 B 1W #2", "p=TOP.A.BUS,strobe=wr_a,i0=d[1]",
               "0.000000000000,i0,0\n0.000001000000,p1,1\n0.000001000000,strobe,1\n0.000002000000,end,0\n");
    cr_expect_str_eq(note.text,
                     "note: t.vcd: p = top.a.bus[2:7], i0 = top.b.d[1], i1 by --level, strobe = top.b.wr_a, "
                     "clock by --clock\n");
}

Test(capture, maps_that_are_refused)
{
    static const char *const wrong[][2] = {
        {"",
         "--map \"\": KEY=NAME would be right, KEY one of p0..p5, p, i0, i1, strobe, request, clock, clock_hz, rate"},
        {"p0=", "--map \"p0=\": KEY=NAME would be right, KEY one of p0..p5, p, i0, i1, strobe, request, clock, "
                "clock_hz, rate"},
        {"p6=wr", "--map \"p6=wr\": KEY=NAME would be right, KEY one of p0..p5, p, i0, i1, strobe, request, clock, "
                  "clock_hz, rate"},
        {"p=bus,strobe=wr_a,rate=", "--map \"rate=\": KEY=NAME would be right, KEY one of p0..p5, p, i0, i1, strobe, "
                                    "request, clock, clock_hz, rate"},
        {"p=bus,strobe=wr_a,rate", "--map \"rate\": KEY=NAME would be right, KEY one of p0..p5, p, i0, i1, strobe, "
                                   "request, clock, clock_hz, rate"},
        {"rate=1M,p=bus,strobe=wr_a,rate=2M", "--map \"rate=2M\": rate stands there twice; one of the two must go"},
        {"p=bus,p3=wr_a", "--map \"p3=wr_a\": p3 is mapped twice; one of the two must go"},
        {"p=bus,strobe=wr",
         "t.vcd: strobe could be top.a.wr or top.b.wr; a name with its scopes would be right: --map "
         "strobe=NAME"},
        {"p0=d", "t.vcd: p0 could be top.b.d[0] or top.b.d[1]; a name with its scopes would be right: --map p0=NAME"},
        {"p=d[1]",
         "t.vcd: top.b.d[1] is no vector of six bits or more, as --map p=NAME needs; p0=NAME,p1=... would do"},
        {"p=bus,strobe=bus", "t.vcd: top.a.bus[0:7] has 8 bits; --map strobe=bus[7] or another bit would be right"},
        {"strobe=bus[8]",
         "--map \"strobe=bus[8]\": t.vcd has no such signal; it has top.a.bus[0:7], top.a.wr, top.b.wr, "
         "top.b.wr_a, top.b.d[0], top.b.d[1], ... (7 in all)"},
        {"strobe=wr_b", "--map \"strobe=wr_b\": t.vcd has no such signal; nearest: wr_a"},
        {"strobe=hz", "t.vcd: top.b.hz is no signal of bits; strobe needs one"},
        {"clock_hz=a.wr",
         "t.vcd: top.a.wr is no real; clock_hz is a frequency in Hz as a real, clock a pin that toggles"},
        {"p=bus,strobe=wr_a,clock=b.wr,clock_hz=hz",
         "--map has both clock and clock_hz; one of the two would be right"},
        {"p=bus", "t.vcd: no signal is called strobe; --map strobe=NAME says which one it is (it has top.a.bus[0:7], "
                  "top.a.wr, top.b.wr, top.b.wr_a, top.b.d[0], top.b.d[1], ... (7 in all))"},
        {"strobe=wr_a", "t.vcd: no signal is called p0; --map p0=NAME says which one it is (it has top.a.bus[0:7], "
                        "top.a.wr, top.b.wr, top.b.wr_a, top.b.d[0], top.b.d[1], ... (7 in all))"},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        expect_log(BOARD "#0", wrong[i][0], wrong[i][1]);
    }
    expect_log("$timescale 1 us $end $var wire 1 A strobe $end $var wire 1 B strobe $end $var wire 6 P p $end "
               "$enddefinitions $end #0",
               NULL, "t.vcd: two signals are called strobe; another name for one of them would be right");
    expect_log("$timescale 1 us $end $enddefinitions $end", NULL,
               "t.vcd: no signal is called p0; --map p0=NAME says which one it is (it has none)");
    expect_log("$timescale 1 us $end $enddefinitions $end #1 1!", "p0=a",
               "--map \"p0=a\": t.vcd has no such signal; it has none");
}

Test(capture, errors_of_the_dump_come_through)
{
    expect_log(QUIET_VARS "#0 0S\n 1Q", NULL,
               "t.vcd:3:3: found \"Q\", which no $var declares; expected a declared code");
}

/* ---- as an input ---- */

Test(capture, by_extension_or_by_its_first_line)
{
    const hy_host_options host = {.clock_hz = 500e3, .level = 2};
    const hyoid_part *part = hyoid_part_default();
    hy_input input;
    hy_event e;
    const char *text = " \r\n" QUIET_VARS "#0 0S b0 P #1 1S #100";
    for (int i = 0; i < 2; i++) {
        const char *path = written(i == 0 ? "board.VCD" : "board", text);
        cr_assert_eq(hy_input_read(&input, path, part, &host, &diag), 0, "%s", diag.text);
        cr_expect(!input.sets_clock && !input.from_score);
        cr_expect_eq(hy_log_end(input.log), INT64_C(100000000));
        hy_log_rewind(input.log, &diag);
        cr_expect(hy_log_next(input.log, &e, &diag) == 1 && e.signal == HY_CLOCK && e.hz == 500e3);
        cr_expect(hy_log_next(input.log, &e, &diag) == 1 && e.signal == HY_INFLECTION && e.number == 2);
        hy_input_free(&input);
    }
    cr_expect_eq(hy_input_read_mapped(&input, written("a.score", "hh"), "p=x", part, &host, &note, &diag), -1);
    cr_expect_not_null(strstr(diag.text, "a.score is none"));
    diag.text[0] = '\0';
    cr_expect_eq(hy_input_read(&input, written("a.sr", "PK"), part, &host, &diag), -1);
    cr_expect_not_null(strstr(diag.text, "a.sr: no whole ZIP archive, as a session is"));
    cr_expect_not_null(strstr(diag.text, "at byte 2: cut off?"));
}

Test(capture, the_manual_s_example)
{
    char *manual = source_text("docs/formats.md");
    char *start = strstr(manual, "\n```vcd\n");
    cr_assert_not_null(start);
    start += strlen("\n```vcd\n");
    *strstr(start, "\n```") = '\0';
    expect_log(start, NULL,
               "0.000000000000,clock_hz,720000\n0.000000000000,inflection,1\n0.000100000000,p0,1\n"
               "0.000100000000,p1,1\n0.000100000000,p3,1\n0.000100000000,p4,1\n0.000102000000,strobe,1\n"
               "0.000112000000,strobe,0\n0.071500000000,p0,0\n0.071500000000,p3,0\n0.071500000000,p4,0\n"
               "0.071500000000,strobe,1\n0.400000000000,end,0\n");
    free(manual);
}
