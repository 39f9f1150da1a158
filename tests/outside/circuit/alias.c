/* What hyoid_stream adds to the staircase that it brings to the host's rate: aliases, noise, jitter of the edges.
 *
 * Constant clock: a steady vowel's lines are known in closed form (steady.h). Those that belong into the audible band are taken
 * away, with the gain that the stream's low-pass has there; what is left is the stream's own doing.
 *
 * Moving clock: nothing repeats, so the staircase is filtered by brute force, with a longer and sharper low-pass than the
 * stream's, every edge at the time at which the integral of f dt, solved here in long double, is its number. The
 * difference is the stream's own doing, ripple of its pass band included.
 *
 * The low-pass itself is read off the core, one step at 1024 places within a sample: pass band, stop band. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "internal.h"
#include "steady.h"

static const double pi = 3.14159265358979323846;
static const double audible = 20000.0; /* Hz */
static const double limit_db = -110.0; /* of what is left, re the strongest line, and re the signal */
static const double pass = 0.42;       /* of the host's rate: flat up to here */
static const double pass_limit_db = 0.1;
static const double stop_limit_db = -120.0; /* the design: reference/kernel/make_kernel.c */
static const double late = 2e-9;            /* s: the control's error of time */

enum { VOWEL = 0x00, HISS = 0x1f, SIZE = 32768, HALF = HYOID_TAPS / 2 };
static bool failed;

static void judge(bool well)
{
    failed = failed || !well;
    printf("%s\n", well ? "" : "  MISS");
}

/* ---- the stream's low-pass ---- */

enum { FINE = 1024, GAINS = 2048, GAIN_TOP = 2 }; /* places in a sample; gains a host rate; up to twice that */
static double tail[HALF * FINE + 1];              /* step response less the sharp step, from its middle on */
static double gains[GAINS * GAIN_TOP + 1];

/* One step of 1 at a fraction of a sample; what it leaves in the bins is read there, before it is rounded to float. */
static void read_step_response(void)
{
    const hyoid_observer nobody = {0};
    for (int place = 0; place < FINE; place++) {
        hyoid_output output;
        hyoid_output_init(&output, 8000);
        const double at = 100.0 + (double)place / FINE; /* in samples of 125 us */
        hyoid_output_step(&output, 0, at * 125e6, 1.0, &nobody);
        for (int k = 1; k <= HALF; k++) {
            int index = k * FINE - place;
            tail[index] = output.bin[100 + k - output.first];
        }
    }
    tail[0] = -0.5;
}

/* The low-pass is even, so the step less the sharp step is odd about its middle: with D that difference,
 * G(f) = 1 + 2 (2 pi f) integral of D(t) sin(2 pi f t) dt over t > 0. Simpson's rule. */
static void find_gains(void)
{
    for (int g = 0; g <= GAINS * GAIN_TOP; g++) {
        const double w = 2.0 * pi * g / GAINS;
        const double complex turn = cexp(I * w / FINE);
        double complex rotor = 1.0;
        double sum = 0.0;
        for (int i = 1; i <= HALF * FINE; i++) {
            rotor = i % 256 == 0 ? cexp(I * w * i / FINE) : rotor * turn;
            double weight = i == HALF * FINE ? 1.0 : i % 2 == 0 ? 2.0 : 4.0;
            sum += weight * tail[i] * cimag(rotor);
        }
        gains[g] = 1.0 + 2.0 * w * sum / (3.0 * FINE);
    }
}

/* At any f (re the host's rate) below GAIN_TOP, through six points. */
static double gain_at(double f)
{
    const double x = f * GAINS;
    const int first = x < 2.0 ? 0 : (int)x - 2;
    double sum = 0.0;
    for (int i = 0; i < 6; i++) {
        double term = gains[first + i];
        for (int k = 0; k < 6; k++) {
            term *= k == i ? 1.0 : (x - first - k) / (i - k);
        }
        sum += term;
    }
    return sum;
}

