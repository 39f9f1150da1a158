/* The pieces of a recording's analysis, on signals whose answers are known. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/compare/compare.h"
#include "recording/align.h"
#include "recording/align_private.h"
#include "recording/figures_private.h"
#include "recording/floor.h"
#include "recording/lpc.h"
#include "recording/pitch.h"
#include "recording/recording.h"
#include "recording/spectrum.h"

static const double two_pi = 6.283185307179586476925286766559;
enum { RATE = HY_ANALYSIS_RATE };

static float *sound(size_t count)
{
    float *x = calloc(count, sizeof *x);
    cr_assert_not_null(x);
    return x;
}

static float noise(uint32_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return (float)((double)*state / 2147483648.0 - 1.0);
}

/* ---- reading ---- */

Test(recording, resamples_and_takes_dc_out)
{
    const size_t n = 44100;
    float *x = sound(n);
    for (size_t i = 0; i < n; i++) {
        x[i] = (float)(0.1 + 0.5 * sin(two_pi * 440.0 * (double)i / 44100.0));
    }
    hy_diag diag = {""};
    hy_recording *r = hy_recording_from("tone", x, n, 44100.0, &diag);
    cr_assert_not_null(r, "%s", diag.text);
    cr_expect(fabs(r->dc - 0.1) < 1e-3);
    cr_expect(fabs(r->seconds - 1.0) < 1e-9);
    cr_expect(labs((long)r->count - RATE) <= 2);
    cr_expect_eq(r->top_hz, 10000.0);
    double worst = 0;
    for (size_t i = 2000; i + 2000 < r->count; i++) {
        double wanted = 0.5 * sin(two_pi * 440.0 * (double)i / RATE);
        worst = fmax(worst, fabs((double)r->samples[i] - wanted));
    }
    cr_expect(worst < 1e-3, "%g", worst);
    hy_recording_free(r);
    free(x);
}

Test(recording, refuses_what_is_none)
{
    float *x = sound(RATE);
    hy_diag diag = {""};
    hy_recording *silence = hy_recording_from("silence", x, RATE, RATE, &diag);
    cr_assert_not_null(silence, "%s", diag.text);
    cr_expect_eq(silence->silent, 1);
    cr_expect_eq(hy_recording_must_sound(silence, &diag), -1);
    hy_recording_free(silence);
    cr_expect(strstr(diag.text, "silent") != NULL, "%s", diag.text);
    x[100] = NAN;
    diag.text[0] = '\0';
    cr_expect_null(hy_recording_from("nan", x, RATE, RATE, &diag));
    cr_expect(strstr(diag.text, "sample 100") != NULL, "%s", diag.text);
    diag.text[0] = '\0';
    cr_expect_null(hy_recording_from("short", x, 100, RATE, &diag));
    diag.text[0] = '\0';
    cr_expect_null(hy_recording_from("rate", x, RATE, 0.0, &diag));
    cr_expect(strstr(diag.text, "4000") != NULL, "%s", diag.text);
    free(x);
}

Test(recording, sees_flat_tops_and_none_in_a_tone)
{
    float *x = sound(RATE);
    hy_diag diag = {""};
    for (int clip = 0; clip <= 1; clip++) {
        for (int i = 0; i < RATE; i++) {
            double v = 0.9 * sin(two_pi * 331.0 * i / RATE);
            x[i] = (float)(clip ? fmax(-0.5, fmin(0.5, v)) : v);
        }
        hy_recording *r = hy_recording_from("tone", x, RATE, RATE, &diag);
        cr_assert_not_null(r);
        cr_expect(clip ? r->clipped > RATE / 10 : r->clipped == 0, "clip %d: %llu", clip,
                  (unsigned long long)r->clipped);
        hy_recording_free(r);
        for (int i = 0; i < RATE / 2; i++) { /* the first half is quieter: it is not clipped */
            x[i] *= 0.5F;
        }
        r = hy_recording_from("tone", x, RATE, RATE, &diag);
        cr_assert_not_null(r);
        cr_expect_eq(hy_recording_tops(r, -1.0, 0.49), 0);
        cr_expect_float_eq((double)hy_recording_tops(r, 0.5, 99.0), clip ? 331.0 : 0.0, 2.0);
        hy_recording_free(r);
    }
    free(x);
}

/* ---- spectra, pitch, resonances ---- */

