/* degrade IN OUT KEY=VALUE...: what a bench does to a sound, by known amounts, in the order in which they are given. The noise comes
 * from a printed seed.
 *
 *   speed=1.017      played so many times as fast (windowed sinc)
 *   wow=0.01,0.55    the speed swings by this share, so many times a second
 *   swell=0.01,0.5   the gain does
 *   delay=0.523      silence ahead, s        tail=0.4   silence behind, s        cut=2.5   only so many seconds
 *   gain=-12         dB                      invert=1   polarity                 dc=0.05
 *   hum=50,0.01,0.005,...   lines at multiples of the mains, amplitudes (full scale = 1)
 *   snr=20           white noise, so many dB under the mean power                seed=1
 *   lowcut=300       second order (Butterworth); twice is what two coupling capacitors and a transformer do
 *   band=300,3400    eighth-order slopes      rate=8000  resampled (libsamplerate)
 *   channels=2       1: as it is; 2: the sound in channel 2, quieter noise in channel 1
 *   colour=1         a small loudspeaker in a room: resonance, no bass, less treble, an echo
 *   clip=0.5         flat tops */
#include <math.h>
#include <samplerate.h>
#include <sndfile.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;

static float *sound;
static long count;
static double rate;
static int channels = 1;
static uint64_t state = 1;

static _Noreturn void die(const char *what)
{
    fprintf(stderr, "degrade: %s\n", what);
    exit(2);
}

static float *room(long n)
{
    float *memory = calloc((size_t)(n > 0 ? n : 1), sizeof *memory);
    if (memory == NULL) {
        die("memory is out");
    }
    return memory;
}

