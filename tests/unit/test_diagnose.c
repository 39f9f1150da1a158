/* Diagnosis, piece by piece: where phonemes lie at another clock, where a reference lies in a recording, what is ranked first. The
 * bench set (tests/outside/diagnose) is the test of the whole. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/diagnose/centre.h"
#include "../../frontends/diagnose/evidence.h"
#include "../../frontends/diagnose/rank.h"

/* Long enough that a fault of the noise alone outweighs that healthy chips are more common. */
static const char text[] =
    "pau/47 rest 300ms repeat 2 { aa/146 s pau/47 iy/185 t/71 aa/71 m pau/47 sh/121 rest 100ms f s ch pau/47 level 2 "
    "eh/121 z ow/185 s sh/121 pau/47 level 0 uw/185 k ae/185 f th hh pau/47 rest 100ms level 3 er/146 d n iy/103 v "
    "pau/47 rest 200ms level 1 } end/47";
enum { LONGEST = 10 };
static hy_diag diag;
static hy_input input;
static hy_reference_setup setup;

static void begin(void)
{
    FILE *in = fmemopen((void *)(uintptr_t)text, strlen(text), "r");
    const hy_host_options host = {.clock_hz = hyoid_part_default()->nominal_hz, .level = 1};
    cr_assert_not_null(in);
    input = (hy_input){.score = hy_score_read(in, "test", &diag), .from_score = 1};
    fclose(in);
    cr_assert_not_null(input.score, "%s", diag.text);
    input.log = hy_host_play(input.score, hyoid_part_default(), &host, &diag);
    cr_assert_not_null(input.log, "%s", diag.text);
    setup = (hy_reference_setup){&input, hyoid_part_default(), host, LONGEST, 1.0};
}

static void end(void)
{
    hy_input_free(&input);
}

TestSuite(diagnose, .init = begin, .fini = end);

static hy_reference *reference(int fault, double strength)
{
    hy_reference *r = hy_reference_make(&setup, (hy_supposition){fault, strength}, NULL, &diag);
    cr_assert_not_null(r, "%s", diag.text);
    return r;
}

/* A recording of a chip: a start `late` seconds in, and a faint floor. */
static void hear(hy_heard *heard, int fault, double strength, double clock, double late)
{
    size_t count = 0, before = (size_t)(late * HY_ANALYSIS_RATE);
    float *sound = hy_reference_sound(&setup, (hy_supposition){fault, strength}, clock, &count, &diag);
    cr_assert_not_null(sound, "%s", diag.text);
    float *x = calloc(count + 2 * before, sizeof *x);
    cr_assert_not_null(x);
    uint32_t seed = 1;
    for (size_t i = 0; i < count + 2 * before; i++) {
        seed = seed * 1664525u + 1013904223u;
        x[i] = 1e-4f * (float)((double)seed / 4294967296.0 - 0.5) +
               (i >= before && i < before + count ? sound[i - before] : 0.0f);
    }
    hy_recording *recording = hy_recording_from("test", x, count + 2 * before, HY_ANALYSIS_RATE, &diag);
    cr_assert_not_null(recording, "%s", diag.text);
    cr_assert_eq(hy_heard_make(heard, recording, &diag), 0, "%s", diag.text);
    hy_recording_free(recording);
    free(x);
    free(sound);
}

Test(diagnose, suppositions_are_complete)
{
    size_t count;
    const hy_supposition *all = hy_suppositions(&count);
    int seen[HYOID_FAULTS] = {0};
    cr_assert_eq(all[0].fault, HY_HEALTHY);
    for (size_t i = 1; i < count; i++) {
        cr_assert(all[i].fault >= 0 && all[i].fault < HYOID_FAULTS);
        cr_assert(all[i].strength > 0.0 && all[i].strength <= 1.0);
        seen[all[i].fault]++;
    }
    for (int f = 0; f < HYOID_FAULTS; f++) {
        cr_expect_eq(seen[f], hyoid_fault_describe((hyoid_fault)f)->graded ? 6 : 1, "%s", hy_fault_name(f));
    }
}

Test(diagnose, waits_of_the_host_do_not_follow_the_clock)
{
    hy_reference *r = reference(HY_HEALTHY, 0.0);
    /* pau of 47 ms by the chip's clock, then a rest of the host's */
    cr_expect_float_eq(r->segment[1].chip_s, 0.047, 2e-4);
    cr_expect_float_eq(r->segment[1].host_s, 0.300, 2e-4);
    /* at any clock: against a host that plays at it */
    const double clock = 0.957;
    const hy_host_options host = {.clock_hz = setup.host.clock_hz, .level = 1, .clock_scale = clock};
    hy_log *log = hy_host_play(input.score, setup.part, &host, &diag);
    hy_event event;
    size_t i = 0;
    cr_assert_not_null(log);
    cr_assert_eq(hy_log_rewind(log, &diag), 0);
    while (hy_log_next(log, &event, &diag) == 1) {
        if (event.signal == HY_PHONEME) {
            const hy_segment *s = &r->segment[i++];
            cr_expect_float_eq(s->host_s + s->chip_s / clock, (double)event.ps * 1e-12, 1e-4, "phoneme %zu", i);
            cr_expect_eq(s->code, event.number);
        }
    }
    cr_expect_eq(i, r->segments);
    hy_log_free(log);
    hy_reference_free(r);
}

