/* Host time: where clock edges, latches, requests and samples fall at any clock. The chip knows no hertz, so all of
 * this is measured from outside it. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "core_bench.h"

#define PS HYOID_PS_PER_S
enum { FILTER = 36, EVENTS = 4096 };

typedef struct seen {
    int64_t latch[EVENTS], rise[EVENTS], fall[EVENTS];
    size_t latches, rises, falls;
    double edge_error; /* largest difference between a level's time and cycle / hz, ps */
    double hz;
    float *frames;
    size_t count, room;
} seen;

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    seen *s = user;
    (void)cycle, (void)code;
    s->latch[s->latches++ % EVENTS] = ps;
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    seen *s = user;
    (void)cycle;
    if (level) {
        s->rise[s->rises++ % EVENTS] = ps;
    } else {
        s->fall[s->falls++ % EVENTS] = ps;
    }
}

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    seen *s = user;
    (void)value;
    cr_assert(fraction >= 0.0 && fraction < 1.0);
    if (s->hz > 0.0) {
        double error = fabs((double)ps + fraction - (double)cycle * 1e12 / s->hz);
        s->edge_error = error > s->edge_error ? error : s->edge_error;
    }
}

static void on_frames(void *user, const float *frames, size_t count)
{
    seen *s = user;
    cr_assert_leq(count, (size_t)(HYOID_BLOCK + HYOID_TAPS));
    if (s->count + count > s->room) {
        s->room = 2 * (s->count + count);
        s->frames = realloc(s->frames, s->room * sizeof *s->frames);
        cr_assert_not_null(s->frames);
    }
    memcpy(s->frames + s->count, frames, count * sizeof *frames);
    s->count += count;
}

static hyoid_stream *new_stream(seen *s, uint32_t rate)
{
    hyoid_stream *stream = malloc(sizeof *stream);
    const hyoid_observer observer = {s, on_frames, on_level, on_latch, on_request};
    cr_assert_not_null(stream);
    cr_assert_eq(hyoid_stream_init(stream, hyoid_part_default(), rate, &observer), HYOID_OK);
    return stream;
}

static seen *new_seen(void)
{
    seen *s = calloc(1, sizeof *s);
    cr_assert_not_null(s);
    return s;
}

static void done(seen *s, hyoid_stream *stream)
{
    free(s->frames);
    free(s);
    free(stream);
}

static const double clocks[] = {720000.0, 300000.0, 1300000.0, 713337.1};

/* A host that answers at once, two picoseconds after the edge. */
static int64_t say(hyoid_stream *stream, int64_t ps, unsigned code)
{
    int64_t reached;
    cr_assert_eq(hyoid_stream_write(stream, ps, code), HYOID_OK);
    cr_assert_eq(hyoid_stream_run_to_request(stream, ps + 100 * PS, &reached), HYOID_OK);
    cr_assert_gt(reached, 0);
    return reached + 1;
}

Test(stream, every_code_lasts_its_time_to_one_filter_cycle_at_any_clock)
{
    for (size_t c = 0; c < sizeof clocks / sizeof clocks[0]; c++) {
        seen *s = new_seen();
        hyoid_stream *stream = new_stream(s, 0);
        const double hz = clocks[c];
        hyoid_stream_set_clock(stream, 0, hz);
        int64_t at = 0;
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            at = say(stream, at, code);
        }
        hyoid_stream_run(stream, at);
        cr_assert_eq(s->latches, 64);
        cr_assert_eq(s->rises, 64);
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            double nominal = hyoid_part_default()->phoneme[code].duration * FILTER * 1e12 / hz;
            double cycle = FILTER * 1e12 / hz;
            double lasted = (double)(s->rise[code] - s->latch[code]);
            cr_assert(lasted > nominal - cycle - 2 && lasted <= nominal + 2, "code %02x at %g Hz: %g", code, hz,
                      lasted);
            cr_assert_leq(fabs((double)(s->fall[code] - s->latch[code]) - 1e12 / hz), 1.0);
            if (code > 1) { /* onsets are exactly one nominal time apart */
                double previous = hyoid_part_default()->phoneme[code - 1].duration * FILTER * 1e12 / hz;
                cr_assert_leq(fabs((double)(s->latch[code] - s->latch[code - 1]) - previous), 1.0);
            }
        }
        done(s, stream);
    }
}

