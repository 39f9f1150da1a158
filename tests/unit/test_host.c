#include <criterion/criterion.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "host.h"
#include "inputs.h"
#include "perform.h"

#define MS INT64_C(1000000000)
#define MARGIN 2 /* ps from the edge of request to the strobe: the first whole one after it, and one more */

static hy_diag diag;

static hy_log *play_at(const char *text, double clock_hz)
{
    const hy_host_options options = {.clock_hz = clock_hz, .level = 1};
    FILE *in = text_stream(text, strlen(text));
    diag.text[0] = '\0';
    hy_score *score = hy_score_read(in, "t.score", &diag);
    fclose(in);
    cr_assert_not_null(score, "%s", diag.text);
    hy_log *log = hy_host_play(score, hyoid_part_default(), &options, &diag);
    hy_score_free(score);
    return log;
}

static hy_log *play(const char *text)
{
    hy_log *log = play_at(text, 720e3);
    cr_assert_not_null(log, "%s", diag.text);
    return log;
}

/* The n-th event of a kind, from 0; its time is -1 if there is none. */
static hy_event nth(hy_log *log, hy_signal signal, int n)
{
    hy_event e;
    cr_assert_eq(hy_log_rewind(log, &diag), 0);
    while (hy_log_next(log, &e, &diag) > 0) {
        if (e.signal == (int32_t)signal && n-- == 0) {
            return e;
        }
    }
    return (hy_event){.ps = -1};
}

static int64_t strobe(hy_log *log, int n)
{
    return nth(log, HY_PHONEME, n).ps;
}

/* Filter cycles of a phoneme at 720 kHz, in ps. */
static int64_t lasts(unsigned code)
{
    return INT64_C(50000000) * hyoid_part_default()->phoneme[code].duration;
}

/* The chip's tick runs free, so a phoneme's first cycle may be short: onsets are apart by its whole time once the strobe follows
 * request. */
static void expect_near(int64_t ps, int64_t expected, int64_t tolerance, const char *what)
{
    cr_expect(ps >= expected - tolerance && ps <= expected + tolerance, "%s: %" PRId64 " ps, not %" PRId64, what, ps,
              expected);
}

Test(host, starts_with_clock_and_level)
{
    hy_log *log = play("hh");
    hy_event e;
    cr_assert_eq(hy_log_next(log, &e, &diag), 1);
    cr_expect(e.signal == HY_CLOCK && e.ps == 0 && e.hz == 720e3);
    cr_assert_eq(hy_log_next(log, &e, &diag), 1);
    cr_expect(e.signal == HY_INFLECTION && e.ps == 0 && e.number == 1);
    cr_assert_eq(hy_log_next(log, &e, &diag), 1);
    cr_expect(e.signal == HY_PHONEME && e.ps == 0 && e.number == 0x1b);
    cr_assert_eq(hy_log_next(log, &e, &diag), 1);
    cr_expect_eq(e.signal, HY_END);
    expect_near(e.ps, lasts(0x1b), 50000000, "the last phoneme lasts its full time");
    cr_expect_eq(hy_log_next(log, &e, &diag), 0);
    hy_log_free(log);
}

Test(host, waits_for_request)
{
    hy_log *log = play("hh eh/121 l ow");
    expect_near(strobe(log, 1), lasts(0x1b) + MARGIN, 0, "eh");
    expect_near(strobe(log, 2), lasts(0x1b) + lasts(2) + MARGIN, 0, "l");
    expect_near(strobe(log, 3), lasts(0x1b) + lasts(2) + lasts(0x18) + MARGIN, 0, "ow");
    hy_log_free(log);
}

Test(host, answer_delays_and_rest_adds)
{
    hy_log *log = play("answer 40us hh eh/121 rest 200ms l");
    cr_expect_eq(strobe(log, 1), lasts(0x1b) + MARGIN + 40000000);
    expect_near(strobe(log, 2), lasts(0x1b) + lasts(2) + 80000000 + 200 * MS, 50000000, "after the rest");
    hy_log_free(log);
    log = play("rest 5ms hh rest 1s");
    cr_expect_eq(strobe(log, 0), 5 * MS);
    expect_near(hy_log_end(log), 5 * MS + lasts(0x1b) + 1000 * MS, 50000000, "a rest at the end passes");
    hy_log_free(log);
}

