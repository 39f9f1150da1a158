/* The engine of `hyoid live`: what it plays is what its log says, bit for bit, and it keeps time as a host does. */
#include <criterion/criterion.h>
#include <inttypes.h>
#include <math.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/live/score_out.h"
#include "host.h"
#include "inputs.h"
#include "live_stage.h"
#include "perform.h"
#include "scratch.h"

#define MS INT64_C(1000000000)

static hy_diag diag;

/* ---- reading back what was recorded ---- */

typedef struct samples {
    float *values;
    size_t count, room;
} samples;

static void on_frames(void *user, const float *frames, size_t count)
{
    samples *s = user;
    if (s->count + count > s->room) {
        s->room = 2 * (s->count + count);
        s->values = realloc(s->values, s->room * sizeof *s->values);
        cr_assert_not_null(s->values);
    }
    memcpy(s->values + s->count, frames, count * sizeof *frames);
    s->count += count;
}

static samples render(hy_log *log)
{
    samples s = {0};
    const hy_performance performance = {.log = log,
                                        .part = hyoid_part_default(),
                                        .rate = 48000,
                                        .end_ps = hy_log_end(log) + 100 * MS,
                                        .observer = {.user = &s, .frames = on_frames}};
    cr_assert_eq(hy_perform(&performance, &diag), 0, "%s", diag.text);
    return s;
}

static samples read_wav(const char *path)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    cr_assert_not_null(file, "%s", path);
    samples s = {.values = calloc((size_t)info.frames, sizeof(float)), .count = (size_t)info.frames};
    cr_assert_eq(sf_readf_float(file, s.values, info.frames), info.frames);
    sf_close(file);
    return s;
}

static hy_log *read_log(const char *path)
{
    FILE *in = fopen(path, "rb");
    cr_assert_not_null(in, "%s", path);
    hy_log *log = hy_log_read_csv(in, path, &diag);
    fclose(in);
    cr_assert_not_null(log, "%s", diag.text);
    return log;
}

static hy_log *play_score(const char *path)
{
    const hy_host_options options = {.clock_hz = 720e3, .level = 1};
    FILE *in = fopen(path, "rb");
    cr_assert_not_null(in, "%s", path);
    hy_score *score = hy_score_read(in, path, &diag);
    fclose(in);
    cr_assert_not_null(score, "%s", diag.text);
    hy_log *log = hy_host_play(score, hyoid_part_default(), &options, &diag);
    cr_assert_not_null(log, "%s", diag.text);
    hy_score_free(score);
    return log;
}

static void stop_recording(hy_live_session *s)
{
    command(s, "record off");
    sound(s, 600);
    cr_assert_null(s->take);
}

static size_t check_take(const char *wav, const char *csv, const char *what)
{
    hy_log *log = read_log(csv);
    samples taken = read_wav(wav), rendered = render(log);
    cr_assert_leq(taken.count, rendered.count, "%s", what);
    for (size_t i = 0; i < taken.count; i++) {
        cr_assert_eq(taken.values[i], rendered.values[i], "%s: sample %zu of %zu is %.9g, rendered %.9g", what, i,
                     taken.count, (double)taken.values[i], (double)rendered.values[i]);
    }
    const size_t count = taken.count;
    free(taken.values);
    free(rendered.values);
    hy_log_free(log);
    return count;
}

/* The phonemes of a log; of two strobes at one instant, the one that the chip hears. */
static size_t phonemes(hy_log *log, hy_event *list, size_t room)
{
    hy_event e = {0};
    size_t n = 0;
    cr_assert_eq(hy_log_rewind(log, &diag), 0);
    while (hy_log_next(log, &e, &diag) == 1) {
        if (e.signal == HY_PHONEME) {
            n -= n > 0 && list[n - 1].ps == e.ps;
            cr_assert_lt(n, room);
            list[n++] = e;
        }
    }
    return n;
}

/* Every phoneme of one log at the same time in the other, within `margin` ps. */
static size_t check_same(hy_log *a, hy_log *b, int64_t margin, const char *what)
{
    static hy_event x[4000], y[4000];
    const size_t n = phonemes(a, x, 4000);
    cr_assert_eq(n, phonemes(b, y, 4000), "%s", what);
    for (size_t i = 0; i < n; i++) {
        cr_assert_eq(x[i].number, y[i].number, "%s: phoneme %zu", what, i);
        cr_assert_leq(llabs(x[i].ps - y[i].ps), margin, "%s: phoneme %zu at %" PRId64 " and %" PRId64 " ps", what, i,
                      x[i].ps, y[i].ps);
    }
    return n;
}

/* ---- random hands ---- */

