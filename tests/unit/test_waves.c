/* Captures of logic analysers: tables in both forms, sessions; what is bad is refused with its place. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "inputs.h"
#include "waves/table.h"
#include "waves/waves.h"

static hy_diag diag;

typedef struct told {
    char text[2000];
} told;

static int on_change(void *user, const hy_vcd_change *change)
{
    told *t = user;
    size_t used = strlen(t->text);
    snprintf(t->text + used, sizeof t->text - used, "%u=%c@%lld ", change->signal, change->digits[0],
             (long long)change->ps);
    return 0;
}

/* Everything that is told, then the last time; or the message. */
static const char *changes_of(FILE *in, const char *name, double rate)
{
    static told t;
    t = (told){{0}};
    diag.text[0] = '\0';
    hy_waves *waves = hy_waves_open(in, name, rate, &diag);
    if (waves != NULL) {
        for (unsigned i = 0; i < hy_waves_vars(waves); i++) {
            hy_waves_select(waves, i);
        }
        const hy_vcd_listener listener = {.user = &t, .change = on_change};
        if (hy_waves_run(waves, &listener, &diag) == 0) {
            size_t used = strlen(t.text);
            snprintf(t.text + used, sizeof t.text - used, "end@%lld", (long long)hy_waves_last(waves));
        }
    }
    hy_waves_close(waves);
    return diag.text[0] != '\0' ? diag.text : t.text;
}

static void expect(const char *text, double rate, const char *expected)
{
    FILE *in = text_stream(text, strlen(text));
    cr_expect_str_eq(changes_of(in, "t.csv", rate), expected);
    fclose(in);
}

#define STORY "0=0@0 1=1@0 0=1@2000000 1=0@5000000 end@7000000"

Test(waves, a_row_a_change)
{
    expect("Time [s],strobe,request\n0,0,1\n0.000002,1,1\n0.000005,1,0\n0.000007,1,0\n", 0.0, STORY);
    expect("\xef\xbb\xbfTime [us];strobe;request\r\n0;0;1\r\n2;1;1\r\n5;1;0\r\n7.000;1;0\r\n", 0.0, STORY);
    expect("# a comment\ntime_ms\ta\tb\n1e3\t0\t1\n1000.002\t1\t1\n# one more\n1000.005\t1\t0\n1000.007\t1\t0", 0.0,
           STORY);
    expect("\"Time (ns)\",\"a\",\"b\"\n\"-4000\",\"0\",\"1\"\n-2000,1,1\n1000,1,0\n3.0e3,1,0\n", 0.0, STORY);
    expect("Timestamp,a\n0.0000000000004,0\n0.0000000000016,X\n5e-12,z\n", 0.0, "0=0@0 0=x@2 0=z@5 end@5");
}

Test(waves, a_row_a_sample)
{
    expect("; Samplerate: 1 MHz\nstrobe,request\n0,1\n0,1\n1,1\n1,1\n1,1\n1,0\n1,0\n1,0\n", 0.0, STORY);
    expect("0,1\n0,1\n1,1\n1,1\n1,1\n1,0\n1,0\n1,0\n", 1e6, STORY);
}

Test(waves, samples_are_counted_as_sigrok_does)
{
    expect("; Samplerate: 1 MHz\nTime,a,b\n1,0,1\n3,1,1\n6,1,0\n8,1,0\n", 0.0, STORY);
    expect("; Samplerate: 24 MHz\nTime,a\n41,0\n984,1\n", 0.0, "0=0@0 0=1@958333 end@958333"); /* 23 samples */
}

