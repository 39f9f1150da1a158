#include "recording.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "kind.h"

#define SILENT 1e-5        /* -100 dBFS: below the last bit of 16 */
#define SAME_CHANNELS 1e-4 /* power of their difference against theirs */
enum { CHANNELS_MAX = 64, BLOCK = 4096 };
#define PIPE_MAX INT64_C(2000000000) /* bytes; 20 minutes of two channels at 192 kHz with 32 bits are 1.84e9 */

void hy_recording_free(hy_recording *recording)
{
    if (recording != NULL) {
        free(recording->samples);
        free(recording->tops);
        free(recording);
    }
}

/* ---- what one channel is like ---- */

static void measure(hy_recording *r, const float *x, size_t n)
{
    double sum = 0, peak = 0;
    for (size_t i = 0; i < n; i++) {
        sum += (double)x[i];
        double size = fabs((double)x[i]);
        peak = size > peak ? size : peak;
    }
    r->dc = sum / (double)n;
    r->peak = peak;
    /* A clipped wave stands still at its top; a rounded one touches it for a sample or two. */
    size_t run = 1;
    for (size_t i = 1; i <= n; i++) {
        if (i < n && x[i] == x[i - 1]) {
            run++;
            continue;
        }
        if (run >= 3 && fabs((double)x[i - 1]) > 0.9886 * peak) {
            r->clipped += run;
            const size_t at = (size_t)((double)(i - run) * 100.0 / r->rate);
            r->tops[at] = (unsigned char)(r->tops[at] < UINT8_MAX ? r->tops[at] + 1 : UINT8_MAX);
        }
        run = 1;
    }
}

unsigned long hy_recording_tops(const hy_recording *r, double from_s, double to_s)
{
    unsigned long count = 0;
    for (double at = fmax(floor(from_s * 100.0), 0.0); at < to_s * 100.0 && at < (double)r->hundredths; at += 1.0) {
        count += r->tops[(size_t)at];
    }
    return count;
}

static hy_recording *finish(hy_recording *r, const float *x, size_t n, hy_diag *diag)
{
    r->seconds = (double)n / r->rate;
    if (r->seconds < HY_RECORDING_SECONDS_MIN) {
        hy_fail(diag, "%s: %.4g s of sound; at least %.2g s would be right", r->name, r->seconds,
                HY_RECORDING_SECONDS_MIN);
        return NULL;
    }
    if (r->seconds > HY_RECORDING_SECONDS_MAX) {
        hy_fail(diag, "%s: %.0f s of sound; at most %.0f s are read", r->name, r->seconds, HY_RECORDING_SECONDS_MAX);
        return NULL;
    }
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(x[i]) || fabs((double)x[i]) > 1e6) {
            hy_fail(diag, "%s: sample %zu is not a finite number below 1e6; the file is damaged", r->name, i);
            return NULL;
        }
    }
    r->hundredths = (size_t)(r->seconds * 100.0) + 1;
    r->tops = calloc(r->hundredths, sizeof *r->tops);
    if (r->tops == NULL) {
        hy_fail(diag, "%s: memory is out", r->name);
        return NULL;
    }
    measure(r, x, n);
    double power = 0;
    for (size_t i = 0; i < n; i++) {
        power += ((double)x[i] - r->dc) * ((double)x[i] - r->dc);
    }
    r->silent = sqrt(power / (double)n) < SILENT;
    /* DC goes first: resampled, its steps at both ends would ring. */
    float *centred = malloc(n * sizeof *centred);
    if (centred == NULL) {
        hy_fail(diag, "%s: memory is out", r->name);
        return NULL;
    }
    for (size_t i = 0; i < n; i++) {
        centred[i] = x[i] - (float)r->dc;
    }
    r->samples = hy_resample(centred, n, HY_ANALYSIS_RATE / r->rate, &r->count, diag);
    free(centred);
    if (r->samples == NULL) {
        return NULL;
    }
    double carried = r->rate < HY_ANALYSIS_RATE ? r->rate : HY_ANALYSIS_RATE;
    r->top_hz = 0.42 * carried < 10000.0 ? 0.42 * carried : 10000.0; /* what the resampler passes flat */
    return r;
}

/* ---- which channel ---- */

/* The mean powers of the channels, DC apart, and whether all carry the same. */
static int same_channels(const float *x, size_t frames, int channels, double *power)
{
    double mean[CHANNELS_MAX] = {0}, apart = 0;
    for (size_t i = 0; i < frames * (size_t)channels; i++) {
        mean[i % (size_t)channels] += (double)x[i];
    }
    memset(power, 0, sizeof *power * (size_t)channels);
    for (size_t i = 0; i < frames; i++) {
        const float *frame = x + i * (size_t)channels;
        double first = (double)frame[0] - mean[0] / (double)frames;
        for (int c = 0; c < channels; c++) {
            double v = (double)frame[c] - mean[c] / (double)frames;
            power[c] += v * v;
            apart += (v - first) * (v - first);
        }
    }
    return apart <= SAME_CHANNELS * power[0];
}