static uint32_t roll(uint32_t *state, uint32_t sides)
{
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return (uint32_t)((uint64_t)*state * sides >> 32);
}

static void random_command(hy_live_session *s, uint32_t *state, int glides)
{
    static const char *const plain[] = {"clock +1%",
                                        "clock -2st",
                                        "clock +2st",
                                        "nominal",
                                        "level 0",
                                        "level 2",
                                        "level 3",
                                        "hold 80ms",
                                        "hold off",
                                        "strobe 0x1b",
                                        "strobe aa",
                                        "strobe t",
                                        "babble on 5",
                                        "babble off",
                                        "again",
                                        "toggle",
                                        "sustain on",
                                        "sustain off",
                                        "say hold 50ms hh eh/71 l ow hold off",
                                        "word water",
                                        "clock 1.3M",
                                        "clock 90k",
                                        "say rest 30ms aa answer 3ms iy answer 0us",
                                        "hush",
                                        "hold -10%",
                                        "hold +10%",
                                        "volume -6",
                                        "limiter off"};
    static const char *const gliding[] = {"sweep 300k over 70ms",
                                          "sweep 1M over 130ms exp",
                                          "zero over 40ms",
                                          "sweep 500k over 9ms exp",
                                          "say glide 900k over 60ms aa clock 720k iy glide 400k over 300ms exp uw",
                                          "back"};
    hy_diag refused = {""}; /* some make no sense where they fall */
    const uint32_t n = sizeof plain / sizeof plain[0], m = sizeof gliding / sizeof gliding[0];
    const uint32_t k = roll(state, glides ? n + 2 * m : n);
    hy_live_session_line(s, k < n ? plain[k] : gliding[(k - n) % m], &refused);
}

static void random_take(uint32_t seed, int glides)
{
    remove(scratch("t.wav"));
    remove(scratch("t.csv"));
    remove(scratch("t.score"));
    char what[40];
    uint32_t state = seed;
    hy_score *score;
    hy_live_session *s = stage("hh eh/121 l ow level 2 rest 60ms t aa hold 70ms iy uw hold off pau", &score);
    char line[1200];
    snprintf(what, sizeof what, "seed %u%s", seed, glides ? " with glides" : "");
    sound(s, roll(&state, 9000));
    snprintf(line, sizeof line, "record %s", scratch("t.wav"));
    command(s, line);
    for (int i = 0; i < 120; i++) {
        random_command(s, &state, glides);
        sound(s, 1 + roll(&state, i % 10 == 0 ? 9000 : 900));
    }
    stop_recording(s);
    cr_assert_gt(check_take(scratch("t.wav"), scratch("t.csv"), what), 48000, "%s", what);
    hy_log *log = read_log(scratch("t.csv"));
    hy_log *again = play_score(scratch("t.score"));
    if (!glides) { /* the score says the same, to the picosecond */
        cr_assert_gt(check_same(log, again, 0, what), 10);
    }
    hy_log_free(log);
    hy_log_free(again);
    hy_live_session_free(s);
    hy_score_free(score);
}

Test(live_engine, a_take_is_what_its_log_renders, .init = scratch_begin, .fini = scratch_end)
{
    for (uint32_t seed = 1; seed <= 8; seed++) {
        random_take(seed, 0);
        random_take(seed + 100, 1);
    }
}

Test(live_engine, a_take_overwrites_nothing, .init = scratch_begin, .fini = scratch_end)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    FILE *precious = fopen(scratch("t.score"), "w");
    cr_assert_not_null(precious);
    fclose(precious);
    char line[1200];
    hy_diag why = {""};
    snprintf(line, sizeof line, "record %s", scratch("t.wav"));
    cr_assert_eq(hy_live_session_line(s, line, &why), -1);
    cr_assert_not_null(strstr(why.text, "t.score is there already"), "%s", why.text);
    cr_assert_null(s->take);
    cr_assert_eq(scratch_count(), 1);
    hy_live_session_free(s);
}

/* A full disk, a crash of the program: what is not finished leaves nothing. */
Test(live_engine, an_abandoned_take_leaves_nothing, .init = scratch_begin, .fini = scratch_end)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    char line[1200];
    snprintf(line, sizeof line, "record %s", scratch("t.wav"));
    command(s, line);
    sound(s, 4800);
    hy_live_session_free(s);
    cr_assert_eq(scratch_count(), 0);
}