Test(stream, clock_edges_stay_exact_for_hours)
{
    for (size_t c = 0; c < sizeof clocks / sizeof clocks[0]; c++) {
        seen *s = new_seen();
        hyoid_stream *stream = new_stream(s, 0);
        hyoid_stream_set_clock(stream, 0, clocks[c]);
        hyoid_stream_run(stream, 3600 * PS);
        s->hz = clocks[c];
        hyoid_stream_run(stream, 3601 * PS);
        /* the reckoning in this test carries 0.5 ps itself after an hour */
        cr_assert_leq(s->edge_error, clocks[c] == 713337.1 ? 20.0 : 1.0, "%g Hz: %g ps", clocks[c], s->edge_error);
        double cycles = (double)stream->chip.cycle;
        cr_assert_leq(fabs(cycles - clocks[c] * 3601), 1.0);
        done(s, stream);
    }
}

Test(stream, an_edge_falls_where_the_integral_of_the_clock_is_whole)
{
    /* from 720 kHz to 300 kHz in 1.7 s from 0.3 s on: in closed form */
    seen *s = new_seen();
    hyoid_stream *stream = new_stream(s, 0);
    const int64_t from = 3 * PS / 10, to = 2 * PS;
    hyoid_stream_set_clock(stream, 0, 720000.0);
    hyoid_stream_glide_clock(stream, from, to, 300000.0);
    for (int64_t t = from; t <= to; t += PS / 7) {
        hyoid_stream_run(stream, t);
        double dt = (double)(t - from) * 1e-12;
        double expected = 720000.0 * 0.3 + 720000.0 * dt + 0.5 * (300000.0 - 720000.0) / 1.7 * dt * dt;
        cr_assert_leq(fabs((double)stream->chip.cycle - expected), 1.0);
        cr_assert_leq(fabs(hyoid_stream_clock_hz(stream) - (720000.0 - 420000.0 / 1.7 * dt)), 1e-6);
    }
    hyoid_stream_run(stream, 3 * PS);
    cr_assert_eq(hyoid_stream_clock_hz(stream), 300000.0);
    cr_assert_leq(fabs((double)stream->chip.cycle - (216000.0 + 510000.0 * 1.7 + 300000.0)), 1.0);
    done(s, stream);
}

Test(stream, under_a_glide_a_phoneme_still_lasts_its_filter_cycles)
{
    seen *s = new_seen();
    hyoid_stream *stream = new_stream(s, 0);
    hyoid_stream_glide_clock(stream, 0, 5 * PS, 1300000.0);
    int64_t at = 0;
    for (unsigned code = 0; code < 40; code++) {
        at = say(stream, at, code);
    }
    for (unsigned code = 1; code < 39; code++) {
        /* cycles between two latches, from their times and the law of the glide */
        double t0 = (double)s->latch[code] * 1e-12, t1 = (double)s->latch[code + 1] * 1e-12;
        double slope = (1300000.0 - 720000.0) / 5.0;
        double cycles = 720000.0 * (t1 - t0) + 0.5 * slope * (t1 * t1 - t0 * t0);
        cr_assert_leq(fabs(cycles - FILTER * (double)hyoid_part_default()->phoneme[code].duration), 1e-4);
    }
    done(s, stream);
}

