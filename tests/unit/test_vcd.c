/* The dump of pins, compared line by line. tests/outside/vcd_roundtrip.py shows that other programs read the same. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "log.h"
#include "scratch.h"
#include "vcd.h"

#define US INT64_C(1000000)
#define MS (1000 * US)

static hy_diag diag;
static hy_log *marks; /* gives marks their names */
static hy_vcd *vcd;

static void begin(void)
{
    scratch_begin();
    marks = hy_log_new(&diag);
    cr_assert_not_null(marks, "%s", diag.text);
    vcd = hy_vcd_open(scratch("a.vcd"), HY_VCD_ALL, NULL, &diag);
    cr_assert_not_null(vcd, "%s", diag.text);
}

static void end(void)
{
    hy_vcd_abandon(vcd);
    hy_log_free(marks);
    scratch_end();
}

TestSuite(vcd, .init = begin, .fini = end);

static void input(int64_t ps, int signal, int number)
{
    hy_event event = {.ps = ps, .signal = signal, .number = number};
    hy_vcd_input(vcd, &event, marks);
}

static void pin(int64_t ps, hy_pin which, int level)
{
    input(ps, HY_PIN, (int)which * 2 + level);
}

static void set_clock(int64_t ps, double hz, int64_t to_ps, double to_hz)
{
    hy_event event = {.ps = ps, .signal = HY_CLOCK, .hz = hz, .to_ps = to_ps, .to_hz = to_hz};
    hy_vcd_input(vcd, &event, marks);
}

