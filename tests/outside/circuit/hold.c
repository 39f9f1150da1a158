/* The staircase at the audio pin against theory: a level held for a filter cycle droops by sin(pi f/fs) / (pi f/fs), and each
 * line at f has images at k fs +- f that stand to it as f to k fs +- f.
 *
 *   hold TABLES      where hold_droop.csv and hold_images.csv are
 *
 * A steady vowel goes through the stream at a host rate of 192 kHz, over a whole number of its periods, so that its lines fall
 * on exact frequencies. Each is set against the spectrum of the chip's own levels. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "steady.h"

static const double pi = 3.14159265358979323846;
static const double limit_db = 0.01;
static const double flat_to = 0.42;     /* of the host's rate: beyond, the stream's own low-pass shows */
static const double weakest_db = -70.0; /* lines below this, re the strongest, are left out of the sweep */

enum { RATE = 192000, VOWEL = 0x00, LINE_MAX = 10000 };

static double fs;
static double gain[LINE_MAX]; /* of line j: host rate over chip's levels, dB */
static unsigned lines;
static bool failed;

static bool judge(double difference)
{
    bool well = fabs(difference) <= limit_db;
    failed = failed || !well;
    return well;
}

/* Magnitude of line j in the host's samples; the window holds a whole number of its periods. */
static double measured(const steady *s, unsigned j)
{
    const double complex turn = cexp(-2.0 * I * pi * (double)(s->f0 * j / s->rate));
    double complex rotor = 1.0, sum = 0.0;
    for (size_t n = 0; n < s->count; n++) {
        if (n % 256 == 0) {
            rotor = cexp(-2.0 * I * pi * (double)fmodl(s->f0 * j * (long double)n / s->rate, 1.0L));
        }
        sum += (double)s->frames[n] * rotor;
        rotor *= turn;
    }
    return cabs(sum) / (double)s->count;
}

static double droop_db(double f)
{
    return steady_db(fabs(steady_sinc(f / fs)));
}

/* What was measured at any f, straight between the two lines beside it; they lie 1/P of fs apart, so this is within
 * 0.0002 dB. `shift` takes f to its image: line k P + j or k P - j. */
static double droop_at(const steady *s, double f)
{
    double place = f / (double)s->f0;
    unsigned j = (unsigned)place;
    return gain[j] + (gain[j + 1] - gain[j]) * (place - j);
}

static double image_re_baseband_db(const steady *s, unsigned j, unsigned k, int sign)
{
    unsigned image = sign > 0 ? k * s->period + j : k * s->period - j;
    return gain[image] - gain[j];
}

/* Straight in log f, in which the ratio f / (k fs +- f) is straight to within 0.001 dB. */
static double image_at(const steady *s, double f, unsigned k, int sign)
{
    unsigned j = (unsigned)(f / (double)s->f0);
    double f1 = (double)s->f0 * j, f2 = (double)s->f0 * (j + 1);
    double a = image_re_baseband_db(s, j, k, sign), b = image_re_baseband_db(s, j + 1, k, sign);
    return a + (b - a) * log(f / f1) / log(f2 / f1);
}

static FILE *open_table(const char *folder, const char *name)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        perror(path);
        exit(1);
    }
    return file;
}

/* `of_fs`: the table's rate whose rows are taken; frequencies scale with the clock. */
static void against_droop_table(const steady *s, const char *folder, double of_fs)
{
    FILE *file = open_table(folder, "hold_droop.csv");
    char row[256];
    unsigned rows = 0;
    printf("droop            f Hz    f/fs   table dB  measured dB  difference\n");
    while (fgets(row, sizeof row, file) != NULL) {
        double rate, f, share, ratio, db;
        if (sscanf(row, "%lf,%lf,%lf,%lf,%lf", &rate, &f, &share, &ratio, &db) != 5 || rate != of_fs) {
            continue;
        }
        rows++;
        f *= fs / of_fs;
        double found = droop_at(s, f);
        bool well = judge(found - db);
        printf("            %9.1f  %6.3f  %9.4f  %11.4f  %10.4f%s\n", f, share, db, found, found - db,
               well ? "" : "  MISS");
    }
    fclose(file);
    failed = failed || rows == 0;
}