static void check_low_pass(void)
{
    printf("low-pass, gain at share of the host's rate\n");
    for (int i = 2; i <= 10; i++) {
        printf("  %.2f  %9.5f dB\n", i * 0.05, steady_db(fabs(gain_at(i * 0.05))));
    }
    double ripple = 0.0, flat = 0.0;
    for (int g = 0; g <= GAINS; g++) {
        double off = fabs(steady_db(fabs(gains[g])));
        ripple = g <= pass * GAINS ? fmax(ripple, off) : ripple;
        if (off > pass_limit_db) {
            flat = (g - 1.0) / GAINS;
            break;
        }
    }
    printf("  within %.1f dB to %.4f; to %.2f the worst is %.5f dB", pass_limit_db, flat, pass, ripple);
    judge(ripple <= pass_limit_db);
    static const double rates[] = {44100.0, 48000.0, 96000.0};
    for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
        double worst = 0.0;
        for (int g = (int)ceil((1.0 - audible / rates[i]) * GAINS); g <= GAINS * GAIN_TOP; g++) {
            double folded = fabs(g - round((double)g / GAINS) * GAINS) / GAINS * rates[i];
            worst = folded <= audible ? fmax(worst, fabs(gains[g])) : worst;
        }
        printf("  host %5.0f Hz: what folds below %.0f kHz comes through at no more than %.1f dB", rates[i],
               audible / 1e3, steady_db(worst));
        judge(steady_db(worst) <= stop_limit_db);
    }
}

/* ---- spectra ---- */

static double bessel_i0(double x)
{
    double sum = 1.0, term = 1.0;
    for (int k = 1; term > 1e-20 * sum; k++) {
        term *= x * x / (4.0 * k * k);
        sum += term;
    }
    return sum;
}

static double kaiser(double x, double beta) /* -1 < x < 1 */
{
    return x <= -1.0 || x >= 1.0 ? 0.0 : bessel_i0(beta * sqrt(1.0 - x * x)) / bessel_i0(beta);
}

/* Beta 22: side lobes below -200 dB. */
static double window[SIZE];
static double window_sum, window_power;

static void make_window(void)
{
    for (int n = 0; n < SIZE; n++) {
        window[n] = kaiser((n + 0.5) * 2.0 / SIZE - 1.0, 22.0);
        window_sum += window[n];
        window_power += window[n] * window[n];
    }
}

static void fourier(double complex *a, int n)
{
    for (int i = 1, j = 0; i < n; i++) {
        int bit = n >> 1;
        for (; j & bit; bit >>= 1) {
            j ^= bit;
        }
        j |= bit;
        if (i < j) {
            double complex other = a[i];
            a[i] = a[j];
            a[j] = other;
        }
    }
    for (int half = 1; half < n; half *= 2) {
        for (int k = 0; k < half; k++) {
            const double complex turn = cexp(-I * pi * k / half);
            for (int i = k; i < n; i += 2 * half) {
                double complex odd = a[i + half] * turn;
                a[i + half] = a[i] - odd;
                a[i] += odd;
            }
        }
    }
}

/* Strongest line and root mean square of what lies between two frequencies; the mean is left out. */
typedef struct content {
    double strongest, at, rms;
} content;

static content between(const double *signal, double rate, double bottom, double top)
{
    static double complex bins[SIZE];
    content c = {0};
    for (int n = 0; n < SIZE; n++) {
        bins[n] = signal[n] * window[n];
    }
    fourier(bins, SIZE);
    double power = 0.0;
    const int first = (int)fmax(16.0, ceil(bottom * SIZE / rate));
    for (int k = first; k < SIZE / 2 && k * rate / SIZE < top; k++) {
        double size = cabs(bins[k]);
        power += 2.0 * size * size / (SIZE * window_power);
        if (2.0 * size / window_sum > c.strongest) {
            c.strongest = 2.0 * size / window_sum;
            c.at = k * rate / SIZE;
        }
    }
    c.rms = sqrt(power);
    return c;
}

