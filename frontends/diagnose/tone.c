/* A tone under everything: the hum fault's, which stands at the clock / 7200 and so can be told from the mains'. */
#include <math.h>

#include "heard.h"

#define PIECE_S 0.5 /* tells a tone from what is 7 Hz beside it */
enum { PIECES_MOST = 200 };

/* Mean square of one frequency in x[0..n), under a Hann window; the turning phasors are stepped, not computed anew. */
static double power_at(const float *x, size_t n, double hz, double rate)
{
    const double two_pi = 6.283185307179586476925286766559;
    const double c = cos(two_pi * hz / rate), s = sin(two_pi * hz / rate);
    const double hc = cos(two_pi / (double)n), hs = sin(two_pi / (double)n);
    double re = 0.0, im = 0.0, wr = 1.0, wi = 0.0, hr = cos(0.5 * two_pi / (double)n),
           hi = sin(0.5 * two_pi / (double)n);
    for (size_t i = 0; i < n; i++) {
        const double w = (0.5 - 0.5 * hr) * (double)x[i];
        re += w * wr;
        im += w * wi;
        const double next = wr * c - wi * s;
        wi = wr * s + wi * c;
        wr = next;
        const double window = hr * hc - hi * hs;
        hi = hr * hs + hi * hc;
        hr = window;
    }
    const double sum = 0.5 * (double)n;
    return 2.0 * (re * re + im * im) / (sum * sum);
}

/* What is there at nearly all times: a low quantile over pieces. */
static double lasting(const hy_heard *heard, double hz)
{
    const size_t n = (size_t)(PIECE_S * HY_LOW_RATE);
    double power[PIECES_MOST];
    size_t pieces = heard->lows / n, used = 0;
    size_t stride = pieces / PIECES_MOST + 1;
    for (size_t p = 0; p < pieces && used < PIECES_MOST; p += stride) {
        power[used++] = power_at(heard->low + p * n, n, hz, HY_LOW_RATE);
    }
    return hy_quantile(power, used, 0.2);
}

hy_tone hy_heard_tone(const hy_heard *heard, double hz)
{
    hy_tone tone = {-200.0, -200.0, 0};
    if (!(hz > 20.0) || hz > HY_LOW_RATE * 0.4) {
        return tone;
    }
    double beside = 0.25 * (lasting(heard, hz - 7.0) + lasting(heard, hz + 7.0) + lasting(heard, hz - 11.0) +
                            lasting(heard, hz + 11.0));
    tone.level_db = 10.0 * log10(lasting(heard, hz) + 1e-20);
    tone.beside_db = 10.0 * log10(beside + 1e-20);
    /* a second harmonic alone is what a rectifier leaves: at the mains' own frequency it can't be told from the fault's */
    double mains = heard->mains_hz > 0.0 ? heard->mains_hz : 50.0;
    double nearest = floor(hz / mains + 0.5) * mains;
    tone.doubtful = fabs(hz - nearest) < 0.15;
    return tone;
}
