/* Hears a steady voice in a sound file, and knows nothing of the chip:
 *
 *   listen FILE FROM TO LOW HIGH LINE IMAGE
 *
 * prints the pitch in FROM..TO seconds, found by autocorrelation between LOW and HIGH Hz and sharpened over several periods, and
 * how far the spectrum at IMAGE Hz lies above that at LINE Hz, in dB (Hann window). */
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

static double correlation(const float *x, size_t count, size_t lag)
{
    double sum = 0;
    for (size_t i = 0; i + lag < count; i++) {
        sum += (double)x[i] * (double)x[i + lag];
    }
    return sum / (double)(count - lag);
}

/* The best lag in low..high, between samples by a parabola. */
static double best_lag(const float *x, size_t count, size_t low, size_t high)
{
    size_t best = low;
    double most = -INFINITY;
    for (size_t lag = low; lag <= high; lag++) {
        double here = correlation(x, count, lag);
        if (here > most) {
            most = here;
            best = lag;
        }
    }
    double a = correlation(x, count, best - 1);
    double b = correlation(x, count, best + 1);
    double bend = a - 2 * most + b;
    return (double)best + (bend < 0 ? 0.5 * (a - b) / bend : 0);
}

static double magnitude(const float *x, size_t count, double turns)
{
    double re = 0;
    double im = 0;
    for (size_t i = 0; i < count; i++) {
        double angle = 2 * pi * fmod(turns * (double)i, 1.0);
        double v = (double)x[i] * (0.5 - 0.5 * cos(2 * pi * ((double)i + 0.5) / (double)count));
        re += v * cos(angle);
        im += v * sin(angle);
    }
    return hypot(re, im);
}

int main(int argc, char **argv)
{
    if (argc != 8) {
        fprintf(stderr, "listen FILE FROM TO LOW HIGH LINE IMAGE\n");
        return 2;
    }
    double given[6];
    for (int i = 0; i < 6; i++) {
        given[i] = strtod(argv[i + 2], NULL);
    }
    SF_INFO info = {0};
    SNDFILE *file = sf_open(argv[1], SFM_READ, &info);
    if (file == NULL || info.channels != 1) {
        fprintf(stderr, "%s: %s\n", argv[1], sf_strerror(file));
        return 1;
    }
    sf_count_t from = (sf_count_t)(given[0] * info.samplerate);
    sf_count_t to = (sf_count_t)(given[1] * info.samplerate);
    if (from < 0 || to > info.frames || to - from < info.samplerate / 10) {
        fprintf(stderr, "%s: %lld frames, too short\n", argv[1], (long long)info.frames);
        return 1;
    }
    size_t count = (size_t)(to - from);
    float *x = calloc(count, sizeof *x);
    if (x == NULL || sf_seek(file, from, SEEK_SET) < 0 || sf_read_float(file, x, to - from) != to - from) {
        return 1;
    }
    sf_close(file);
    double lag = best_lag(x, count, (size_t)(info.samplerate / given[3]), (size_t)(info.samplerate / given[2]));
    for (int periods = 4; periods <= 16; periods *= 4) { /* a longer lag tells it more finely */
        lag = best_lag(x, count, (size_t)(periods * lag) - 2, (size_t)(periods * lag) + 3) / periods;
    }
    double line = magnitude(x, count, given[4] / info.samplerate);
    double image = magnitude(x, count, given[5] / info.samplerate);
    printf("%.6f %.4f\n", info.samplerate / lag, 20 * log10(image / line));
    free(x);
    return 0;
}