Test(diagnose, a_request_that_never_comes_ends_with_patience)
{
    hy_reference *r = reference(HYOID_FAULT_REQUEST_LOW, 1.0);
    cr_expect_eq(r->segments, 1, "the host waits for the first phoneme's request");
    cr_expect_float_eq(r->seconds, LONGEST, 1e-9);
    hy_reference_free(r);
    r = reference(HYOID_FAULT_STROBE_DEAD, 1.0);
    cr_expect_eq(r->segments, 0);
    cr_expect_eq(r->loud, 0.0);
    hy_reference_free(r);
}

Test(diagnose, clock_and_start_are_found)
{
    static const double clocks[] = {0.96, 1.0, 1.031};
    hy_reference *r = reference(HY_HEALTHY, 0.0);
    for (size_t i = 0; i < 3; i++) {
        hy_heard heard;
        hy_fit fit;
        const double late = 0.2 + 0.31 * (double)i;
        const hy_fit_setup how = {1, 1.5, 3.0, NULL};
        hear(&heard, HY_HEALTHY, 0.0, clocks[i], late);
        cr_assert_eq(hy_fit_find(&fit, &heard, r, &how, NULL, &diag), 0);
        cr_assert_eq(hy_fit_judge(&fit, &heard, r, &how, &diag), 0);
        cr_expect_float_eq(fit.clock, clocks[i], 0.002, "%.4f for %.4f", fit.clock, clocks[i]);
        cr_expect_float_eq(fit.delay, late, 0.008, "%.4f for %.4f", fit.delay, late);
        cr_expect_lt(fit.spectrum_db, 1.5);
        cr_expect_lt(fit.pitch, 0.5);
        hy_heard_free(&heard);
    }
    hy_reference_free(r);
}

Test(diagnose, clocks_far_off_are_found_unless_pitch_objects)
{
    static const double clocks[] = {0.62, 0.8, 1.3, 1.6};
    hy_reference *r = reference(HY_HEALTHY, 0.0);
    hy_heard heard;
    hy_centre centre;
    for (size_t i = 0; i < 4; i++) {
        hear(&heard, i % 2 == 0 ? HY_HEALTHY : HYOID_FAULT_NO_NOISE, 1.0, clocks[i], 0.4);
        cr_assert_eq(hy_centre_find(&centre, &heard, r, &diag), 0);
        cr_expect_float_eq(centre.scale / clocks[i], 1.0, 0.005, "%.4f for %.4f", centre.scale, clocks[i]);
        cr_expect(centre.sure);
        hy_heard_free(&heard);
    }
    /* the tempo of a wrong timer, at the pitch of the right clock */
    hear(&heard, HYOID_FAULT_TIMER_FAST, 1.0, 1.0, 0.4);
    cr_assert_eq(hy_centre_find(&centre, &heard, r, &diag), 0);
    cr_expect_not(centre.sure);
    cr_expect_float_eq(centre.scale, 1.0, HY_CLOCK_REACH, "%.4f", centre.scale);
    hy_heard_free(&heard);
    /* silence has no clock */
    hear(&heard, HYOID_FAULT_STROBE_DEAD, 1.0, 1.0, 0.4);
    cr_assert_eq(hy_centre_find(&centre, &heard, r, &diag), 0);
    cr_expect_not(centre.sure);
    hy_heard_free(&heard);
    hy_reference_free(r);
}

Test(diagnose, pitch_tells_the_clock_of_a_log)
{
    hy_input as_log = {.log = input.log};
    hy_reference_setup fixed = setup;
    fixed.input = &as_log;
    hy_reference *r = hy_reference_make(&fixed, (hy_supposition){HY_HEALTHY, 0.0}, NULL, &diag);
    cr_assert_not_null(r, "%s", diag.text);
    cr_expect_lt(r->segment[r->segments - 1].chip_s, 1e-4, "times are the host's");
    const hy_fit_setup how = {1, 1.5, 3.0, NULL};
    hy_heard heard;
    hy_fit fit;
    const hy_reference_setup before = setup;
    setup = fixed;
    hear(&heard, HY_HEALTHY, 0.0, 1.02, 0.3);
    setup = before;
    cr_assert_eq(hy_fit_find(&fit, &heard, r, &how, NULL, &diag), 0);
    cr_assert_eq(hy_fit_judge(&fit, &heard, r, &how, &diag), 0);
    cr_expect_float_eq(fit.clock, 1.02, 0.006, "%.4f", fit.clock);
    cr_expect_float_eq(fit.delay, 0.3, 0.008, "%.4f", fit.delay);
    hy_heard_free(&heard);
    hy_reference_free(r);
}