static void against_image_table(const steady *s, const char *folder, double of_fs)
{
    FILE *file = open_table(folder, "hold_images.csv");
    char row[256];
    unsigned rows = 0, beyond = 0;
    printf("images           f Hz  image Hz   table dB  measured dB  difference (re the line at f)\n");
    while (fgets(row, sizeof row, file) != NULL) {
        double rate, f, image, absolute, db;
        unsigned k;
        char sign;
        if (sscanf(row, "%lf,%lf,%u,%c,%lf,%lf,%lf", &rate, &f, &k, &sign, &image, &absolute, &db) != 7 ||
            rate != of_fs || k == 0) {
            continue;
        }
        rows++;
        f *= fs / of_fs;
        image *= fs / of_fs;
        if (image + (double)s->f0 > flat_to * RATE) {
            beyond++;
            continue;
        }
        double found = image_at(s, f, k, sign == '+' ? 1 : -1);
        bool well = judge(found - db);
        printf("            %9.1f %9.1f  %9.4f  %11.4f  %10.4f%s\n", f, image, db, found, found - db,
               well ? "" : "  MISS");
    }
    fclose(file);
    if (beyond > 0) {
        printf("            %u rows lie beyond what the host's rate holds\n", beyond);
    }
    failed = failed || rows == beyond;
}

/* Every line that is not lost in the spectrum's valleys, against the formulas. */
static void against_formulas(const steady *s)
{
    double strongest = 0.0, worst_droop = 0.0, worst_image = 0.0;
    for (unsigned j = 1; j < s->period; j++) {
        strongest = fmax(strongest, cabs(s->x[j]));
    }
    unsigned droops = 0, images = 0;
    for (unsigned j = 1; j < lines; j++) {
        unsigned base = j % s->period;
        if (base == 0 || cabs(steady_line(s, j)) < strongest * pow(10.0, weakest_db / 20.0)) {
            continue;
        }
        double off = gain[j] - droop_db((double)s->f0 * j);
        droops++;
        worst_droop = fmax(worst_droop, fabs(off));
        if (j > s->period / 2) {
            base = base > s->period / 2 ? s->period - base : base;
            off = gain[j] - gain[base] - steady_db((double)base / j);
            images++;
            worst_image = fmax(worst_image, fabs(off));
        }
    }
    judge(worst_droop);
    judge(worst_image);
    printf(
        "every line above %.0f dB, to %.1f kHz: %u against the droop, worst %.5f dB; %u against their baseband line, "
        "worst %.5f dB\n",
        weakest_db, (double)s->f0 * (lines - 1) / 1e3, droops, worst_droop, images, worst_image);
}

/* The fewest host samples, over at least five pitch periods, that hold a whole number of those. */
static size_t window(const hyoid_part *part, uint64_t clock_hz, uint64_t period)
{
    uint64_t m = 5;
    while (m * period * part->filter_clocks * RATE % clock_hz != 0) {
        m++;
    }
    return (size_t)(m * period * part->filter_clocks * RATE / clock_hz);
}

static void check(const char *folder, uint32_t clock_hz, double of_fs)
{
    const hyoid_part *part = hyoid_part_default();
    const uint64_t period = part->pitch_period[0] + (17u * part->phoneme[VOWEL].f1 >> part->pitch_f1_shift);
    steady s;
    steady_render(&s, VOWEL, clock_hz, RATE, true, window(part, clock_hz, period));
    if (s.period != period) {
        printf("FAIL: pitch period %u, expected %u\n", (unsigned)s.period, (unsigned)period);
        exit(1);
    }
    fs = clock_hz / (double)part->filter_clocks;
    lines = (unsigned)(flat_to * RATE / (double)s.f0);
    if (lines > LINE_MAX) {
        printf("FAIL: %u lines are too many\n", lines);
        exit(1);
    }
    for (unsigned j = 0; j < lines; j++) {
        gain[j] = steady_db(measured(&s, j) / cabs(s.x[j % s.period]));
    }
    printf("\nclock %.3f kHz, fs %.0f Hz, pitch %.3f Hz, %zu host samples at %d Hz\n", clock_hz / 1e3, fs,
           (double)s.f0, s.count, RATE);
    against_droop_table(&s, folder, of_fs);
    against_image_table(&s, folder, of_fs);
    against_formulas(&s);
    steady_free(&s);
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: hold TABLES\n");
        return 2;
    }
    check(argv[1], 720000, 20000.0);
    check(argv[1], 1440000, 40000.0);
    check(argv[1], 90000, 20000.0); /* an eighth of the clock: the same figures at an eighth of the frequency */
    printf("\n%s: limit %.2f dB, host rate %d Hz taken as flat to %.2f of it\n", failed ? "FAIL" : "ok", limit_db,
           RATE, flat_to);
    return failed ? 1 : 0;
}