Test(host, hold_cuts_all_but_the_last)
{
    hy_log *log = play("hold 80ms aa ow aa");
    cr_expect_eq(strobe(log, 1), 80 * MS);
    cr_expect_eq(strobe(log, 2), 160 * MS);
    expect_near(hy_log_end(log), 160 * MS + lasts(0x24), 50000000, "end");
    hy_log_free(log);
    log = play("hold 80ms aa/71 aa answer 20ms aa/71 hold off aa aa");
    cr_expect_eq(strobe(log, 1), lasts(8) + MARGIN, "request comes before the hold is over");
    cr_expect_eq(strobe(log, 2), strobe(log, 1) + 80 * MS);
    cr_expect_eq(strobe(log, 3), strobe(log, 2) + 80 * MS, "the answer would be too late");
    expect_near(strobe(log, 4), strobe(log, 3) + lasts(0x24) + 20 * MS, 50000000, "no hold any more");
    hy_log_free(log);
}

Test(host, a_cut_last_phoneme_is_heard_out)
{
    hy_log *log = play("hold 20ms aa rest 100ms");
    expect_near(hy_log_end(log), lasts(0x24), 50000000, "its full time");
    hy_log_free(log);
    log = play("hold 20ms aa rest 300ms");
    cr_expect_eq(hy_log_end(log), 320 * MS);
    hy_log_free(log);
}

Test(host, statements_act_at_the_next_strobe)
{
    hy_log *log = play("hh level 3 mark here clock 360k eh/121 mark last");
    int64_t second = strobe(log, 1);
    cr_expect_eq(nth(log, HY_INFLECTION, 1).ps, second);
    cr_expect_eq(nth(log, HY_INFLECTION, 1).number, 3);
    cr_expect_eq(nth(log, HY_MARK, 0).ps, second);
    cr_expect_str_eq(hy_log_mark_name(log, nth(log, HY_MARK, 0).number), "here");
    cr_expect_eq(nth(log, HY_CLOCK, 1).ps, second);
    cr_expect_eq(nth(log, HY_CLOCK, 1).hz, 360e3);
    expect_near(nth(log, HY_MARK, 1).ps, second + 2 * lasts(2), 100000000, "half the clock, twice the time");
    cr_expect_eq(hy_log_end(log), nth(log, HY_MARK, 1).ps);
    hy_log_free(log);
}

Test(host, a_linear_glide_is_one_piece)
{
    hy_log *log = play("hh glide 360k over 1s eh/121");
    hy_event start = nth(log, HY_CLOCK, 1);
    hy_event end = nth(log, HY_CLOCK, 2);
    cr_expect_eq(start.ps, strobe(log, 1));
    cr_expect_eq(start.hz, 720e3);
    cr_expect_eq(start.to_ps, start.ps + 1000 * MS);
    cr_expect_eq(start.to_hz, 360e3);
    cr_expect(end.ps == start.to_ps && end.hz == 360e3 && end.to_ps == 0);
    cr_expect_eq(hy_log_end(log), end.ps, "it arrives before the log ends");
    cr_expect_eq(nth(log, HY_CLOCK, 3).ps, -1);
    hy_log_free(log);
}

Test(host, an_exponential_glide_has_64_pieces_an_octave)
{
    hy_log *log = play("glide 180k over 128ms exp hh");
    double before = 720e3;
    for (int i = 1; i <= 128; i++) {
        hy_event e = nth(log, HY_CLOCK, i);
        cr_assert_eq(e.ps, i * MS);
        double ratio = before / e.hz;
        cr_expect(ratio > 1.01088928605169 && ratio < 1.01088928605171, "piece %d: %.17g", i, ratio);
        before = e.hz;
    }
    cr_expect(nth(log, HY_CLOCK, 64).hz > 359999.99999 && nth(log, HY_CLOCK, 64).hz < 360000.00001);
    cr_expect_eq(before, 180e3);
    hy_log_free(log);

    log = play("glide 720.001k over 1s exp hh");
    cr_expect_eq(nth(log, HY_CLOCK, 1).ps, 1000 * MS, "one piece is enough");
    hy_log_free(log);

    log = play("glide 720k over 1s exp hh");
    cr_expect_eq(nth(log, HY_CLOCK, 1).ps, 1000 * MS, "also if nothing moves");
    hy_log_free(log);

    log = play("glide 100M over 0.000003us exp rest 1us");
    cr_expect_eq(nth(log, HY_CLOCK, 3).hz, 100e6, "no piece is shorter than a picosecond");
    cr_expect_eq(nth(log, HY_CLOCK, 4).ps, -1);
    hy_log_free(log);
}

