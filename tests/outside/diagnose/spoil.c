#include "spoil.h"

#include <math.h>
#include <stdlib.h>

const char *const spoil_names[SPOIL_CONDITIONS] = {"clean", "20 dB noise + hum", "300..3400 Hz"};

static const double two_pi = 6.283185307179586476925286766559;

uint64_t spoil_next(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

double spoil_uniform(uint64_t *state)
{
    return (double)(spoil_next(state) >> 11) * 0x1p-53;
}

/* Uniform noise of this RMS: what matters is its spectrum. */
static double noise(uint64_t *state, double rms)
{
    return (2.0 * spoil_uniform(state) - 1.0) * rms * sqrt(3.0);
}

/* Second-order section; low- or high-pass by the bilinear transform (the cookbook of the trade). */
static void pass(float *x, size_t count, double rate, double hz, double q, int high)
{
    double w = two_pi * hz / rate, c = cos(w), alpha = sin(w) / (2.0 * q);
    double b1 = high ? -(1.0 + c) : 1.0 - c, b0 = fabs(b1) / 2.0;
    double a0 = 1.0 + alpha, a1 = -2.0 * c, a2 = 1.0 - alpha;
    double x1 = 0, x2 = 0, y1 = 0, y2 = 0;
    for (size_t i = 0; i < count; i++) {
        double in = (double)x[i];
        double y = (b0 * in + b1 * x1 + b0 * x2 - a1 * y1 - a2 * y2) / a0;
        x2 = x1;
        x1 = in;
        y2 = y1;
        y1 = y;
        x[i] = (float)y;
    }
}

static void narrow(float *x, size_t count, double rate)
{
    static const double q[2] = {0.54119610, 1.3065630}; /* Butterworth, fourth order */
    for (int i = 0; i < 2; i++) {
        pass(x, count, rate, 300.0, q[i], 1);
        pass(x, count, rate, 3400.0, q[i], 0);
    }
}

float *spoil(const float *in, size_t count, double rate, spoil_condition condition, double gain, double speech_rms,
             uint64_t *seed, size_t *out_count)
{
    size_t before = (size_t)(rate * (0.1 + 1.2 * spoil_uniform(seed)));
    size_t after = (size_t)(rate * (0.2 + 0.8 * spoil_uniform(seed)));
    size_t whole = before + count + after;
    float *x = calloc(whole, sizeof *x);
    if (x == NULL) {
        return NULL;
    }
    for (size_t i = 0; i < count; i++) {
        x[before + i] = (float)gain * in[i];
    }
    if (condition == SPOIL_NARROW) {
        narrow(x, whole, rate);
    }
    double phase = spoil_uniform(seed), mains = 50.0 + 0.1 * (spoil_uniform(seed) - 0.5);
    for (size_t i = 0; i < whole; i++) {
        double y = (double)x[i] + noise(seed, pow(10.0, -75.0 / 20.0));
        if (condition == SPOIL_NOISY) {
            double t = two_pi * (mains * (double)i / rate + phase);
            y += noise(seed, 0.1 * speech_rms);
            y += 0.1 * speech_rms * sqrt(2.0) * (0.8 * sin(t) + 0.5 * sin(2.0 * t + 1.0) + 0.33 * sin(3.0 * t + 2.0));
        }
        y = y > 1.0 ? 1.0 : y < -1.0 ? -1.0 : y;
        x[i] = (float)(floor(y * 32767.0 + 0.5) / 32767.0);
    }
    *out_count = whole;
    return x;
}