Test(recording, power_density_integrates_to_the_mean_square)
{
    float *x = sound(RATE);
    uint32_t state = 7;
    double square = 0;
    for (int i = 0; i < RATE; i++) {
        x[i] = noise(&state);
        square += (double)x[i] * (double)x[i] / RATE;
    }
    hy_stft *stft = hy_stft_new(600, 1024);
    float power[513];
    double sum = 0;
    int frames = 0;
    for (int at = 600; at < RATE - 600; at += 300) {
        hy_stft_power(stft, x, RATE, at, power);
        for (int k = 0; k < 513; k++) {
            sum += (double)power[k] * RATE / 1024;
        }
        frames++;
    }
    cr_expect(fabs(sum / frames / square - 1.0) < 0.05, "%g against %g", sum / frames, square);
    hy_stft_free(stft);
    free(x);
}

Test(recording, bands_of_a_flat_spectrum_are_flat)
{
    for (int fft = 512; fft <= HY_BAND_FFT; fft *= 2) {
        hy_bands bands;
        float power[HY_BAND_FFT / 2 + 1], energy[HY_BANDS];
        for (int k = 0; k <= fft / 2; k++) {
            power[k] = 3.0f;
        }
        hy_bands_make(&bands, fft);
        hy_bands_take(&bands, power, energy);
        for (int b = 0; b < HY_BANDS; b++) {
            cr_expect(fabs((double)energy[b] - 3.0) < 1e-4, "band %d of %d", b, fft);
            cr_expect(b == 0 || bands.centre[b] > bands.centre[b - 1]);
        }
    }
}

Test(recording, quantile_is_that_of_the_sorted_values)
{
    double v[] = {5, 1, 4, 1, 3, 9, 2, 6};
    cr_expect_eq(hy_quantile(v, 8, 0.0), 1.0);
    cr_expect_eq(hy_quantile(v, 8, 1.0), 9.0);
    cr_expect_eq(hy_quantile(v, 8, 0.5), 3.5);
    cr_expect_eq(hy_quantile(v, 0, 0.5), 0.0);
    double same[] = {2, 2, 2};
    cr_expect_eq(hy_quantile(same, 3, 0.7), 2.0);
}

Test(recording, pitch_of_pulses_to_a_thousandth)
{
    for (double f0 = 62.0; f0 < 240.0; f0 *= 1.31) {
        float *x = sound(RATE);
        double phase = 0;
        for (int i = 1; i < RATE; i++) { /* pulses through a resonance, as a voice is made */
            phase += f0 / RATE;
            double pulse = phase >= 1 ? 1 : 0;
            phase -= phase >= 1 ? 1 : 0;
            x[i] = (float)(pulse + 1.85 * (double)x[i - 1] - 0.9 * (i > 1 ? (double)x[i - 2] : 0.0));
        }
        hy_pitch_signal s;
        hy_diag diag = {""};
        cr_assert_eq(hy_pitch_signal_make(&s, x, RATE, &diag), 0);
        double likeness, hz = hy_pitch_at(&s, 0.5, f0 * 0.7, f0 * 1.4, &likeness);
        cr_expect(fabs(hz / f0 - 1) < 2e-3, "%g Hz for %g Hz", hz, f0);
        cr_expect(likeness > 0.9);
        cr_expect_eq(hy_pitch_at(&s, 0.001, 60, 200, NULL), 0.0, "beyond the signal");
        hy_pitch_signal_free(&s);
        free(x);
    }
}

Test(recording, resonances_of_a_known_spectrum)
{
    static const double hz[] = {520, 1190, 2390}, width[] = {60, 90, 120};
    double power[108];
    const double bin = 46.875;
    for (int k = 0; k < 108; k++) {
        power[k] = 1;
        for (int f = 0; f < 3; f++) {
            double x = k * bin, a = hz[f] * hz[f], b = x * x;
            power[k] *= a * a / ((b - a) * (b - a) + b * width[f] * width[f]);
        }
    }
    hy_resonances found = hy_lpc_resonances(power, 108, bin, 10);
    cr_assert_geq(found.count, 3);
    for (int f = 0; f < 3; f++) {
        double off = 1e9;
        for (int i = 0; i < found.count; i++) {
            off = fmin(off, fabs(found.hz[i] - hz[f]));
        }
        cr_expect(off < 0.02 * hz[f], "formant at %g Hz is %g Hz off", hz[f], off);
    }
    double nothing[8] = {0};
    cr_expect_eq(hy_lpc_resonances(nothing, 8, bin, 4).count, 0);
}