Test(host, a_glide_can_be_interrupted)
{
    hy_log *log = play("glide 360k over 1s rest 500ms clock 1M rest 1s");
    cr_expect_eq(nth(log, HY_CLOCK, 0).to_hz, 540e3);
    cr_expect_eq(nth(log, HY_CLOCK, 0).to_ps, 500 * MS);
    cr_expect(nth(log, HY_CLOCK, 1).ps == 500 * MS && nth(log, HY_CLOCK, 1).hz == 540e3);
    cr_expect(nth(log, HY_CLOCK, 2).ps == 500 * MS && nth(log, HY_CLOCK, 2).hz == 1e6);
    cr_expect_eq(nth(log, HY_CLOCK, 3).ps, -1);
    cr_expect_eq(hy_log_end(log), 1500 * MS);
    hy_log_free(log);

    log = play("glide 360k over 1s rest 500ms glide 0 over 1s");
    cr_expect_eq(nth(log, HY_CLOCK, 1).hz, 540e3);
    cr_expect_eq(nth(log, HY_CLOCK, 1).to_ps, 1500 * MS);
    cr_expect_eq(nth(log, HY_CLOCK, 2).hz, 0.0);
    cr_expect_eq(nth(log, HY_CLOCK, 3).ps, -1);
    hy_log_free(log);

    log = play("aa/250 glide 0 over 40ms hh"); /* it arrives before the last phoneme's time is over, which never is */
    cr_expect_eq(nth(log, HY_CLOCK, 2).hz, 0.0);
    cr_expect_eq(hy_log_end(log), nth(log, HY_CLOCK, 2).ps);
    hy_log_free(log);

    log = play("glide 360k over 1s glide 1M over 1s clock 2M hh");
    cr_expect_eq(nth(log, HY_CLOCK, 1).hz, 2e6, "at the same instant the last one counts");
    hy_log_free(log);
}

Test(host, a_clock_that_stands_still)
{
    hy_log *log = play("clock 0 hold 80ms hh eh l");
    cr_expect_eq(strobe(log, 2), 160 * MS, "the hold ends the waiting");
    cr_expect_eq(hy_log_end(log), 160 * MS, "and the last one can't end");
    hy_log_free(log);

    log = play("clock 0 glide 720k over 1s hh rest 2s");
    cr_expect_gt(hy_log_end(log), 2000 * MS, "it is only slow to start");
    hy_log_free(log);

    log = play("clock 0 hh");
    cr_expect_eq(hy_log_end(log), 0);
    hy_log_free(log);

    cr_expect_null(play_at("hh\n  eh mark x", 0.0));
    cr_expect_str_eq(diag.text,
                     "t.score:1:1: found a phoneme whose request is waited for while the clock stands still; "
                     "expected a running clock, or a hold");
}

Test(host, options_out_of_range_are_refused)
{
    cr_expect_null(play_at("hh", -1.0));
    cr_expect_null(play_at("hh", 100000001.0));
}

/* ---- what the host does is what a chip that plays the log sees ---- */

typedef struct witness {
    int request, phonemes, latches, late;
} witness;

static void saw_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    (void)cycle;
    (void)ps;
    ((witness *)user)->request = level;
}

static void saw_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    (void)cycle;
    (void)ps;
    (void)code;
    ((witness *)user)->latches++;
}

static void saw_input(void *user, const hy_event *event)
{
    witness *w = user;
    if (event->signal == HY_PHONEME) {
        w->phonemes++;
        w->late += !w->request;
    }
}

Test(host, every_strobe_finds_request_high_when_the_log_is_performed)
{
    static const char text[] =
        "babble seed 3 phonemes 40 from all\n"
        "glide 300k over 3s\n"
        "babble seed 4 phonemes 5 from all\n"
        "glide 1.3M over 700ms exp\n"
        "repeat 20 { babble seed 5 phonemes 1 from all\n glide 700k over 100ms exp glide 200k over 1s hh }\n"
        "glide 720k over 1s rest 3s answer 3us\n"
        "babble seed 6 phonemes 60 from all\n";
    hy_log *log = play(text);
    char *csv = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&csv, &size);
    cr_assert_eq(hy_log_write_csv(log, out, &diag), 0);
    fclose(out);
    hy_log_free(log);
    FILE *in = text_stream(csv, size);
    log = hy_log_read_csv(in, "t.csv", &diag);
    cr_assert_not_null(log, "%s", diag.text);
    fclose(in);
    free(csv);

    witness w = {.request = 1};
    hy_performance p = {.log = log,
                        .part = hyoid_part_default(),
                        .end_ps = hy_log_end(log) + MS,
                        .observer = {.user = &w, .request = saw_request, .latch = saw_latch},
                        .input = saw_input};
    cr_assert_eq(hy_perform(&p, &diag), 0, "%s", diag.text);
    cr_expect_geq(w.phonemes, 145);
    cr_expect_eq(w.latches, w.phonemes);
    cr_expect_eq(w.late, 0);
    hy_log_free(log);
}