Test(stream, clock_zero_freezes_and_a_remembered_strobe_acts_at_the_first_clock)
{
    seen *s = new_seen();
    hyoid_stream *stream = new_stream(s, 48000);
    say(stream, 0, 0x15);
    int64_t at = stream->now;
    hyoid_stream_set_clock(stream, at, 0.0);
    const double held = hyoid_chip_output(&stream->chip);
    const uint64_t cycle = stream->chip.cycle;
    hyoid_stream_write(stream, at + PS, 0x2c);
    int64_t reached = 0;
    hyoid_stream_run_to_request(stream, at + 2 * PS, &reached);
    cr_assert_eq(reached, -1, "no clock, no answer");
    cr_assert_eq(stream->chip.cycle, cycle);
    cr_assert_eq(stream->chip.phoneme, 0x15);
    cr_assert(hyoid_chip_output(&stream->chip) == held);
    for (size_t i = s->count - 40000; i < s->count; i++) {
        cr_assert(s->frames[i] == (float)held, "the output holds");
    }
    hyoid_stream_set_clock(stream, at + 2 * PS, 1000.0);
    hyoid_stream_run(stream, at + 2 * PS + PS / 100);
    cr_assert_eq(stream->chip.latch_cycle, cycle + 1);
    cr_assert_eq(stream->chip.phoneme, 0x2c);
    done(s, stream);
}

Test(stream, a_glide_to_zero_stops_and_from_zero_starts)
{
    seen *s = new_seen();
    hyoid_stream *stream = new_stream(s, 48000);
    hyoid_stream_write(stream, 0, 0x24);
    hyoid_stream_glide_clock(stream, PS / 4, 3 * PS / 2, 0.0);
    hyoid_stream_run(stream, 2 * PS);
    cr_assert_leq(fabs((double)stream->chip.cycle - (180000.0 + 450000.0)), 1.0);
    uint64_t stopped = stream->chip.cycle;
    hyoid_stream_run(stream, 4 * PS);
    cr_assert_eq(stream->chip.cycle, stopped);
    hyoid_stream_glide_clock(stream, 4 * PS, 5 * PS, 720000.0);
    hyoid_stream_run(stream, 5 * PS);
    cr_assert_leq(fabs((double)(stream->chip.cycle - stopped) - 360000.0), 2.0);
    done(s, stream);
}

Test(stream, an_edge_of_strobe_at_the_time_of_a_clock_edge_is_in_time_and_one_picosecond_later_is_not)
{
    for (int late = 0; late < 2; late++) {
        seen *s = new_seen();
        hyoid_stream *stream = new_stream(s, 0);
        hyoid_stream_set_clock(stream, 0, 500000.0); /* edges every 2 us */
        hyoid_stream_write(stream, 20000000 + late, 0x01);
        hyoid_stream_run(stream, 30000000);
        cr_assert_eq(stream->chip.latch_cycle, 10 + (uint64_t)late);
        done(s, stream);
    }
}

static void cut_differently(int keep_images)
{
    uint64_t seed = 42;
    cr_log_info("seed 42");
    seen *a = new_seen(), *b = new_seen();
    hyoid_stream *one = new_stream(a, 44100), *many = new_stream(b, 44100);
    hyoid_stream_keep_images(one, keep_images);
    hyoid_stream_keep_images(many, keep_images);
    for (int pass = 0; pass < 2; pass++) {
        hyoid_stream *stream = pass == 0 ? one : many;
        for (int i = 0; i < 40; i++) {
            int64_t at = (int64_t)i * PS / 13 + i;
            if (pass == 1) {
                while (stream->now + PS / 30 < at) {
                    hyoid_stream_run(stream, stream->now + 1 + bench_random(&seed) % (PS / 31));
                }
            }
            hyoid_stream_write(stream, at, (unsigned)(i * 7) % 64);
            if (i % 5 == 0) {
                hyoid_stream_set_inflection(stream, at, (unsigned)i % 4);
            }
            if (i % 9 == 4) {
                hyoid_stream_glide_clock(stream, at, at + PS / 3, 200000.0 + 40000.0 * i);
            }
        }
        hyoid_stream_run(stream, 4 * PS);
    }
    cr_assert_eq(a->count, b->count);
    cr_assert_eq(memcmp(a->frames, b->frames, a->count * sizeof *a->frames), 0);
    /* frames up to half a kernel before the present, none after */
    cr_assert_eq(a->count, (size_t)(4 * 44100 + 1 - HYOID_TAPS / 2));
    one->observer.user = many->observer.user = NULL;
    cr_assert_eq(memcmp(&one->output.bin, &many->output.bin, sizeof one->output.bin), 0);
    done(a, one), done(b, many);
}

Test(stream, cutting_host_time_differently_changes_no_frame)
{
    cut_differently(1);
}