Test(recording, distances_of_known_differences)
{
    double d[HY_BANDS];
    for (int b = 0; b < HY_BANDS; b++) {
        d[b] = 3.0; /* level alone */
    }
    cr_expect(hy_log_spectral_distance(d) < 1e-6);
    cr_expect(hy_mel_cepstral_distance(d) < 1e-9);
    const double size = 2.0; /* dB: ln|H| differs by size ln10 / 20 cos: c[3] alone */
    for (int b = 0; b < HY_BANDS; b++) {
        d[b] = size * cos(two_pi / 2 * 3 * (b + 0.5) / HY_BANDS);
    }
    cr_expect(fabs(hy_log_spectral_distance(d) - size / sqrt(2)) < 1e-6);
    cr_expect(fabs(hy_mel_cepstral_distance(d) - 10 / log(10) * sqrt(2) * size * log(10) / 20) < 1e-6);
    d[4] = NAN;
    cr_expect(isfinite(hy_mel_cepstral_distance(d)) && isfinite(hy_log_spectral_distance(d)));
}

/* ---- hum ---- */

Test(recording, hum_is_measured_and_taken_out)
{
    const size_t n = 6 * RATE;
    float *x = sound(n);
    for (int with = 0; with <= 1; with++) {
        uint32_t state = 11;
        for (size_t i = 0; i < n; i++) {
            double t = (double)i / RATE, speech = fmod(t, 0.5) < 0.3 ? 0.2 * sin(two_pi * 110 * t) : 0.0;
            double hum = with ? 0.02 * sin(two_pi * 49.96 * t) + 0.01 * sin(two_pi * 99.92 * t + 1) : 0.0;
            x[i] = (float)(speech + hum) + 1e-3f * noise(&state);
        }
        hy_diag diag = {""};
        hy_hum hum;
        hy_recording *r = hy_recording_from("hum", x, n, RATE, &diag);
        cr_assert_not_null(r);
        cr_assert_eq(hy_hum_remove(r, &hum, &diag), 0);
        if (with) {
            cr_expect_eq(hum.nominal_hz, 50.0);
            cr_expect(fabs(hum.mains_hz - 49.96) < 0.03, "%g", hum.mains_hz);
            cr_expect(fabs(hum.line_db[0] - 20 * log10(0.02 / sqrt(2))) < 1.0, "%g", hum.line_db[0]);
            double left = 0;
            for (size_t i = RATE; i < 5 * RATE; i++) {
                left += (double)r->samples[i] * sin(two_pi * 49.96 * (double)i / RATE) / (2 * RATE);
            }
            cr_expect(fabs(left) < 0.002, "%g of 0.02 is left", left);
        } else {
            cr_expect_eq(hum.nominal_hz, 0.0, "hum in a voice of 110 Hz");
        }
        hy_recording_free(r);
    }
    free(x);
}

/* ---- paths ---- */

Test(recording, a_path_follows_a_stretch)
{
    enum { N = 120, STRETCH = 40, M = N + STRETCH + 10 };
    unsigned char a[N * HY_BANDS], b[M * HY_BANDS];
    for (int i = 0; i < N; i++) {
        for (int k = 0; k < HY_BANDS; k++) {
            a[i * HY_BANDS + k] = (unsigned char)(120 + 100 * sin(0.05 * i * (1 + k % 5)));
        }
    }
    for (int j = 0; j < M; j++) { /* ten frames late; what lies at 60 lasts forty frames longer */
        int i = j - 10;
        i = i < 0 ? 0 : i < 60 ? i : i < 60 + STRETCH ? 60 : i - STRETCH;
        memcpy(b + j * HY_BANDS, a + i * HY_BANDS, HY_BANDS);
    }
    const hy_levels model = {a, N, 0.005}, recording = {b, M, 0.005};
    hy_path path = {0};
    hy_diag diag = {""};
    cr_assert_eq(hy_path_find(&path, &model, &recording, NULL, 0, &diag), 0);
    cr_expect(abs(path.at[30] - 40) <= 1, "%d", path.at[30]);
    cr_expect(abs(path.at[100] - (110 + STRETCH)) <= 1, "%d", path.at[100]);
    for (int i = 1; i < N; i++) {
        cr_expect(path.at[i] >= path.at[i - 1]);
    }
    int near[N];
    for (int i = 0; i < N; i++) {
        near[i] = path.at[i];
    }
    hy_path again = {0};
    cr_assert_eq(hy_path_find(&again, &model, &recording, near, 6, &diag), 0);
    cr_expect(fabs(again.cost - path.cost) < 1e-9, "a band around the path finds one as good: %g, %g", again.cost,
              path.cost);
    hy_path_free(&path);
    hy_path_free(&again);
}

