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

/* Mean level of a stretch of frames in one band. */
static float stretch(const hy_heard *h, size_t from, size_t length, size_t band)
{
    const double *low = h->sum + from * HY_BANDS + band;
    return (float)((low[length * HY_BANDS] - *low) / (double)length);
}

static int levels(hy_heard *h, hy_diag *diag)
{
    /* stretches that fit into a pause and are long enough that the quietest are not much quieter than the floor is on average */
    enum { STRETCH = 12 };
    const double short_of_mean = 1.15;
    const size_t length = h->frames > STRETCH ? STRETCH : 1, count = h->frames - length + 1;
    float *value = malloc(count * sizeof *value);
    if (value == NULL) {
        return hy_fail(diag, "memory is short for the recording's levels");
    }
    double most = 0.0, sum = 0.0;
    for (size_t b = 0; b < HY_BANDS; b++) {
        for (size_t i = 0; i < count; i++) {
            value[i] = stretch(h, i, length, b);
        }
        qsort(value, count, sizeof *value, by_value);
        const size_t few = count / 12 + 1;
        sum = 0.0;
        for (size_t i = 0; i < few; i++) {
            sum += (double)value[i];
        }
        h->noise[b] = (float)(short_of_mean * sum / (double)few);
        most = fmax(most, (double)value[count - 1 - count / 10]);
    }
    for (size_t i = 0; i < count; i++) {
        value[i] = 0.0f;
        for (size_t b = 0; b < HY_BANDS; b++) {
            value[i] += stretch(h, i, 1, b) / HY_BANDS;
        }
    }
    qsort(value, count, sizeof *value, by_value);
    h->loud = (double)value[count - 1 - count / 10];
    double floor = 0.0;
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

/* Mains keeps its frequency to a fraction of a hertz, and has its fundamental unless a rectifier stands between. A lone tone
 * elsewhere, however near, is not its. */
static int is_mains(const hy_hum *hum)
{
    return hum->nominal_hz > 0.0 && fabs(hum->mains_hz - hum->nominal_hz) < (isfinite(hum->line_db[0]) ? 0.15 : 0.1);
}

/* The recording without the hum of the mains. */
static hy_recording *without_hum(hy_heard *h, const hy_recording *recording, hy_diag *diag)
{
    hy_recording *clean =
        hy_recording_from(recording->name, recording->samples, recording->count, HY_ANALYSIS_RATE, diag);
    if (clean == NULL || recording->seconds < 1.0) {
        return clean;
    }
    if (hy_hum_remove(clean, &h->hum, diag) != 0) {
        hy_recording_free(clean);
        return NULL;
    }
    h->mains_hz = is_mains(&h->hum) ? h->hum.mains_hz : 0.0;
    if (!(h->mains_hz > 0.0)) {
        h->hum.nominal_hz = 0.0;
        memcpy(clean->samples, recording->samples,
               (clean->count < recording->count ? clean->count : recording->count) * sizeof *clean->samples);
    }
    return clean;
}

static int analyse(hy_heard *h, const hy_recording *recording, hy_diag *diag)
{
    h->low =
        hy_resample(recording->samples, recording->count, (double)HY_LOW_RATE / HY_ANALYSIS_RATE, &h->lows, diag);
    if (h->low == NULL) {
        return -1;
    }
    hy_frames frames = {NULL, 0, 0};
    if (hy_frames_make(&frames, recording->samples, recording->count, HY_HEARD_HOP, diag) != 0) {
        return -1;
    }
    h->frames = frames.count;
    h->sum = calloc((frames.count + 1) * HY_BANDS, sizeof *h->sum);
    h->broad = calloc((frames.count + 1) * HY_BROAD, sizeof *h->broad);
    if (h->sum == NULL || h->broad == NULL) {
        hy_frames_free(&frames);
        return hy_fail(diag, "memory is short for the recording's spectra");
    }
    for (size_t i = 0; i < frames.count * HY_BANDS; i++) {
        h->sum[i + HY_BANDS] = h->sum[i] + (double)frames.energy[i];
    }
    for (size_t i = 0; i < (frames.count + 1) * HY_BANDS; i++) {
        h->broad[i / (HY_BANDS / HY_BROAD)] += h->sum[i];
    }
    hy_frames_free(&frames);
    int result = levels(h, diag);
    return result == 0 ? find_pitch(h, recording, diag) : -1;
}

int hy_heard_make(hy_heard *h, const hy_recording *recording, hy_diag *diag)
{
    memset(h, 0, sizeof *h);
    h->seconds = recording->seconds;
    h->dc = recording->dc;
    h->peak = recording->peak;
    hy_recording *clean = without_hum(h, recording, diag);
    int result = clean != NULL ? analyse(h, clean, diag) : -1;
    hy_recording_free(clean);
    if (result != 0) {
        hy_heard_free(h);
    }
    return result;
}

void hy_heard_free(hy_heard *h)
{
    free(h->sum);
    free(h->pitch);
    free(h->low);
    free(h->broad);
    h->low = NULL;
    h->broad = NULL;
    h->sum = NULL;
    h->pitch = NULL;
}

/* Frames whose middle lies in a stretch of time; a stretch that holds none takes the next one. 0 if none is left. */
static int frames_in(const hy_heard *h, double from, double to, size_t *first, size_t *last)
{
    double begin = ceil(from * HY_HEARD_RATE), end = ceil(to * HY_HEARD_RATE);
    end = end <= begin ? begin + 1.0 : end;
    begin = begin < 0.0 ? 0.0 : begin;
    end = end > (double)h->frames ? (double)h->frames : end;
    if (!(end > begin)) {
        return 0;
    }
    *first = (size_t)begin;
    *last = (size_t)end;
    return 1;
}

static void means(const double *sum, size_t bands, size_t first, size_t last, float *energy)
{
    const double *low = sum + first * bands, *high = sum + last * bands;
    const double scale = 1.0 / (double)(last - first);
    for (size_t b = 0; b < bands; b++) {
        double mean = (high[b] - low[b]) * scale;
        energy[b] = mean > 0.0 ? (float)mean : 0.0f;
    }
}

int hy_heard_energy(const hy_heard *h, double from, double to, float *energy)
{
    size_t first, last;
    if (!frames_in(h, from, to, &first, &last)) {
        return 0;
    }
    means(h->sum, HY_BANDS, first, last, energy);
    return 1;
}

int hy_heard_broad(const hy_heard *h, double from, double to, float *energy)
{
    size_t first, last;
    if (!frames_in(h, from, to, &first, &last)) {
        return 0;
    }
    means(h->broad, HY_BROAD, first, last, energy);
    return 1;
}
