#include "heard.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "recording/pitch.h"

static const double VOICED = 0.65; /* likeness above which a sound is taken as periodic */

static int by_value(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return x < y ? -1 : x > y;
}

static int levels(hy_heard *h, const hy_frames *frames, hy_diag *diag)
{
    float *value = malloc(frames->count * sizeof *value);
    if (value == NULL) {
        return hy_fail(diag, "memory is short for the recording's levels");
    }
    double floor = 0.0, most = 0.0;
    for (size_t b = 0; b < HY_BANDS; b++) {
        for (size_t i = 0; i < frames->count; i++) {
            value[i] = frames->energy[i * HY_BANDS + b];
        }
        qsort(value, frames->count, sizeof *value, by_value);
        /* a mean over the quietest tenth: its quantile alone would lie below the floor's mean */
        double sum = 0.0;
        size_t few = frames->count / 10 + 1;
        for (size_t i = 0; i < few; i++) {
            sum += (double)value[i];
        }
        h->noise[b] = (float)(1.5 * sum / (double)few);
        most = fmax(most, (double)value[frames->count - 1 - frames->count / 10]);
    }
    for (size_t i = 0; i < frames->count; i++) {
        value[i] = 0.0f;
        for (size_t b = 0; b < HY_BANDS; b++) {
            value[i] += frames->energy[i * HY_BANDS + b] / HY_BANDS;
        }
    }
    qsort(value, frames->count, sizeof *value, by_value);
    h->loud = (double)value[frames->count - 1 - frames->count / 10];
    for (size_t b = 0; b < HY_BANDS; b++) {
        h->noise[b] = fmaxf(h->noise[b], (float)(most * 1e-9 + 1e-18));
        floor += (double)h->noise[b] / HY_BANDS;
    }
    h->snr_db = 10.0 * log10((h->loud + 1e-18) / floor);
    free(value);
    return 0;
}

static int find_pitch(hy_heard *h, const hy_recording *recording, hy_diag *diag)
{
    hy_pitch_signal signal;
    if (hy_pitch_signal_make(&signal, recording->samples, recording->count, diag) != 0) {
        return -1;
    }
    h->pitches = (size_t)(h->seconds * HY_PITCH_RATE) + 1;
    h->pitch = calloc(h->pitches, sizeof *h->pitch);
    for (size_t i = 0; h->pitch != NULL && i < h->pitches; i++) {
        double at = (double)i / HY_PITCH_RATE, likeness = 0.0;
        float energy[HY_BANDS];
        double level = 0.0, floor = 0.0;
        if (!hy_heard_energy(h, at - 0.01, at + 0.01, energy)) {
            continue;
        }
        for (int b = 0; b < HY_BANDS; b++) {
            level += (double)energy[b];
            floor += (double)h->noise[b];
        }
        if (level > 4.0 * floor && level > 1e-3 * h->loud * HY_BANDS) {
            double hz = hy_pitch_at(&signal, at, 40.0, 300.0, &likeness);
            h->pitch[i] = likeness > VOICED ? (float)hz : 0.0f;
        }
    }
    hy_pitch_signal_free(&signal);
    return h->pitch != NULL ? 0 : hy_fail(diag, "memory is short for the recording's pitch");
}

int hy_heard_make(hy_heard *h, hy_recording *recording, hy_diag *diag)
{
    memset(h, 0, sizeof *h);
    h->seconds = recording->seconds;
    h->dc = recording->dc;
    h->peak = recording->peak;
    if (recording->seconds > 1.0 && hy_hum_remove(recording, &h->hum, diag) != 0) {
        return -1;
    }
    hy_frames frames = {NULL, 0, 0};
    if (hy_frames_make(&frames, recording->samples, recording->count, HY_HEARD_HOP, diag) != 0) {
        return -1;
    }
    h->frames = frames.count;
    h->sum = calloc((frames.count + 1) * HY_BANDS, sizeof *h->sum);
    int result =
        h->sum != NULL ? levels(h, &frames, diag) : hy_fail(diag, "memory is short for the recording's spectra");
    for (size_t i = 0; result == 0 && i < frames.count * HY_BANDS; i++) {
        h->sum[i + HY_BANDS] = h->sum[i] + (double)frames.energy[i];
    }
    hy_frames_free(&frames);
    result = result == 0 ? find_pitch(h, recording, diag) : -1;
    if (result != 0) {
        hy_heard_free(h);
    }
    return result;
}

void hy_heard_free(hy_heard *h)
{
    free(h->sum);
    free(h->pitch);
    h->sum = NULL;
    h->pitch = NULL;
}

int hy_heard_energy(const hy_heard *h, double from, double to, float *energy)
{
    double begin = ceil(from * HY_HEARD_RATE), end = ceil(to * HY_HEARD_RATE);
    end = end <= begin ? begin + 1.0 : end; /* a slice that holds no frame's middle takes the next */
    begin = begin < 0.0 ? 0.0 : begin;
    end = end > (double)h->frames ? (double)h->frames : end;
    if (!(end > begin)) {
        return 0;
    }
    size_t first = (size_t)begin, last = (size_t)end;
    const double *low = h->sum + first * HY_BANDS, *high = h->sum + last * HY_BANDS;
    for (int b = 0; b < HY_BANDS; b++) {
        double mean = (high[b] - low[b]) / (double)(last - first);
        energy[b] = mean > 0.0 ? (float)mean : 0.0f;
    }
    return 1;
}
