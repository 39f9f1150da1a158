#include "device.h"

#include <portaudio.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <time.h>

#define DEFAULT_RATE 48000
#define DEFAULT_LATENCY_MS 15.0
#define GONE_S 2.0 /* without a callback */

struct hy_device {
    PaDeviceIndex index;
    PaStream *stream;
    hy_player *player;
    uint32_t rate;
    int channels;
    double latency_s;
    char name[256];
    atomic_ullong xruns, calls;
    atomic_ullong worst; /* share of the time that a call had, millionths */
    atomic_int finished;
    unsigned long long calls_seen;
    double seen_at;
};

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t); /* from memory that the kernel shares: no system call */
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- the thread of the sound library ---- */

static int on_frames(const void *input, void *output, unsigned long frames, const PaStreamCallbackTimeInfo *times,
                     PaStreamCallbackFlags flags, void *user)
{
    hy_device *d = user;
    (void)input;
    const double start = now_s();
    d->player->heard = times->outputBufferDacTime;
    hy_player_render(d->player, output, frames, (unsigned)d->channels);
    const double share = frames > 0 ? (now_s() - start) * d->rate / (double)frames : 0.0;
    const unsigned long long millionths = (unsigned long long)(share * 1e6);
    if (millionths > atomic_load_explicit(&d->worst, memory_order_relaxed)) {
        atomic_store_explicit(&d->worst, millionths, memory_order_relaxed);
    }
    if ((flags & paOutputUnderflow) != 0) {
        atomic_fetch_add_explicit(&d->xruns, 1, memory_order_relaxed);
    }
    atomic_fetch_add_explicit(&d->calls, 1, memory_order_relaxed);
    return paContinue;
}

static void on_finished(void *user)
{
    atomic_store(&((hy_device *)user)->finished, 1);
}

/* ---- control ---- */

int hy_device_begin(hy_diag *diag)
{
    const PaError error = Pa_Initialize();
    return error == paNoError ? 0 : hy_fail(diag, "the sound library can't start: %s", Pa_GetErrorText(error));
}

void hy_device_end(void)
{
    Pa_Terminate();
}

static int no_devices(hy_diag *diag)
{
    return hy_fail(diag, "there is no sound device to play on; one that ALSA or JACK knows would be right "
                         "(hyoid live --list-devices), or hyoid render for a file");
}

static const PaDeviceInfo *output_device(PaDeviceIndex i)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
    return info != NULL && info->maxOutputChannels > 0 ? info : NULL;
}

int hy_device_list(FILE *out, hy_diag *diag)
{
    int any = 0;
    for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++) {
        const PaDeviceInfo *info = output_device(i);
        if (info != NULL) {
            fprintf(out, "%2d  %s (%s)%s\n", i, info->name, Pa_GetHostApiInfo(info->hostApi)->name,
                    i == Pa_GetDefaultOutputDevice() ? ", default" : "");
            any = 1;
        }
    }
    if (!any) {
        return no_devices(diag);
    }
    return fflush(out) == 0 ? 0 : hy_fail(diag, "cannot write to standard output");
}

/* ASCII letters of either case. */
static int contains(const char *text, const char *part)
{
    const size_t n = strlen(part);
    for (; strlen(text) >= n; text++) {
        if (strncasecmp(text, part, n) == 0) {
            return 1;
        }
    }
    return 0;
}

/* A number, a whole name, or a part of exactly one name. */
static PaDeviceIndex find(const char *name, hy_diag *diag)
{
    PaDeviceIndex found = paNoDevice;
    int fits = 0;
    char *end;
    const long number = strtol(name, &end, 10);
    if (*name != '\0' && *end == '\0' && number >= 0 && number < Pa_GetDeviceCount() &&
        output_device((PaDeviceIndex)number) != NULL) {
        return (PaDeviceIndex)number;
    }
    for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++) {
        const PaDeviceInfo *info = output_device(i);
        if (info != NULL && strcmp(info->name, name) == 0) {
            return i;
        }
        if (info != NULL && *name != '\0' && contains(info->name, name)) {
            found = i;
            fits++;
        }
    }
    if (fits != 1) {
        hy_fail(diag, "--device %s: %s; a number or name from hyoid live --list-devices would be right", name,
                fits == 0 ? "no output device is called so" : "several output devices are called so");
        return paNoDevice;
    }
    return found;
}

static PaStreamParameters parameters(const hy_device *d)
{
    return (PaStreamParameters){
        .device = d->index, .channelCount = d->channels, .sampleFormat = paFloat32, .suggestedLatency = d->latency_s};
}