/* Nobody takes what is reported for longer than the rings last: the recording is given up, and says so. */
Test(live_engine, a_hole_in_a_take_is_told, .init = scratch_begin, .fini = scratch_end)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    char line[1200];
    hy_diag why = {""};
    snprintf(line, sizeof line, "record %s", scratch("t.wav"));
    command(s, line);
    sound(s, 4800);
    for (int i = 0; i < 6 * 480; i++) {
        float out[100];
        hy_player_render(s->player, out, 100, 1);
    }
    int result = 0;
    for (int i = 0; i < 10 && result == 0; i++) {
        float out[100];
        hy_player_render(s->player, out, 100, 1);
        result = hy_live_session_tick(s, &why);
    }
    cr_assert_eq(result, -1);
    cr_assert_not_null(strstr(why.text, "has a hole"), "%s", why.text);
    cr_assert_eq(scratch_count(), 0);
    snprintf(line, sizeof line, "record %s", scratch("u.wav")); /* and another is whole again */
    command(s, line);
    sound(s, 4800);
    command(s, "strobe aa");
    sound(s, 4800);
    stop_recording(s);
    cr_assert_gt(check_take(scratch("u.wav"), scratch("u.csv"), "after a hole"), 9000);
    hy_live_session_free(s);
}

/* ---- as a host ---- */

/* The score played with nobody at the keys, recorded from the first sample on. */
static void check_host(const char *text, int64_t margin, const char *what)
{
    hy_score *score;
    hy_live_session *s = stage(text, &score);
    hy_log *heard = hy_log_new(&diag);
    hy_report report;
    int status = 0;
    while (status < 4000 && !(hy_live_session_quiet(s) && status > 100)) {
        float out[256];
        hy_player_render(s->player, out, 256, 1);
        while (hy_ring_take(s->player->rings.reports, &report, 1) == 1) {
            if (report.kind == HY_REPORT_EVENT && report.event.signal != HY_MARK) {
                cr_assert_eq(hy_log_append(heard, &report.event, report.glides, &diag), 0, "%s", diag.text);
            }
            status += report.kind == HY_REPORT_STATUS;
        }
        hy_feed_pump(s->feed);
    }
    const hy_host_options options = {.clock_hz = 720e3, .level = 1};
    hy_score_rewind(score);
    hy_log *host = hy_host_play(score, hyoid_part_default(), &options, &diag);
    cr_assert_gt(check_same(host, heard, margin, what), 3);
    hy_log_free(heard);
    hy_log_free(host);
    hy_live_session_free(s);
    hy_score_free(score);
}

Test(live_engine, keeps_time_as_the_host_does)
{
    char *hour = source_text("docs/scores/hour.score");
    check_host(hour, 0, "hour");
    free(hour);
    check_host("hold 80ms hh aa l ow hold off answer 40us ow rest 100ms level 3 iy/103 0x1b rest 1us s pau", 0,
               "holds");
    check_host("clock 1M aa iy clock 300k uw hold 3ms s t k hold off answer 2ms pau/47 l ow pau", 0, "clocks");
    /* a glide's pieces are laid otherwise: the same line, the same edges to rounding; an arc within 1.5e-5,
     * by which the longest chords differ from it */
    check_host("glide 300k over 500ms aa iy uw aa pau", 4, "line");
    check_host("glide 1.4M over 700ms exp aa iy uw aa pau", 10000000, "arc");
}

Test(live_engine, the_last_phoneme_lasts_until_the_glide_arrives)
{
    hy_score *score;
    hy_live_session *s = stage("aa/71 glide 300k over 500ms", &score);
    sound(s, 48000 / 100 * 45); /* of which the glide began at 71 ms */
    cr_assert_eq(s->status.phoneme, 8);
    cr_assert_eq(s->status.request, 1);
    cr_assert_not(hy_live_session_quiet(s));
    sound(s, 48000 / 100 * 15);
    cr_assert_eq(s->status.hz, 300e3);
    cr_assert_eq(s->status.phoneme, 3, "and then a pause");
    hy_live_session_free(s);
    hy_score_free(score);
}

/* ---- orders at a time, and what each does ---- */

Test(live_engine, orders_act_at_their_picosecond, .init = scratch_begin, .fini = scratch_end)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    char line[1200];
    snprintf(line, sizeof line, "record %s", scratch("t.wav"));
    command(s, line);
    sound(s, 600);
    command(s, "at 50.000000001ms strobe aa");
    command(s, "at 60ms clock 500k");
    command(s, "at 70ms sweep 600k over 10ms");
    command(s, "at 100ms level 3");
    sound(s, 9600);
    stop_recording(s);
    hy_log *log = read_log(scratch("t.csv"));
    hy_event e;
    int seen = 0;
    while (hy_log_next(log, &e, &diag) == 1) {
        seen += e.signal == HY_PHONEME && e.number == 0x24 && e.ps == 50 * MS + 1;
        seen += e.signal == HY_CLOCK && e.hz == 500e3 && e.ps == 60 * MS && e.to_ps == 0;
        seen += e.signal == HY_CLOCK && e.ps == 70 * MS && e.to_ps > 70 * MS && e.to_ps <= 75 * MS &&
                fabs(e.to_hz - 500e3 - 100e3 * (double)(e.to_ps - e.ps) / (double)(10 * MS)) < 1e-6;
        seen += e.signal == HY_CLOCK && e.ps == 80 * MS && e.hz == 600e3;
        seen += e.signal == HY_INFLECTION && e.number == 3 && e.ps == 100 * MS;
    }
    cr_assert_eq(seen, 5);
    hy_log_free(log);
    cr_assert_gt(check_take(scratch("t.wav"), scratch("t.csv"), "orders"), 9000);
    hy_live_session_free(s);
}