static double uniform(void)
{
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return ((double)(state >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(void)
{
    return sqrt(-2 * log(uniform())) * cos(2 * pi * uniform());
}

/* The sound at a fractional sample. */
static double at(double position)
{
    long middle = (long)floor(position);
    double sum = 0;
    for (long k = middle - 31; k <= middle + 32; k++) {
        double x = position - (double)k;
        double window = 0.5 + 0.5 * cos(pi * x / 33);
        sum += k >= 0 && k < count ? (double)sound[k] * window * (x == 0 ? 1 : sin(pi * x) / (pi * x)) : 0.0;
    }
    return sum;
}

static void replace(float *with, long n)
{
    free(sound);
    sound = with;
    count = n;
}

static void play(double speed, double wow, double wow_hz)
{
    long n = (long)((double)count / speed);
    float *out = room(n);
    for (long i = 0; i < n; i++) {
        double t = (double)i / rate;
        double swing = wow > 0 ? wow / (2 * pi * wow_hz) * sin(2 * pi * wow_hz * t) * rate : 0.0;
        out[i] = (float)at((double)i * speed + swing);
    }
    replace(out, n);
}

static void pad(double before, double after)
{
    long a = (long)(before * rate + 0.5), n = count + a + (long)(after * rate + 0.5);
    float *out = room(n);
    memcpy(out + a, sound, (size_t)count * sizeof *sound);
    replace(out, n);
}

static void add_hum(const char *value)
{
    char *rest;
    double mains = strtod(value, &rest);
    for (int k = 1; *rest == ','; k++) {
        double size = strtod(rest + 1, &rest);
        for (long i = 0; i < count; i++) {
            sound[i] += (float)(size * sin(2 * pi * mains * k * (double)i / rate + k));
        }
    }
}

static void add_noise(double db)
{
    double power = 0;
    for (long i = 0; i < count; i++) {
        power += (double)sound[i] * (double)sound[i] / (double)count;
    }
    double size = sqrt(power * pow(10, -db / 10));
    for (long i = 0; i < count; i++) {
        sound[i] += (float)(size * normal());
    }
}

/* One second-order section; high: passes what lies above. */
static void section(double hz, double q, int high)
{
    double w = 2 * pi * hz / rate, alpha = sin(w) / (2 * q), c = cos(w), a0 = 1 + alpha;
    double b0 = (high ? 1 + c : 1 - c) / 2 / a0, b1 = (high ? -(1 + c) : 1 - c) / a0, a1 = -2 * c / a0,
           a2 = (1 - alpha) / a0, x1 = 0, x2 = 0, y1 = 0, y2 = 0;
    for (long i = 0; i < count; i++) {
        double x = (double)sound[i], y = b0 * x + b1 * x1 + b0 * x2 - a1 * y1 - a2 * y2;
        x2 = x1;
        x1 = x;
        y2 = y1;
        y1 = y;
        sound[i] = (float)y;
    }
}

static void band(double low, double high)
{
    static const double q[] = {0.50980, 0.60134, 0.89998, 2.56292}; /* Butterworth, eighth order */
    for (int i = 0; i < 4; i++) {
        section(low, q[i], 1);
        section(high, q[i], 0);
    }
}

/* A peak of so many dB. */
static void peak(double hz, double q, double db)
{
    double a = pow(10, db / 40), w = 2 * pi * hz / rate, alpha = sin(w) / (2 * q), c = cos(w), a0 = 1 + alpha / a;
    double b0 = (1 + alpha * a) / a0, b1 = -2 * c / a0, b2 = (1 - alpha * a) / a0, a2 = (1 - alpha / a) / a0;
    double x1 = 0, x2 = 0, y1 = 0, y2 = 0;
    for (long i = 0; i < count; i++) {
        double x = (double)sound[i], y = b0 * x + b1 * x1 + b2 * x2 - b1 * y1 - a2 * y2;
        x2 = x1;
        x1 = x;
        y2 = y1;
        y1 = y;
        sound[i] = (float)y;
    }
}

static void colour(void)
{
    section(150, 0.7, 1);
    peak(900, 1.2, 7);
    peak(3000, 0.8, -6);
    long echo = (long)(0.009 * rate);
    for (long i = count - 1; i >= echo; i--) {
        sound[i] += 0.15f * sound[i - echo];
    }
}

static void resample(double to)
{
    long n = (long)((double)count * to / rate) + 16;
    float *out = room(n);
    SRC_DATA data = {
        .data_in = sound, .data_out = out, .input_frames = count, .output_frames = n, .src_ratio = to / rate};
    if (src_simple(&data, SRC_SINC_BEST_QUALITY, 1) != 0) {
        die("cannot resample");
    }
    replace(out, data.output_frames_gen);
    rate = to;
}

static void apply(const char *key, const char *value)
{
    const char *comma = strchr(value, ',');
    double x = strtod(value, NULL), y = comma != NULL ? strtod(comma + 1, NULL) : 0;
    if (strcmp(key, "speed") == 0) {
        play(x, 0, 0);
    } else if (strcmp(key, "wow") == 0) {
        play(1, x, y);
    } else if (strcmp(key, "swell") == 0) {
        for (long i = 0; i < count; i++) {
            sound[i] *= (float)(1 + x * sin(2 * pi * y * (double)i / rate));
        }
    } else if (strcmp(key, "delay") == 0) {
        pad(x, 0);
    } else if (strcmp(key, "tail") == 0) {
        pad(0, x);
    } else if (strcmp(key, "cut") == 0) {
        count = (long)(x * rate) < count ? (long)(x * rate) : count;
    } else if (strcmp(key, "gain") == 0 || strcmp(key, "invert") == 0 || strcmp(key, "dc") == 0) {
        double scale = key[0] == 'g' ? pow(10, x / 20) : key[0] == 'i' ? -1 : 1;
        for (long i = 0; i < count; i++) {
            sound[i] = (float)(scale * (double)sound[i] + (key[0] == 'd' ? x : 0));
        }
    } else if (strcmp(key, "clip") == 0) {
        for (long i = 0; i < count; i++) {
            sound[i] = (float)fmax(-x, fmin(x, (double)sound[i]));
        }
    } else if (strcmp(key, "hum") == 0) {
        add_hum(value);
    } else if (strcmp(key, "snr") == 0) {
        add_noise(x);
    } else if (strcmp(key, "seed") == 0) {
        state = (uint64_t)x * 2654435769u + 88172645463325252u;
    } else if (strcmp(key, "lowcut") == 0) {
        section(x, sqrt(0.5), 1);
    } else if (strcmp(key, "band") == 0) {
        band(x, y);
    } else if (strcmp(key, "colour") == 0) {
        colour();
    } else if (strcmp(key, "rate") == 0) {
        resample(x);
    } else if (strcmp(key, "channels") == 0) {
        channels = (int)x;
    } else {
        die("an unknown key");
    }
}

static void read_sound(const char *path)
{
    SF_INFO info = {0};
    SNDFILE *in = sf_open(path, SFM_READ, &info);
    if (in == NULL || info.channels != 1) {
        die("the input can't be read or has more than one channel");
    }
    sound = room((long)info.frames);
    count = (long)sf_readf_float(in, sound, info.frames);
    rate = info.samplerate;
    sf_close(in);
}

static void write_sound(const char *path)
{
    size_t length = strlen(path);
    int flac = length > 5 && strcmp(path + length - 5, ".flac") == 0;
    SF_INFO info = {.samplerate = (int)rate,
                    .channels = channels,
                    .format = (flac ? SF_FORMAT_FLAC : SF_FORMAT_WAV) | SF_FORMAT_PCM_16};
    SNDFILE *out = sf_open(path, SFM_WRITE, &info);
    if (out == NULL) {
        die("the output can't be written");
    }
    sf_command(out, SFC_SET_CLIPPING, NULL, SF_TRUE);
    float *all = room(count * channels);
    for (long i = 0; i < count; i++) {
        all[i * channels] = channels > 1 ? (float)(1e-3 * normal()) : sound[i];
        all[i * channels + channels - 1] = sound[i];
    }
    if (sf_writef_float(out, all, count) != count) {
        die("the output can't be written");
    }
    free(all);
    sf_close(out);
}

int main(int argc, char **argv)
{
    if (argc < 3) {
        die("IN OUT KEY=VALUE...");
    }
    read_sound(argv[1]);
    for (int i = 3; i < argc; i++) {
        char *equals = strchr(argv[i], '=');
        if (equals == NULL) {
            die("KEY=VALUE is wanted");
        }
        *equals = '\0';
        apply(argv[i], equals + 1);
    }
    write_sound(argv[2]);
    free(sound);
    return 0;
}