/* Everything behind the header. */
static char *finish(int64_t end_ps)
{
    cr_assert_eq(hy_vcd_finish(vcd, end_ps, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_vcd_commit(vcd, &diag), 0, "%s", diag.text);
    vcd = NULL;
    char *all = scratch_read(scratch("a.vcd"), NULL);
    static const char last[] = "$enddefinitions $end\n";
    char *body = strstr(all, last);
    cr_assert_not_null(body);
    memmove(all, body + strlen(last), strlen(body + strlen(last)) + 1);
    return all;
}

#define START "#0\n$dumpvars\nb000000 P\n0A\n0B\n0C\n0D\n0E\n0F\n0I\n0J\n0S\n1R\n"
#define POWER_UP START "r0 H\nr0 L\n$end\n"

static void expect(int64_t end_ps, const char *body)
{
    char *found = finish(end_ps);
    cr_assert_str_eq(found, body);
    free(found);
}

Test(vcd, header)
{
    free(finish(0));
    char *all = scratch_read(scratch("a.vcd"), NULL);
    cr_assert_not_null(strstr(all, "$timescale 1 ns $end\n$scope module board $end\n$var wire 6 P p [5:0] $end\n"));
    cr_assert_not_null(strstr(all, "$var wire 1 C p2 $end\n"));
    cr_assert_not_null(strstr(all, "$var real 64 H clock_hz $end\n$var real 64 L audio $end\n$upscope $end\n"));
    cr_assert_null(strstr(all, "$date"), "two runs would differ");
    /* no code twice */
    int seen[128] = {0};
    for (const char *var = strstr(all, "$var"); var != NULL; var = strstr(var + 1, "$var")) {
        char code;
        cr_assert_eq(sscanf(var, "$var %*s %*d %c ", &code), 1);
        cr_assert_eq(seen[(int)code]++, 0);
    }
    free(all);
}

Test(vcd, nothing_but_the_power_up_state)
{
    expect(1234567, POWER_UP "#1235\n");
}

Test(vcd, what_stands_at_zero_is_in_the_dump)
{
    set_clock(0, 720e3, 0, 0);
    input(0, HY_INFLECTION, 2);
    pin(0, HY_P1, 1);
    hy_vcd_level(vcd, 0, 0.5, 0.1);
    expect(0, "#0\n$dumpvars\nb000010 P\n0A\n1B\n0C\n0D\n0E\n0F\n0I\n1J\n0S\n1R\nr720000 H\nr0.10000000000000001 "
              "L\n$end\n");
}

Test(vcd, an_implied_strobe_lasts_10_us)
{
    input(100 * US, HY_PHONEME, 0x2a);
    hy_vcd_request(vcd, 105 * US, 0);
    hy_vcd_level(vcd, 112 * US, 0.9, 0.25);
    expect(200 * US,
           POWER_UP "#100000\nb101010 P\n1B\n1D\n1F\n1S\n#105000\n0R\n#110000\n0S\n#112000\nr0.25 L\n#200000\n");
}

Test(vcd, or_half_the_gap_to_the_next_one)
{
    input(100 * US, HY_PHONEME, 1);
    input(104 * US, HY_PHONEME, 1);
    hy_vcd_level(vcd, 113 * US, 0, 0.5);
    input(124 * US, HY_PHONEME, 3);
    expect(124 * US, POWER_UP "#100000\nb000001 P\n1A\n1S\n#102000\n0S\n#104000\n1S\n#113000\nr0.5 L\n#114000\n0S\n"
                              "#124000\nb000011 P\n1B\n1S\n#134000\n0S\n");
}

Test(vcd, an_edge_at_power_up_is_still_an_edge)
{
    input(0, HY_PHONEME, 1);
    expect(50 * US, POWER_UP "#1\nb000001 P\n1A\n1S\n#10000\n0S\n#50000\n");
}

Test(vcd, writes_at_one_instant_are_separate_pulses)
{
    input(US, HY_PHONEME, 1);
    input(US, HY_PHONEME, 2);
    expect(20 * US,
           POWER_UP "#1000\nb000001 P\n1A\n1S\n#1001\n0S\n#1002\nb000010 P\n0A\n1B\n1S\n#11000\n0S\n#20000\n");
}

Test(vcd, a_thousand_of_them_are_merged_and_it_is_said)
{
    for (int i = 0; i < 100000; i++) {
        input(US, HY_PHONEME, i % 64);
    }
    char *found = finish(100 * US);
    cr_assert_not_null(strstr(found, "$comment pulses merged here: too many within a nanosecond $end\n"));
    cr_assert_not_null(strstr(found, "#2000\n"));
    const char *last = strrchr(found, 'b'); /* the last code written is the last in the file */
    cr_assert_eq(strncmp(last, "b011111 P", 9), 0);
    cr_assert_lt(strlen(found), 100000);
    free(found);
}

Test(vcd, raw_pins_move_vector_and_bits)
{
    pin(1000, HY_P0, 1);
    pin(1000, HY_P5, 1);
    pin(2000, HY_STROBE, 1);
    pin(3000, HY_I1, 1);
    pin(5000, HY_STROBE, 0);
    pin(6000, HY_P0, 0);
    expect(7000, POWER_UP "#1\nb100001 P\n1A\n1F\n#2\n1S\n#3\n1J\n#5\n0S\n#6\nb100000 P\n0A\n#7\n");
}

Test(vcd, raw_strobe_cuts_an_implied_one)
{
    input(100 * US, HY_PHONEME, 1);
    pin(103 * US, HY_STROBE, 0);
    input(200 * US, HY_PHONEME, 1);
    pin(208 * US, HY_STROBE, 1);
    input(300 * US, HY_PHONEME, 1); /* the host lets go of the pin first */
    expect(400 * US, POWER_UP "#100000\nb000001 P\n1A\n1S\n#103000\n0S\n#200000\n1S\n#204000\n0S\n#208000\n1S\n"
                              "#300000\n0S\n#300001\n1S\n#310000\n0S\n#400000\n");
}

Test(vcd, times_are_rounded_to_the_nearest_and_the_last_value_stands)
{
    hy_vcd_level(vcd, 1499, 0.99, 1);
    hy_vcd_level(vcd, 1500, 0, 2);
    hy_vcd_level(vcd, 2499, 0, 3);
    expect(2600, POWER_UP "#1\nr1 L\n#2\nr3 L\n#3\n");
}

Test(vcd, a_short_request_pulse_does_not_vanish)
{
    hy_vcd_request(vcd, 10000, 0);
    hy_vcd_request(vcd, 10100, 1);
    hy_vcd_request(vcd, 10200, 0);
    expect(20000, POWER_UP "#10\n0R\n#11\n1R\n#12\n0R\n#20\n");
}

Test(vcd, a_glide_is_restated_every_millisecond)
{
    set_clock(0, 100, 2500 * MS / 100, 350);
    char *found = finish(30 * MS);
    cr_assert_not_null(strstr(found, "r100 H\n"));
    cr_assert_not_null(strstr(found, "#1000000\nr110 H\n#2000000\nr120 H\n"));
    cr_assert_not_null(strstr(found, "#24000000\nr340 H\n#25000000\nr350 H\n#30000000\n"));
    free(found);
}

Test(vcd, a_glide_ends_with_the_next_clock_event)
{
    set_clock(0, 100, 10 * MS, 1100);
    set_clock(2 * MS + 500 * US, 50, 0, 0);
    expect(10 * MS,
           START "r100 H\nr0 L\n$end\n#625000\nr162.5 H\n#1250000\nr225 H\n#1875000\nr287.5 H\n#2500000\nr50 H\n"
                 "#10000000\n");
}

Test(vcd, marks_are_comments_unless_they_would_end_one)
{
    input(0, HY_MARK, hy_log_add_mark(marks, "start", &diag));
    input(5000, HY_MARK, hy_log_add_mark(marks, "a $end b", &diag));
    hy_vcd_request(vcd, 5000, 0);
    expect(6000, POWER_UP "$comment mark start $end\n#5\n0R\n$comment mark ? $end\n#6\n");
}

Test(vcd, audio_may_be_left_out)
{
    hy_vcd_abandon(vcd);
    vcd = hy_vcd_open(scratch("a.vcd"), HY_VCD_PINS, NULL, &diag);
    hy_vcd_level(vcd, 1000, 0, 1);
    expect(2000, START "r0 H\n$end\n#2\n");
}

Test(vcd, for_a_logic_analyser_it_holds_single_bits_alone)
{
    hy_vcd_abandon(vcd);
    vcd = hy_vcd_open(scratch("a.vcd"), HY_VCD_LOGIC, NULL, &diag);
    set_clock(0, 720e3, 0, 0);
    input(1000, HY_MARK, hy_log_add_mark(marks, "start", &diag));
    input(2000, HY_PHONEME, 3);
    hy_vcd_level(vcd, 3000, 0, 1);
    set_clock(4000, 700e3, 0, 0);
    expect(20 * US,
           "#0\n$dumpvars\n0A\n0B\n0C\n0D\n0E\n0F\n0I\n0J\n0S\n1R\n$end\n#2\n1A\n1B\n1S\n#10002\n0S\n#20000\n");
}

Test(vcd, a_full_disk_is_told_and_nothing_is_left)
{
    hy_vcd *full = hy_vcd_open("/dev/full", HY_VCD_ALL, NULL, &diag);
    cr_assert_eq(hy_vcd_finish(full, 1000, &diag), 0);
    cr_assert_eq(hy_vcd_commit(full, &diag), -1);
    cr_assert_str_eq(diag.text, "cannot write /dev/full: the disk is full");
    hy_vcd_abandon(vcd);
    vcd = NULL;
    cr_assert_eq(scratch_count(), 0);
}