Test(stream, cutting_host_time_differently_changes_no_frame_without_images)
{
    cut_differently(0);
}

/* Power of the frames at f, by the plain sum. */
static double power_at(const seen *s, size_t from, size_t count, double f, double rate)
{
    double re = 0.0, im = 0.0;
    for (size_t i = 0; i < count; i++) {
        double window = 0.5 - 0.5 * cos(6.283185307179586 * (double)i / (double)count);
        re += window * (double)s->frames[from + i] * cos(6.283185307179586 * f * (double)i / rate);
        im += window * (double)s->frames[from + i] * sin(6.283185307179586 * f * (double)i / rate);
    }
    return re * re + im * im;
}

/* At 300 kHz the filter runs at 8333 Hz; a vowel's lines below 3.5 kHz come back at 8333 +- f. With images they stand there
 * at the level that sin x / x leaves them, without they are gone by 100 dB and more; what is below stays. */
Test(stream, images_are_kept_or_left_out)
{
    const double rate = 48000.0, filter = 300000.0 / 36.0;
    double line[2], image[2];
    for (int keep = 0; keep < 2; keep++) {
        seen *s = new_seen();
        hyoid_stream *stream = new_stream(s, 48000);
        cr_assert_eq(hyoid_stream_keep_images(stream, keep), HYOID_OK);
        hyoid_stream_set_clock(stream, 0, 300000.0);
        hyoid_stream_set_inflection(stream, 0, 1);
        hyoid_stream_write(stream, 0, 0x15);
        hyoid_stream_run(stream, 3 * PS);
        const hyoid_part *part = hyoid_part_default();
        double f0 = filter / (part->pitch_period[1] + (part->phoneme[0x15].f1 * 17u >> part->pitch_f1_shift));
        line[keep] = power_at(s, 48000, 48000, 6 * f0, rate);
        image[keep] = power_at(s, 48000, 48000, filter - 6 * f0, rate);
        done(s, stream);
    }
    cr_assert_leq(fabs(10.0 * log10(line[0] / line[1])), 0.05);
    /* published: an image stands f / (fs - f) below its line (reference/tables/hold_images.csv) */
    const uint32_t period =
        hyoid_part_default()->pitch_period[1] + (hyoid_part_default()->phoneme[0x15].f1 * 17u >> 3);
    double ratio = 10.0 * log10(image[1] / line[1]);
    cr_assert_leq(fabs(ratio - 20.0 * log10(6.0 / (period - 6.0))), 0.1, "%g dB", ratio);
    cr_assert_lt(10.0 * log10(image[0] / line[1]), -100.0);
    cr_assert_eq(hyoid_stream_keep_images(NULL, 1), HYOID_E_NULL);
}

Test(stream, a_copy_continues_without_a_click)
{
    seen *a = new_seen(), *b = new_seen();
    hyoid_stream *one = new_stream(a, 48000);
    say(one, 0, 0x15);
    hyoid_stream_run(one, one->now + PS / 3);
    hyoid_stream *two = malloc(sizeof *two);
    cr_assert_not_null(two);
    *two = *one;
    two->observer.user = b;
    a->count = 0;
    hyoid_stream_run(one, 2 * PS);
    hyoid_stream_run(two, 2 * PS);
    cr_assert_eq(a->count, b->count);
    cr_assert_eq(memcmp(a->frames, b->frames, a->count * sizeof *a->frames), 0);
    done(a, one), done(b, two);
}

Test(stream, every_change_of_the_request_pin_is_told_faults_too)
{
    seen *s = new_seen();
    hyoid_stream *stream = new_stream(s, 0);
    hyoid_chip_set_fault(&stream->chip, HYOID_FAULT_REQUEST_LOW, 1.0);
    hyoid_stream_run(stream, PS / 10);
    cr_assert_eq(s->falls, 1);
    cr_assert_eq(s->rises, 0);
    hyoid_stream_write(stream, PS / 10, 0x15);
    hyoid_stream_run(stream, PS);
    cr_assert_eq(s->falls, 1);
    cr_assert_eq(s->rises, 0);
    hyoid_chip_set_fault(&stream->chip, HYOID_FAULT_REQUEST_LOW, 0.0);
    hyoid_stream_run(stream, 2 * PS);
    cr_assert_eq(s->rises, 1);
    done(s, stream);
}