static int choose(hy_recording *r, const float *x, size_t frames, int wanted, hy_diag *diag)
{
    if (wanted > r->channels) {
        return hy_fail(diag, "%s has %d channel%s; channel %d was asked for", r->name, r->channels,
                       r->channels == 1 ? "" : "s", wanted);
    }
    r->channel = wanted > 0 ? wanted : 1;
    if (wanted > 0 || r->channels == 1) {
        return 0;
    }
    double power[CHANNELS_MAX];
    if (same_channels(x, frames, r->channels, power)) {
        snprintf(r->channel_note, sizeof r->channel_note, "channel 1 of %d: all carry the same", r->channels);
        return 0;
    }
    for (int c = 1; c < r->channels; c++) {
        r->channel = power[c] > power[r->channel - 1] ? c + 1 : r->channel;
    }
    double next = 0;
    for (int c = 0; c < r->channels; c++) {
        next = c + 1 != r->channel && power[c] > next ? power[c] : next;
    }
    double ahead = next > 0 ? 10 * log10(power[r->channel - 1] / next) : 200.0;
    snprintf(r->channel_note, sizeof r->channel_note, "channel %d of %d: the loudest, by %.1f dB", r->channel,
             r->channels, ahead > 99.9 ? 99.9 : ahead);
    return 0;
}

/* ---- the file ---- */

/* What a RIFF header says wrongly: libsndfile reads what is there of a truncated file and says nothing. Bytes that the file lacks; -1:
 * a sample rate of 0. */
static long missing_bytes(FILE *in)
{
    unsigned char head[28];
    struct stat status;
    if (fread(head, 1, sizeof head, in) != sizeof head || memcmp(head, "RIFF", 4) != 0 ||
        fstat(fileno(in), &status) != 0) {
        return 0;
    }
    unsigned long promised = (unsigned long)head[4] | (unsigned long)head[5] << 8 | (unsigned long)head[6] << 16 |
                             (unsigned long)head[7] << 24;
    if (memcmp(head + 12, "fmt ", 4) == 0 && (head[24] | head[25] | head[26] | head[27]) == 0) {
        return -1;
    }
    if (promised >= 0x7fffffffUL) { /* a writer that could not go back to its header */
        return 0;
    }
    long lacking = (long)promised + 8 - (long)status.st_size;
    return lacking > 1 ? lacking : 0;
}

static FILE *open_file(const char *path, const char *name, hy_diag *diag)
{
    FILE *in = strcmp(path, "-") == 0 ? stdin : fopen(path, "rb");
    struct stat status;
    if (in == NULL || fstat(fileno(in), &status) != 0) {
        hy_fail(diag, "cannot read %s: %s", name, strerror(errno));
        if (in != NULL && in != stdin) {
            fclose(in);
        }
        return NULL;
    }
    if (S_ISDIR(status.st_mode)) {
        hy_fail(diag, "cannot read %s: it is a folder", name);
        fclose(in);
        return NULL;
    }
    if (S_ISREG(status.st_mode) && in != stdin) {
        return in;
    }
    FILE *copy = tmpfile(); /* pipes can't be sought */
    char block[BLOCK];
    size_t n;
    int64_t size = 0;
    while (copy != NULL && size <= PIPE_MAX && (n = fread(block, 1, sizeof block, in)) > 0 &&
           fwrite(block, 1, n, copy) == n) {
        size += (int64_t)n;
    }
    if (copy != NULL && size > PIPE_MAX) {
        hy_fail(diag, "%s: more than %" PRId64 " bytes of sound; a shorter recording, or a file, would be right",
                name, PIPE_MAX);
        fclose(copy);
        copy = NULL;
    } else if (copy == NULL || ferror(in) || ferror(copy) || fflush(copy) != 0) {
        hy_fail(diag, "cannot read %s: %s", name, strerror(errno));
        if (copy != NULL) {
            fclose(copy);
            copy = NULL;
        }
    }
    if (in != stdin) {
        fclose(in);
    }
    if (copy != NULL) {
        rewind(copy);
    }
    return copy;
}