static bool report(const content *whole, const content *left)
{
    double line = steady_db(left->strongest / whole->strongest), rms = steady_db(left->rms / whole->rms);
    printf(" %8.1f %9.1f %9.1f %9.1f %10.1f", steady_db(whole->strongest), line, left->at, rms,
           steady_db(left->strongest));
    return line <= limit_db && rms <= limit_db;
}

static void heading(const char *what)
{
    printf("\n%s\n%-34s %8s %9s %9s %9s %10s\n", what, "", "line", "rest", "at", "rms", "rest");
    printf("%-34s %8s %9s %9s %9s %10s\n", "", "dBFS", "dB", "Hz", "dB", "dBFS");
}

/* ---- constant clock ---- */

/* Whether what is left is within the limit; `off` seconds are added to the time at which the lines are expected. */
static bool clock_within(double clock_hz, uint32_t rate, double off)
{
    static double whole[SIZE], left[SIZE];
    steady s;
    steady_render(&s, VOWEL, clock_hz, rate, true, SIZE);
    for (int n = 0; n < SIZE; n++) {
        whole[n] = (double)s.frames[n];
        left[n] = whole[n] - creal(steady_line(&s, 0));
    }
    /* a little further than is judged, so that the edge of the band does not leak into it */
    const double top = fmin(audible + 100.0, 0.5 * rate);
    for (unsigned j = 1; (double)s.f0 * j < top; j++) {
        const double complex line = 2.0 * steady_line(&s, j) * gain_at((double)(s.f0 * j / rate));
        const double complex turn = cexp(2.0 * I * pi * (double)(s.f0 * j / rate));
        double complex rotor = 0.0;
        for (int n = 0; n < SIZE; n++) {
            if (n % 256 == 0) {
                long double t = (long double)(s.first + n) / rate - s.origin + off;
                rotor = line * cexp(2.0 * I * pi * (double)fmodl(s.f0 * j * t, 1.0L));
            }
            left[n] -= creal(rotor);
            rotor *= turn;
        }
    }
    const content all = between(whole, rate, 0.0, audible), rest = between(left, rate, 0.0, audible);
    printf("  %9.1f Hz %6u Hz          ", clock_hz, (unsigned)rate);
    steady_free(&s);
    return report(&all, &rest);
}

/* With the images left out nothing may be left above 0.58 of the filter rate, where the first image would be. */
static void check_images_left_out(double clock_hz, uint32_t rate)
{
    static double whole[SIZE];
    steady s;
    steady_render(&s, VOWEL, clock_hz, rate, false, SIZE);
    for (int n = 0; n < SIZE; n++) {
        whole[n] = (double)s.frames[n];
    }
    const double fs = clock_hz / hyoid_part_default()->filter_clocks;
    const content all = between(whole, rate, 0.0, audible), rest = between(whole, rate, 0.58 * fs, audible);
    printf("  %9.1f Hz %6u Hz          ", clock_hz, (unsigned)rate);
    steady_free(&s);
    judge(report(&all, &rest));
}

/* ---- moving clock ---- */

typedef struct stretch {
    double start;          /* s */
    double from_hz, to_hz; /* linear from its start to the next one's */
} stretch;

enum { STRETCHES = 8 };
typedef struct schedule {
    const char *name;
    unsigned code;
    stretch stretch[STRETCHES]; /* the last one has from_hz == to_hz and no end; unused ones start at 0 */
} schedule;