/* How finely times are written is what can be known of them if nothing else is. */
Test(waves, a_tables_step)
{
    static const struct {
        const char *text;
        long long step;
    } cases[] = {{"Time [s],a\n0,0\n0.000002,1\n", 1000000},
                 {"Time [ms],a\n0,0\n0.25,1\n", 10000000},
                 {"Time [s],a\n0.0000000,0\n0.000000001,1\n0.5,0\n", 1000},
                 {"Time [s],a\n0,0\n2.5e-7,1\n", 1},
                 {"; Samplerate: 4 MHz\na\n0\n1\n", 250000}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        FILE *in = text_stream(cases[i].text, strlen(cases[i].text));
        diag.text[0] = '\0';
        hy_waves *waves = hy_waves_open(in, "t.csv", 0.0, &diag);
        cr_assert_not_null(waves, "%s", diag.text);
        const hy_vcd_listener listener = {0};
        cr_expect_eq(hy_waves_run(waves, &listener, &diag), 0, "%s", diag.text);
        cr_expect_eq((long long)hy_waves_step(waves), cases[i].step, "%s", cases[i].text);
        hy_waves_close(waves);
        fclose(in);
    }
}

Test(waves, channels_are_named)
{
    static const struct {
        const char *text, *names[2];
    } cases[] = {
        {"Time [s],Channel 0,Channel 1\n0,0,0\n", {"Channel 0", "Channel 1"}},
        {"; Channels (2/2): stb, req\n; Samplerate: 1 MHz\nlogic,logic\n0,0\n", {"stb", "req"}},
        {"; Channels (2/2): stb, req\n; Samplerate: 1 MHz\nmine,yours\n0,0\n", {"mine", "yours"}},
        {"0,0\n0,1\n", {"D0", "D1"}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        FILE *in = text_stream(cases[i].text, strlen(cases[i].text));
        diag.text[0] = '\0';
        hy_waves *waves = hy_waves_open(in, "t.csv", 1e6, &diag);
        cr_assert_not_null(waves, "%s", diag.text);
        cr_expect_eq(hy_waves_is(waves), HY_WAVES_TABLE);
        cr_assert_eq(hy_waves_vars(waves), 2);
        for (unsigned k = 0; k < 2; k++) {
            cr_expect_str_eq(hy_waves_name(waves, k).text, cases[i].names[k]);
        }
        hy_waves_close(waves);
        fclose(in);
    }
}

/* A log of ours and a score are no captures. */
Test(waves, what_is_no_capture)
{
    static const char *const texts[] = {"time_s,signal,value\n0,phoneme,3\n", "hh eh l ow\n",
                                        "# a score\nclock 720k\naa\n", "", "0x1b\n"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        FILE *in = text_stream(texts[i], strlen(texts[i]));
        cr_expect_eq(hy_waves_look(in), HY_WAVES_NONE, "%s", texts[i]);
        fclose(in);
    }
}

Test(waves, rates_are_read)
{
    static const struct {
        const char *text;
        double rate;
    } cases[] = {{"1 MHz", 1e6},     {"12.5MHz", 12.5e6}, {"500 kHz", 500e3},   {"24000000", 24e6},
                 {"2.4e7 Hz", 24e6}, {"1 GHz", 1e9},      {"200 kSa/s", 200e3}, {"0 Hz", -1.0},
                 {"fast", -1.0},     {"1 MV", -1.0},      {"1000 GHz", -1.0},   {"", -1.0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double rate = 0.0;
        int result = hy_rate_read(cases[i].text, strlen(cases[i].text), &rate);
        cr_expect_eq(result, cases[i].rate < 0.0 ? -1 : 0, "%s", cases[i].text);
        cr_expect(result != 0 || rate == cases[i].rate, "%s: %g", cases[i].text, rate);
    }
}

static void read_table(FILE *in, const char *name, char *message, size_t size)
{
    hy_diag refused = {{0}};
    void *table = hy_table_open(in, name, 0.0, &refused);
    if (table != NULL) {
        const hy_vcd_listener listener = {0};
        hy_table_run(table, &listener, &refused);
        hy_table_close(table);
    }
    snprintf(message, size, "%s", refused.text);
}

Test(waves, bad_tables_are_refused)
{
    check_bad_inputs("tables", ".csv", 20, read_table);
}
