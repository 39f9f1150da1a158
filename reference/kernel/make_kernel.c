/* Writes core/output_kernel.inc: what a band-limited step adds to a sharp one.
 *
 *   cc -O2 -o make_kernel reference/kernel/make_kernel.c -lm && ./make_kernel > core/output_kernel.inc
 *
 * The low-pass is a sinc under a Kaiser window of 64 host samples. Its cut is placed so that the stop band starts at
 * 24.1 / 44.1 of the host's rate: whatever lies there folds to 20 kHz or above at 44.1 kHz. Stop band -120 dB (Kaiser's
 * formula falls 0.8 dB short, so it is asked for 121); flat within 0.1 dB to 0.44 of the host's rate. Kaiser's formulas:
 * Kaiser 1974, common practice of the trade.
 *
 * For a step at fraction f of a host sample, tap k stands for the host sample at t = k - 31 - f samples from the step; the
 * number wanted is S(t) - H(t), S the kernel's running integral and H the sharp step. It is smooth in f, and is given
 * as a cubic per sixteenth of a sample, through the four Chebyshev points of each. */
#include <math.h>
#include <stdio.h>

enum { TAPS = 64, HALF = 32, PARTS = 16 };
static const double pi = 3.14159265358979323846;
static const double stop_db = 121.0, stop_edge = 24.1 / 44.1;

static double bessel_i0(double x)
{
    double sum = 1.0, term = 1.0;
    for (int k = 1; k < 200; k++) {
        term *= x * x / (4.0 * k * k);
        sum += term;
    }
    return sum;
}

static double low_pass(double t)
{
    double width = (stop_db - 8.0) / (2.285 * 2.0 * pi * TAPS);
    double cut = stop_edge - width / 2.0;
    double beta = 0.1102 * (stop_db - 8.7);
    double x = t / HALF;
    if (x <= -1.0 || x >= 1.0) {
        return 0.0;
    }
    double a = 2.0 * pi * cut * t;
    double sinc = fabs(a) < 1e-9 ? 1.0 : sin(a) / a;
    return 2.0 * cut * sinc * bessel_i0(beta * sqrt(1.0 - x * x)) / bessel_i0(beta);
}

/* Gauss-Legendre, 8 points: exact to rounding over a sixty-fourth of a sample. */
static double integral(double a, double b)
{
    static const double node[4] = {0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363};
    static const double weight[4] = {0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763};
    double middle = 0.5 * (a + b), half = 0.5 * (b - a), sum = 0.0;
    for (int i = 0; i < 4; i++) {
        sum += weight[i] * (low_pass(middle - half * node[i]) + low_pass(middle + half * node[i]));
    }
    return sum * half;
}

/* Running integral on a grid of 1/64 sample, from the left end; kept so that any t costs one short piece. */
enum { GRID = 64 };
static double running[TAPS * GRID + 1];

static double step(double t)
{
    double x = (t + HALF) * GRID;
    int i = (int)floor(x);
    if (i < 0) {
        return 0.0;
    }
    if (i >= TAPS * GRID) {
        return 1.0;
    }
    double left = (double)i / GRID - HALF;
    return (running[i] + integral(left, t)) / running[TAPS * GRID];
}

/* The Chebyshev points of (0, 1), and the cubic through four values there. */
static void cubic(const double x[4], const double y[4], double c[4])
{
    double d[4] = {y[0], y[1], y[2], y[3]}; /* divided differences, then expanded */
    for (int j = 1; j < 4; j++) {
        for (int i = 3; i >= j; i--) {
            d[i] = (d[i] - d[i - 1]) / (x[i] - x[i - j]);
        }
    }
    c[0] = d[3];
    c[1] = c[2] = c[3] = 0.0;
    for (int i = 2; i >= 0; i--) {
        for (int j = 3; j > 0; j--) {
            c[j] = c[j - 1] - x[i] * c[j];
        }
        c[0] = d[i] - x[i] * c[0];
    }
}

int main(void)
{
    for (int i = 0; i < TAPS * GRID; i++) {
        running[i + 1] = running[i] + integral((double)i / GRID - HALF, (double)(i + 1) / GRID - HALF);
    }
    static double c[PARTS][4][TAPS];
    double x[4];
    for (int i = 0; i < 4; i++) {
        x[i] = 0.5 - 0.5 * cos(pi * (2 * i + 1) / 8.0);
    }
    for (int part = 0; part < PARTS; part++) {
        for (int k = 0; k < TAPS; k++) {
            double y[4], out[4];
            for (int i = 0; i < 4; i++) {
                double f = (part + x[i]) / PARTS;
                y[i] = step(k + 1 - HALF - f) - (k >= HALF ? 1.0 : 0.0);
            }
            cubic(x, y, out);
            for (int p = 0; p < 4; p++) {
                c[part][p][k] = out[p];
            }
        }
    }
    printf("/* Written by reference/kernel/make_kernel.c; not edited by hand. [part][power of f][tap] */\n");
    for (int part = 0; part < PARTS; part++) {
        printf("{\n");
        for (int p = 0; p < 4; p++) {
            printf("{");
            for (int k = 0; k < TAPS; k++) {
                /* nine digits carry a float; the suffix keeps compilers from passing through double */
                float value = (float)c[part][p][k];
                int whole = value == (float)(int)value;
                printf(whole ? "%s%.1ff," : "%s%.9gf,", k % 6 == 0 ? "\n" : " ", (double)value);
            }
            printf("\n},\n");
        }
        printf("},\n");
    }
    return 0;
}