Test(diagnose, the_fault_comes_first)
{
    static const hy_supposition tried[] = {{HY_HEALTHY, 0.0},
                                           {HYOID_FAULT_P3_LOW, 1.0},
                                           {HYOID_FAULT_I0_HIGH, 1.0},
                                           {HYOID_FAULT_TIMER_FAST, 1.0},
                                           {HYOID_FAULT_NO_NOISE, 1.0},
                                           {HYOID_FAULT_NO_VOICE, 1.0},
                                           {HYOID_FAULT_F1_DEAD, 1.0},
                                           {HYOID_FAULT_F2_DETUNED, 0.75},
                                           {HYOID_FAULT_GATE_CLOSED, 1.0},
                                           {HYOID_FAULT_STROBE_DEAD, 1.0},
                                           {HYOID_FAULT_WEAK, 0.5}};
    static const double strengths[] = {0, 1, 1, 1, 0.9, 1, 1, 0.6, 1, 1, 0.6};
    enum { TRIED = sizeof tried / sizeof tried[0] };
    hy_reference *all[TRIED];
    for (size_t i = 0; i < TRIED; i++) {
        all[i] = reference(tried[i].fault, tried[i].strength);
    }
    for (size_t i = 0; i < TRIED; i++) {
        hy_heard heard;
        hy_diagnosis d;
        hy_evidence evidence;
        const hy_rank_setup how = {all, TRIED, 1, 1.5, NULL, NULL};
        hear(&heard, tried[i].fault, strengths[i], 1.012, 0.25);
        cr_assert_eq(hy_rank(&d, &heard, &how, &diag), 0, "%s", diag.text);
        size_t rank = 0;
        while (d.candidate[rank].reference->is.fault != tried[i].fault) {
            rank++;
        }
        cr_expect_eq(d.candidate[rank].group, 0, "%s is at %zu behind %s", hy_fault_name(tried[i].fault), rank,
                     hy_fault_name(d.candidate[0].reference->is.fault));
        cr_expect_eq(d.finding, i == 0 ? HY_IS_HEALTHY : HY_IS_FAULTY, "%s", hy_fault_name(tried[i].fault));
        hy_evidence_find(&evidence, &d, &d.candidate[rank], &heard);
        cr_expect_gt(evidence.lines, 0);
        hy_heard_free(&heard);
    }
    /* groups: only what sounds the same */
    cr_expect(hy_sound_alike(all[5], all[6], NULL, 0), "no voice, or none behind the first section");
    cr_expect(hy_sound_alike(all[8], all[9], NULL, 0), "silence is silence");
    cr_expect_not(hy_sound_alike(all[0], all[10], NULL, 0));
    cr_expect(hy_sound_alike(all[0], all[10], NULL, 1), "a weak chip and a quiet recorder");
    cr_expect_not(hy_sound_alike(all[4], all[5], NULL, 1));
    cr_expect_not(hy_sound_alike(all[8], all[0], NULL, 1), "silence is like nothing else, at any gain");
    cr_expect_not(hy_sound_alike(all[0], all[8], NULL, 1));
    for (size_t i = 0; i < TRIED; i++) {
        hy_reference_free(all[i]);
    }
}

Test(diagnose, other_speech_is_not_explained)
{
    size_t count;
    const hy_supposition *suppositions = hy_suppositions(&count);
    hy_reference *all[2] = {reference(HY_HEALTHY, 0.0), reference(suppositions[1].fault, 1.0)};
    static float x[3 * HY_ANALYSIS_RATE];
    for (size_t i = 0; i < 3 * HY_ANALYSIS_RATE; i++) { /* a chirp that comes and goes */
        double t = (double)i / HY_ANALYSIS_RATE;
        x[i] = (float)(0.4 * sin(6.2831853 * (300.0 * t + 900.0 * t * t)) * (sin(9.0 * t) > 0.2));
    }
    hy_heard heard;
    hy_diagnosis d;
    hy_recording *recording = hy_recording_from("test", x, 3 * HY_ANALYSIS_RATE, HY_ANALYSIS_RATE, &diag);
    cr_assert_not_null(recording, "%s", diag.text);
    cr_assert_eq(hy_heard_make(&heard, recording, &diag), 0, "%s", diag.text);
    const hy_rank_setup how = {all, 2, 0, 1.5, NULL, NULL};
    cr_assert_eq(hy_rank(&d, &heard, &how, &diag), 0, "%s", diag.text);
    cr_expect_eq(d.finding, HY_NOT_EXPLAINED, "%.1f dB", d.candidate[0].fit.spectrum_db);
    hy_heard_free(&heard);
    hy_recording_free(recording);
    hy_reference_free(all[0]);
    hy_reference_free(all[1]);
}