/* Chosen so that the clock moves within the samples that are judged (1.3 s on, 0.34 s to 0.75 s long). */
static const schedule schedules[] = {
    {"vowel, 713337.1 Hz", VOWEL, {{0, 713337.1, 713337.1}}},
    {"hiss, 720 kHz", HISS, {{0, 720e3, 720e3}}},
    {"hiss, 1.3 MHz", HISS, {{0, 1.3e6, 1.3e6}}},
    {"vowel, 900 to 250 kHz", VOWEL, {{0, 900e3, 900e3}, {1.1, 900e3, 250e3}, {2.2, 250e3, 250e3}}},
    {"hiss, 200 kHz to 2 MHz", HISS, {{0, 200e3, 200e3}, {1.25, 200e3, 2e6}, {1.9, 2e6, 2e6}}},
    {"vowel, jumps, a halt",
     VOWEL,
     {{0, 720e3, 720e3},
      {1.4, 311111.1, 311111.1},
      {1.45, 0, 0},
      {1.47, 1.2e6, 1.2e6},
      {1.531, 1.2e6, 0.4e6},
      {1.6, 650e3, 650e3}}},
};

static long double edge_time(const void *user, uint64_t cycle)
{
    const schedule *s = user;
    long double left = (long double)cycle;
    for (int i = 0;; i++) {
        const stretch *a = &s->stretch[i];
        const bool last = i + 1 == STRETCHES || s->stretch[i + 1].start <= a->start;
        const long double span = last ? 1.0L : (long double)s->stretch[i + 1].start - (long double)a->start;
        const long double f = a->from_hz, slope = ((long double)a->to_hz - f) / span;
        if (last || left <= f * span + slope * span * span / 2.0L) {
            return a->start + (left == 0.0L ? 0.0L : 2.0L * left / (f + sqrtl(f * f + 2.0L * slope * left)));
        }
        left -= f * span + slope * span * span / 2.0L;
    }
}

static void follow(hyoid_stream *stream, const schedule *s)
{
    for (int i = 0; i < STRETCHES && (i == 0 || s->stretch[i].start > s->stretch[i - 1].start); i++) {
        const stretch *a = &s->stretch[i];
        int64_t ps = (int64_t)llround(a->start * 1e12);
        hyoid_stream_set_clock(stream, ps, a->from_hz);
        if (a->to_hz != a->from_hz) {
            hyoid_stream_glide_clock(stream, ps, (int64_t)llround(s->stretch[i + 1].start * 1e12), a->to_hz);
        }
    }
}

/* The reference low-pass: sinc under a Kaiser window, REACH host samples to either side, flat to `top` and down by 160 dB from
 * where what folds to `top` comes from. Its step response on a grid, with its slope, for cubics between. */
enum { REACH = 48, GRID = 512 };
static double steps[2 * REACH * GRID + 1], slopes[2 * REACH * GRID + 1];

static double reference_kernel(double t, double cut)
{
    double a = 2.0 * pi * cut * t;
    return 2.0 * cut * (fabs(a) < 1e-9 ? 1.0 : sin(a) / a) * kaiser(t / REACH, 0.1102 * (170.0 - 8.7));
}

static void make_reference(void)
{
    const double cut = 0.5; /* halfway between f and 1 - f */
    for (int i = 0; i <= 2 * REACH * GRID; i++) {
        slopes[i] = reference_kernel((double)i / GRID - REACH, cut);
        if (i > 0) { /* Simpson */
            double middle = reference_kernel((i - 0.5) / GRID - REACH, cut);
            steps[i] = steps[i - 1] + (slopes[i - 1] + 4.0 * middle + slopes[i]) / (6.0 * GRID);
        }
    }
    const double area = steps[2 * REACH * GRID];
    for (int i = 0; i <= 2 * REACH * GRID; i++) {
        steps[i] /= area;
        slopes[i] /= area;
    }
}

static double reference_step(double t)
{
    const double x = (t + REACH) * GRID;
    if (x <= 0.0) {
        return 0.0;
    }
    if (x >= 2.0 * REACH * GRID) {
        return 1.0;
    }
    const int i = (int)x;
    const double f = x - i, d = steps[i + 1] - steps[i], a = slopes[i] / GRID, b = slopes[i + 1] / GRID;
    return steps[i] + f * (a + f * (3.0 * d - 2.0 * a - b + f * (a + b - 2.0 * d)));
}