static float *read_frames(SNDFILE *file, const SF_INFO *info, const char *name, hy_diag *diag)
{
    if (info->frames <= 0) {
        hy_fail(diag, "%s: no sound in it (0 frames)", name);
        return NULL;
    }
    if (info->samplerate < 4000) {
        hy_fail(diag, "%s: %d samples a second; 4000 or more would be right", name, info->samplerate);
        return NULL;
    }
    if (info->channels < 1 || info->channels > CHANNELS_MAX) {
        hy_fail(diag, "%s: %d channels; 1 to %d would be right", name, info->channels, CHANNELS_MAX);
        return NULL;
    }
    if ((double)info->frames / info->samplerate > HY_RECORDING_SECONDS_MAX) {
        hy_fail(diag, "%s: %.0f s of sound; at most %.0f s are read", name, (double)info->frames / info->samplerate,
                HY_RECORDING_SECONDS_MAX);
        return NULL;
    }
    float *x = malloc((size_t)info->frames * (size_t)info->channels * sizeof *x);
    if (x == NULL) {
        hy_fail(diag, "%s: memory is out", name);
        return NULL;
    }
    sf_count_t got = sf_readf_float(file, x, info->frames);
    if (got != info->frames) {
        hy_fail(diag, "%s: truncated: %lld of %lld frames can be read", name, (long long)got,
                (long long)info->frames);
        free(x);
        return NULL;
    }
    return x;
}

static hy_recording *take(hy_recording *r, float *x, size_t frames, int wanted, hy_diag *diag)
{
    if (choose(r, x, frames, wanted, diag) != 0) {
        return NULL;
    }
    for (size_t i = 0; i < frames; i++) { /* in place: the target never runs ahead of the source */
        x[i] = x[i * (size_t)r->channels + (size_t)r->channel - 1];
    }
    return finish(r, x, frames, diag);
}

static hy_recording *named(const char *name, hy_diag *diag)
{
    hy_recording *r = calloc(1, sizeof *r);
    if (r == NULL) {
        hy_fail(diag, "memory is out");
        return NULL;
    }
    snprintf(r->name, sizeof r->name, "%s", name);
    return r;
}

hy_recording *hy_recording_read(const char *path, int channel, hy_diag *diag)
{
    const char *name = strcmp(path, "-") == 0 ? "standard input" : path;
    FILE *in = open_file(path, name, diag);
    if (in == NULL) {
        return NULL;
    }
    long lacking = missing_bytes(in);
    if (lacking != 0) {
        if (lacking > 0) {
            hy_fail(diag, "%s: truncated: %ld bytes fewer than its header says", name, lacking);
        } else {
            hy_fail(diag, "%s: its header says 0 samples a second; 4000 or more would be right", name);
        }
        fclose(in);
        return NULL;
    }
    const hy_kind kind = hy_kind_look(in, name); /* libsndfile closes what it refuses */
    fflush(in);
    lseek(fileno(in), 0, SEEK_SET);
    SF_INFO info = {0};
    SNDFILE *file = sf_open_fd(fileno(in), SFM_READ, &info, SF_FALSE);
    if (file == NULL && hy_kind_refuse(name, kind, "a recording (WAV or FLAC)", diag) == 0) {
        hy_fail(diag, "%s: no sound file that can be read (%s); a WAV or FLAC would be right", name,
                sf_strerror(NULL));
    }
    if (file == NULL) {
        fclose(in);
        return NULL;
    }
    hy_recording *r = named(name, diag);
    float *x = r != NULL ? read_frames(file, &info, name, diag) : NULL;
    hy_recording *done = NULL;
    if (x != NULL) {
        r->rate = info.samplerate;
        r->channels = info.channels;
        done = take(r, x, (size_t)info.frames, channel, diag);
    }
    if (done == NULL) {
        hy_recording_free(r);
    }
    free(x);
    sf_close(file);
    fclose(in);
    return done;
}

int hy_recording_must_sound(const hy_recording *r, hy_diag *diag)
{
    return !r->silent ? 0
                      : hy_fail(diag,
                                "%s: silent (below -100 dBFS throughout); a recording of the part speaking would be "
                                "right (hyoid diagnose says what keeps a chip silent)",
                                r->name);
}

hy_recording *hy_recording_from(const char *name, const float *samples, size_t count, double rate, hy_diag *diag)
{
    if (!(rate >= 4000.0 && rate <= 1e6)) {
        hy_fail(diag, "%s: %g samples a second; 4000 or more would be right", name, rate);
        return NULL;
    }
    hy_recording *r = named(name, diag);
    if (r == NULL) {
        return NULL;
    }
    r->rate = rate;
    r->channels = r->channel = 1;
    if (finish(r, samples, count, diag) == NULL) {
        hy_recording_free(r);
        return NULL;
    }
    return r;
}