/* ---- model ---- */

Test(recording, a_scaled_model_keeps_its_phonemes_and_their_times)
{
    hy_diag diag = {""};
    FILE *text = tmpfile();
    fputs("clock 720k aa iy rest 100ms s aa\n", text);
    rewind(text);
    hy_score *score = hy_score_read(text, "test", &diag);
    fclose(text);
    cr_assert_not_null(score, "%s", diag.text);
    hy_input input = {.score = score, .from_score = 1};
    hy_model_setup setup = {.input = &input,
                            .part = hyoid_part_default(),
                            .host = {.clock_hz = 720e3, .level = 1},
                            .scale = 1.0,
                            .tail = 0.03,
                            .longest = 100};
    hy_model *one = hy_model_render(&setup, &diag);
    setup.scale = 0.8;
    setup.offset_ms = 33;
    hy_model *slow = hy_model_render(&setup, &diag);
    cr_assert(one != NULL && slow != NULL, "%s", diag.text);
    cr_assert_eq(one->spoken_count, 4);
    cr_assert_eq(slow->spoken_count, 4);
    const double lead = HY_MODEL_LEAD_MS * 1e-3, rest = 0.1;
    for (int i = 0; i < 4; i++) {
        cr_expect_eq(one->spoken[i].code, slow->spoken[i].code);
        double said = one->spoken[i].from - lead - (i > 1 ? rest : 0), late = i > 1 ? rest : 0;
        cr_expect(fabs(slow->spoken[i].from - lead - late - said / 0.8) < 2e-4, "phoneme %d", i);
        cr_expect(fabs(slow->spoken[i].f1 / one->spoken[i].f1 - 0.8) < 0.01);
        cr_expect(fabs(slow->spoken[i].f0_hz / one->spoken[i].f0_hz - 0.8) < 1e-3);
    }
    setup.longest = 0.1;
    cr_expect_null(hy_model_render(&setup, &diag));
    cr_expect(strstr(diag.text, "lasts") != NULL, "%s", diag.text);
    hy_model_free(one);
    hy_model_free(slow);
    hy_score_free(score);
}

/* ---- limits ---- */

static int read_limits(const char *text, hy_limits *limits, hy_diag *diag)
{
    char path[] = "/tmp/hyoid-limits-XXXXXX";
    int descriptor = mkstemp(path);
    cr_assert_geq(descriptor, 0);
    FILE *out = fdopen(descriptor, "w");
    fputs(text, out);
    fclose(out);
    int result = hy_limits_read(limits, path, diag);
    remove(path);
    return result;
}

Test(recording, limits_of_a_code_go_before_those_of_all)
{
    hy_limits limits;
    hy_diag diag = {""};
    cr_assert_eq(hy_limits_read(&limits, NULL, &diag), 0, "%s", diag.text);
    for (int row = 0; row < HY_LIMIT_ROWS; row++) {
        cr_expect(limits.at[row][0].value > 0, "%s has no limit", hy_limit_row_name(row));
        cr_expect(strlen(limits.at[row][0].source) > 10, "%s has no source", hy_limit_row_name(row));
    }
    double duration = limits.at[HY_M_DURATION][0].value;
    hy_limits_free(&limits);
    cr_assert_eq(read_limits("quantity,code,limit,unit,source\nf1,0x15,2,%,tight\nf1,*,7,%,wide\nf1,3,,%,told\n",
                             &limits, &diag),
                 0, "%s", diag.text);
    cr_expect_eq(limits.at[HY_M_F1][0x15].value, 2.0);
    cr_expect_eq(limits.at[HY_M_F1][0].value, 7.0);
    cr_expect(isnan(limits.at[HY_M_F1][3].value));
    cr_expect_eq(limits.at[HY_M_DURATION][0].value, duration, "a row that is not there stays");
    hy_limits_free(&limits);
    cr_expect_eq(read_limits("quantity,code,limit,unit,source\nf1,64,2,%,x\n", &limits, &diag), -1);
    cr_expect(strstr(diag.text, ":2:4:") != NULL, "%s", diag.text);
}