static void check_schedule(const schedule *s, uint32_t rate)
{
    static double whole[SIZE], left[SIZE];
    const int64_t first = (int64_t)(1.3 * rate);
    const double top = fmin(audible, pass * rate);

    recording r = {.edge_time = edge_time, .schedule = s};
    const hyoid_observer observer = recording_observer(&r);
    hyoid_stream stream;
    hyoid_stream_init(&stream, hyoid_part_default(), rate, &observer);
    hyoid_stream_write(&stream, 0, s->code);
    follow(&stream, s);
    hyoid_stream_run(&stream, (int64_t)((double)(first + SIZE + 2 * REACH) / rate * 1e12));
    if (r.frame_count < (size_t)first + SIZE) {
        printf("FAIL: too few host samples\n");
        exit(1);
    }
    for (int n = 0; n < SIZE; n++) {
        left[n] = whole[n] = (double)r.frames[first + n];
    }
    static double held[SIZE + 1]; /* changes of the level that the edges well past leave behind */
    memset(held, 0, sizeof held);
    double before = 0.0;
    for (size_t i = 0; i < r.level_count; i++) {
        const double delta = r.levels[i].value - before;
        const double place = (double)(edge_time(s, r.levels[i].cycle) * rate - (long double)first);
        before = r.levels[i].value;
        if (place > SIZE + REACH) {
            break;
        }
        int from = (int)floor(place) - REACH, to = from + 2 * REACH + 2;
        from = from < 0 ? 0 : from;
        to = to < 0 ? 0 : to > SIZE ? SIZE : to;
        for (int n = from; n < to; n++) {
            left[n] -= delta * reference_step(n - place);
        }
        held[to] += delta;
    }
    for (int n = 0; n < SIZE; n++) {
        held[n] += n > 0 ? held[n - 1] : 0.0;
        left[n] -= held[n];
    }
    const content all = between(whole, rate, 0.0, top), rest = between(left, rate, 0.0, top);
    printf("  %-22s %6u Hz", s->name, (unsigned)rate);
    bool well = report(&all, &rest);
    printf("   edges within %.3f ps", r.worst_edge);
    judge(well && r.worst_edge < 1.0);
    recording_free(&r);
}

int main(void)
{
    static const double clocks[] = {50e3, 100e3, 300e3, 650e3, 720e3, 713337.1, 1.0e6, 1.3e6, 3e6};
    static const uint32_t rates[] = {44100, 48000, 96000};
    read_step_response();
    find_gains();
    check_low_pass();
    make_window();
    make_reference();

    printf(
        "\nline: the strongest; rest: the strongest of what does not belong there, re that line, and where it lies;\n"
        "rms: all of the rest re all of the signal. Up to %.0f kHz.\n",
        audible / 1e3);
    heading("constant clock");
    for (size_t c = 0; c < sizeof clocks / sizeof clocks[0]; c++) {
        for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
            judge(clock_within(clocks[c], rates[i], 0.0));
        }
    }
    printf("  control: the same, %.0f ns late, must not pass\n", late * 1e9);
    judge(!clock_within(720e3, 48000, late));

    heading("images left out: what there is from 0.58 of the filter rate on");
    for (size_t c = 0; c < 5; c++) {
        for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
            check_images_left_out(clocks[c], rates[i]);
        }
    }
    heading("by brute force, clock constant and moving");
    for (size_t k = 0; k < sizeof schedules / sizeof schedules[0]; k++) {
        for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
            check_schedule(&schedules[k], rates[i]);
        }
    }
    printf("\n%s: limit %.0f dB\n", failed ? "FAIL" : "ok", limit_db);
    return failed ? 1 : 0;
}