Test(live_engine, commands_do_what_they_say)
{
    hy_score *score;
    hy_live_session *s = stage("clock 700k aa/250 aa/250 aa/250 aa/250 aa/250 aa/250", &score);
    sound(s, 4800);
    cr_assert_eq(s->status.hz, 700e3, "the score's clock");
    cr_assert_eq(s->status.phoneme, 0x24);
    command(s, "clock +12st");
    sound(s, 600);
    cr_assert_float_eq(s->status.hz, 1.4e6, 1e-3);
    command(s, "nominal");
    sound(s, 600);
    cr_assert_float_eq(s->status.hz, 720e3, 1e-6);
    command(s, "sweep 360k over 100ms exp");
    sound(s, 2400);
    cr_assert_float_eq(s->status.hz, 720e3 / sqrt(2.0), 15e3);
    sound(s, 4800);
    cr_assert_float_eq(s->status.hz, 360e3, 1e-6);
    command(s, "back");
    sound(s, 9600);
    cr_assert_float_eq(s->status.hz, 720e3, 1e-6);
    command(s, "zero over 50ms");
    sound(s, 4800);
    cr_assert_eq(s->status.hz, 0.0);
    hy_diag why = {""};
    cr_assert_eq(hy_live_session_line(s, "clock +1%", &why), -1, "a part of nothing");
    command(s, "zero over 50ms");
    sound(s, 4800);
    cr_assert_float_eq(s->status.hz, 720e3, 1e-6);
    command(s, "pause");
    sound(s, 24000);
    cr_assert(hy_live_session_quiet(s), "paused, and the last phoneme is over");
    cr_assert_eq(s->status.phoneme, 3, "a pause was said");
    command(s, "again");
    sound(s, 2400);
    cr_assert_float_eq(s->status.hz, 720e3 / 720e3 * 700e3 * (720.0 / 700.0), 1e-6, "the hand's factor stays");
    cr_assert_eq(s->status.phoneme, 0x24);
    command(s, "hold 30ms");
    sound(s, 600);
    cr_assert_eq(s->status.hold, 30 * MS);
    command(s, "hold +10%");
    sound(s, 600);
    cr_assert_eq(s->status.hold, 33 * MS);
    command(s, "hold off");
    command(s, "sustain on");
    command(s, "strobe iy");
    command(s, "level 3");
    sound(s, 600);
    cr_assert_eq(s->status.phoneme, 0x2c);
    cr_assert_eq(s->status.level, 3);
    hy_live_session_free(s);
    hy_score_free(score);
}

Test(live_engine, a_log_becomes_the_score_that_says_it)
{
    static const char csv[] =
        "time_s,signal,value\n0,clock_hz,720000\n0,inflection,1\n0.01,p0,1\n0.01,p1,1\n0.01,p3,1\n"
        "0.01,p4,1\n0.02,strobe,1\n0.021,strobe,0\n0.05,phoneme,36\n0.06,clock_hz,720000\n"
        "0.1,clock_to,360000\n0.1,inflection,2\n0.7,phoneme,3\n0.9,end,0\n";
    FILE *in = text_stream(csv, sizeof csv - 1), *out = tmpfile();
    hy_log *log = hy_log_read_csv(in, "t.csv", &diag);
    cr_assert_not_null(log, "%s", diag.text);
    cr_assert_eq(hy_score_write(log, hyoid_part_default(), out, &diag), 0);
    char text[600] = "";
    rewind(out);
    cr_assert_gt(fread(text, 1, sizeof text - 1, out), 0);
    cr_assert_str_eq(text, "clock 720000\nlevel 1\nrest 20ms\nhold 30ms\nhh\nhold 10ms\naa\nglide 360000 over 40ms\n"
                           "rest 40ms\nlevel 2\nrest 600ms\nhold off\npau/47\nrest 105.999999998ms\n");
    fclose(in);
    fclose(out);
    hy_log_free(log);
}