static int rate_fits(const hy_device *d, double rate)
{
    const PaStreamParameters p = parameters(d);
    return rate >= HYOID_RATE_MIN && rate <= HYOID_RATE_MAX &&
           Pa_IsFormatSupported(NULL, &p, rate) == paFormatIsSupported;
}

static int choose_rate(hy_device *d, uint32_t wanted, double usual, hy_diag *diag)
{
    if (wanted != 0) {
        d->rate = wanted;
        return rate_fits(d, wanted) ? 0
                                    : hy_fail(diag, "--rate %lu: %s can't play so; %.0f would be right",
                                              (unsigned long)wanted, d->name, usual);
    }
    d->rate = rate_fits(d, DEFAULT_RATE) ? DEFAULT_RATE : (uint32_t)usual;
    return rate_fits(d, d->rate) ? 0
                                 : hy_fail(diag, "%s can't play at %d Hz nor at its own rate", d->name, DEFAULT_RATE);
}

hy_device *hy_device_choose(const hy_device_options *options, hy_diag *diag)
{
    PaDeviceIndex index = Pa_GetDefaultOutputDevice();
    if (index == paNoDevice || output_device(index) == NULL) {
        index = paNoDevice;
        for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount() && index == paNoDevice; i++) {
            index = output_device(i) != NULL ? i : paNoDevice;
        }
    }
    if (index == paNoDevice) {
        no_devices(diag);
        return NULL;
    }
    if (options->name != NULL && (index = find(options->name, diag)) == paNoDevice) {
        return NULL;
    }
    hy_device *d = calloc(1, sizeof *d);
    if (d == NULL) {
        hy_fail(diag, "not enough memory");
        return NULL;
    }
    const PaDeviceInfo *info = Pa_GetDeviceInfo(index);
    d->index = index;
    d->channels = info->maxOutputChannels > 1 ? 2 : 1;
    d->latency_s = (options->latency_ms > 0.0 ? options->latency_ms : DEFAULT_LATENCY_MS) / 1000.0;
    snprintf(d->name, sizeof d->name, "%s", info->name);
    if (choose_rate(d, options->rate, info->defaultSampleRate, diag) != 0) {
        free(d);
        return NULL;
    }
    return d;
}

int hy_device_start(hy_device *d, hy_player *player, hy_diag *diag)
{
    const PaStreamParameters p = parameters(d);
    d->player = player;
    PaError error =
        Pa_OpenStream(&d->stream, NULL, &p, d->rate, paFramesPerBufferUnspecified, paNoFlag, on_frames, d);
    if (error == paNoError) {
        error = Pa_SetStreamFinishedCallback(d->stream, on_finished);
    }
    if (error == paNoError) {
        error = Pa_StartStream(d->stream);
    }
    d->seen_at = now_s();
    return error == paNoError
               ? 0
               : hy_fail(diag, "the sound device %s can't be opened: %s", d->name, Pa_GetErrorText(error));
}

void hy_device_close(hy_device *d)
{
    if (d != NULL) {
        if (d->stream != NULL) {
            Pa_AbortStream(d->stream);
            Pa_CloseStream(d->stream);
        }
        free(d);
    }
}

const char *hy_device_name(const hy_device *d)
{
    return d->name;
}

uint32_t hy_device_rate(const hy_device *d)
{
    return d->rate;
}

double hy_device_latency_ms(const hy_device *d)
{
    const PaStreamInfo *info = d->stream != NULL ? Pa_GetStreamInfo(d->stream) : NULL;
    return info != NULL ? info->outputLatency * 1000.0 : d->latency_s * 1000.0;
}

double hy_device_time(void *device)
{
    const hy_device *d = device;
    return d->stream != NULL ? Pa_GetStreamTime(d->stream) : 0.0;
}

uint64_t hy_device_xruns(const hy_device *d)
{
    return atomic_load_explicit(&d->xruns, memory_order_relaxed);
}

double hy_device_worst_load(const hy_device *d)
{
    return (double)atomic_load_explicit(&d->worst, memory_order_relaxed) * 1e-6;
}

int hy_device_check(hy_device *d, hy_diag *diag)
{
    const unsigned long long calls = atomic_load_explicit(&d->calls, memory_order_relaxed);
    const double now = now_s();
    if (calls != d->calls_seen) {
        d->calls_seen = calls;
        d->seen_at = now;
    }
    const int over = atomic_load(&d->finished) || Pa_IsStreamActive(d->stream) != 1;
    return over || now - d->seen_at > GONE_S
               ? hy_fail(diag, "the sound device %s has gone: it asks for no more sound; plug it in and start again",
                         d->name)
               : 0;
}