Test(stream, wrong_calls_are_refused_and_change_nothing)
{
    seen *s = new_seen();
    hyoid_stream *stream = new_stream(s, 48000);
    hyoid_stream_write(stream, PS, 0x15);
    hyoid_stream before = *stream;
    cr_assert_eq(hyoid_stream_write(stream, PS - 1, 0x15), HYOID_E_PAST);
    cr_assert_eq(hyoid_stream_run(stream, PS - 1), HYOID_E_PAST);
    cr_assert_eq(hyoid_stream_write(stream, 2 * PS, 64), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_set_inflection(stream, 2 * PS, 4), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_set_clock(stream, 2 * PS, -1.0), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_set_clock(stream, 2 * PS, NAN), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_set_clock(stream, 2 * PS, INFINITY), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_glide_clock(stream, 2 * PS, 2 * PS, 1.0), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_run(stream, INT64_MAX), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_run(NULL, 0), HYOID_E_NULL);
    cr_assert_eq(memcmp(&before, stream, sizeof before), 0);
    cr_assert_eq(hyoid_stream_init(stream, hyoid_part_default(), 7999, NULL), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_init(stream, hyoid_part_default(), 192001, NULL), HYOID_E_RANGE);
    cr_assert_eq(hyoid_stream_init(NULL, hyoid_part_default(), 0, NULL), HYOID_E_NULL);
    done(s, stream);
}

/* The first step after silence, found in the samples: at its half height the band-limited step stands at the time of the clock
 * edge, to a hundredth of a sample. Codes with an early, large first step would do; a step is made with a part whose
 * pulse is a single jump. */
typedef struct first_step {
    double at; /* seconds */
    double value;
} first_step;

static void note_first(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    seen *s = ((seen **)user)[0];
    first_step *f = ((first_step **)user)[1];
    (void)s, (void)cycle;
    if (value != 0.0 && f->value == 0.0) {
        f->at = ((double)ps + fraction) * 1e-12;
        f->value = value;
    }
}

static void pass_frames(void *user, const float *frames, size_t count)
{
    on_frames(((seen **)user)[0], frames, count);
}

Test(stream, a_step_in_the_samples_stands_at_its_clock_edge)
{
    static const uint32_t rates[] = {8000, 44100, 48000, 96000, 192000};
    for (size_t r = 0; r < sizeof rates / sizeof rates[0]; r++) {
        for (int i = 0; i < 20; i++) {
            seen *s = new_seen();
            first_step f = {0.0, 0.0};
            void *both[2] = {s, &f};
            const hyoid_observer observer = {both, pass_frames, note_first, NULL, NULL};
            hyoid_stream *stream = malloc(sizeof *stream);
            cr_assert_not_null(stream);
            cr_assert_eq(hyoid_stream_init(stream, hyoid_part_default(), rates[r], &observer), HYOID_OK);
            /* noise alone, then a clock so slow that one step stands for many samples */
            hyoid_stream_write(stream, 0, 0x1f);
            hyoid_stream_set_clock(stream, 0, 17000.0 + 37.0 * i);
            while (f.value == 0.0) {
                hyoid_stream_run(stream, stream->now + PS / 1000);
            }
            hyoid_stream_set_clock(stream, stream->now, 0.0);
            hyoid_stream_run(stream, stream->now + PS);
            size_t k = 0;
            while (fabs((double)s->frames[k]) < 0.5 * fabs(f.value)) {
                k++;
            }
            double a = s->frames[k - 1], b = s->frames[k];
            double crossing = ((double)k - 1.0 + (0.5 * f.value - a) / (b - a)) / rates[r];
            /* linear interpolation between two samples of a curve: good to 0.08 sample */
            cr_assert_leq(fabs(crossing - f.at) * rates[r], 0.08, "rate %u: %.9f for %.9f", rates[r], crossing, f.at);
            done(s, stream);
        }
    }
}
