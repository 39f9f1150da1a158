/* Long-term spectra per code; and what good chips would give in the same recording. */
#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figures_private.h"

static double place(const hy_side *side, double model_s)
{
    return (side->map != NULL ? hy_align_recording_time(side->map, model_s) : model_s) * HY_ANALYSIS_RATE;
}

int hy_spoken_inside(const hy_alignment *a, size_t i)
{
    double end = (double)a->recording->count / HY_ANALYSIS_RATE;
    if (a->edge[i].recording < -0.005 || a->edge[i + 1].recording > end + 0.005) {
        return 0;
    }
    /* what lies beyond the last edge that is seen may have been cut off anywhere */
    size_t k = i + 1;
    while (k < a->model->spoken_count && !isfinite(a->edge[k].uncertainty)) {
        k++;
    }
    return k < a->model->spoken_count || isfinite(a->edge[k].uncertainty) || a->edge[k].recording < end - 0.05;
}

/* Adds the spectra between two model times. */
static double gather(hy_stft *stft, const hy_side *side, double from, double to, double *sum)
{
    float power[HY_VIEW_BINS];
    double frames = 0;
    double first = place(side, from), last = place(side, to);
    for (double at = first + HY_VIEW_HOP / 2.0; at < last || frames == 0; at += HY_VIEW_HOP) {
        hy_stft_power(stft, side->x, side->count, lround(at), power);
        for (int k = 0; k < HY_VIEW_BINS; k++) {
            sum[k] += (double)power[k];
        }
        frames += 1;
    }
    return frames;
}

static double mean_square(const double *sum, double frames)
{
    double power = 0;
    for (int k = HY_CLOSURE_BIN; k < HY_VIEW_BINS; k++) {
        power += sum[k] * HY_ANALYSIS_RATE / HY_VIEW_FFT;
    }
    return frames > 0 ? power / frames : 0.0;
}

#define UNSEEN_S 0.015 /* by which an edge that can't be seen may be off */

static double uniform(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15); /* SplitMix64 */
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return (double)((z ^ z >> 31) >> 11) / 9007199254740992.0;
}

#define MOST_MOVED                                                                                                   \
    1.4 /* times its uncertainty: evenly within that, an edge has the deviation that edges really have */

static double doubt_of(const hy_edge *edge)
{
    return isfinite(edge->uncertainty) && edge->uncertainty < UNSEEN_S ? edge->uncertainty : UNSEEN_S;
}

static double moved(const hy_edge *edge, uint64_t seed)
{
    uniform(&seed);
    return MOST_MOVED * doubt_of(edge) * (2 * uniform(&seed) - 1);
}

/* Adds one phoneme that lies between two model times. before, after: how far
 * its edges may be off, s. */
static void see(hy_view *v, hy_stft *stft, const hy_side *side, const hy_spoken *s, const hyoid_part *part,
                double before, double after)
{
    const hyoid_phoneme *word = &part->phoneme[s->code];
    double length = s->to - s->from;
    unsigned c = s->code;
    if (!word->closure) {
        /* registers have come close to their targets; the next latch stays out of the last window */
        double doubt = 0.6 * after < 0.2 * length ? 0.6 * after : 0.2 * length;
        double from = s->from + 0.4 * length, to = s->to - 0.008 - doubt;
        v->frames[c] += gather(stft, side, from, to > from ? to : from, v->power[c]);
        return;
    }
    if (s->due < 0) {
        return; /* cut before its burst, or none can be told */
    }
    double slot = (s->due - s->from) / HYOID_SLOTS, burst = s->from + slot * part->burst_slot;
    v->frames[c] += gather(stft, side, burst, s->due, v->power[c]);
    double shut = s->from + slot * word->cld + 0.020 + 0.5 * before, open = burst - 0.008 - MOST_MOVED * after;
    if (open > shut) {
        double sum[HY_VIEW_BINS] = {0};
        double frames = gather(stft, side, shut, open, sum);
        v->closed[c] += mean_square(sum, 1);
        v->closed_frames[c] += frames;
    }
}

int hy_view_make(hy_view *v, const hy_side *side, const hy_alignment *a, const hyoid_part *part, hy_diag *diag)
{
    memset(v, 0, sizeof *v);
    hy_stft *stft = hy_stft_new(HY_VIEW_WINDOW, HY_VIEW_FFT);
    if (stft == NULL) {
        return hy_fail(diag, "memory is out");
    }
    for (size_t i = 0; i < a->model->spoken_count; i++) {
        hy_spoken s = a->model->spoken[i];
        if (side->jitter != 0) {
            s.from += moved(&a->edge[i], (uint64_t)side->jitter << 32 | i);
            double end = moved(&a->edge[i + 1], (uint64_t)side->jitter << 32 | (i + 1));
            s.to += end;
            s.due += s.due >= 0 ? end : 0.0;
        }
        if (hy_spoken_inside(a, i) && s.to > s.from) {
            see(v, stft, side, &s, part, doubt_of(&a->edge[i]), doubt_of(&a->edge[i + 1]));
        }
    }
    hy_stft_free(stft);
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        for (int k = 0; k < HY_VIEW_BINS && v->frames[c] > 0; k++) {
            v->power[c][k] /= v->frames[c];
        }
        v->closed[c] /= v->closed_frames[c] > 0 ? v->closed_frames[c] : 1;
    }
    return 0;
}

/* ---- noise ---- */

void hy_noise_in_bins(const hy_alignment *a, double *power)
{
    hy_bands bands;
    hy_bands_make(&bands, HY_BAND_FFT);
    double gain = pow(10, a->gain_db / 10), bin = (double)HY_ANALYSIS_RATE / HY_VIEW_FFT;
    int b = 0;
    for (int k = 0; k < HY_VIEW_BINS; k++) {
        double hz = k * bin;
        while (b < HY_BANDS - 2 && bands.centre[b + 1] < hz) {
            b++;
        }
        double part = (hz - bands.centre[b]) / (bands.centre[b + 1] - bands.centre[b]);
        part = part < 0 ? 0 : part > 1 ? 1 : part;
        power[k] = ((1 - part) * (double)a->noise.energy[b] + part * (double)a->noise.energy[b + 1]) / gain;
    }
}

enum { NOISE_SECONDS = 3, NOISE_COUNT = NOISE_SECONDS * HY_ANALYSIS_RATE };

/* Some seconds of noise with this spectrum, random phases frame by frame, which close to a ring. */
static int shaped_noise(float *ring, const double *power, uint64_t seed, hy_diag *diag)
{
    float *out = fftwf_alloc_real(HY_VIEW_FFT);
    fftwf_complex *in = fftwf_alloc_complex(HY_VIEW_BINS);
    fftwf_plan plan = out != NULL && in != NULL ? fftwf_plan_dft_c2r_1d(HY_VIEW_FFT, in, out, FFTW_ESTIMATE) : NULL;
    if (plan != NULL) {
        memset(ring, 0, NOISE_COUNT * sizeof *ring);
        /* sine windows that overlap by half keep the power; a bin of amplitude m carries m^2 / 2 */
        double bin = (double)HY_ANALYSIS_RATE / HY_VIEW_FFT;
        for (int at = 0; at < NOISE_COUNT; at += HY_VIEW_FFT / 2) {
            for (int k = 0; k < HY_VIEW_BINS; k++) {
                double phase = 6.283185307179586 * uniform(&seed);
                double size = sqrt(-log(1 - uniform(&seed)) * power[k] * bin / 2);
                in[k][0] = (float)(size * cos(phase));
                in[k][1] = (float)(size * sin(phase));
            }
            fftwf_execute(plan);
            for (int i = 0; i < HY_VIEW_FFT; i++) {
                ring[(at + i) % NOISE_COUNT] += out[i] * sinf(3.14159265f * ((float)i + 0.5f) / HY_VIEW_FFT);
            }
        }
    }
    int failed = plan == NULL;
    if (plan != NULL) {
        fftwf_destroy_plan(plan);
    }
    fftwf_free(in);
    fftwf_free(out);
    return failed ? hy_fail(diag, "memory is out") : 0;
}

float *hy_replica(const hy_figures_setup *setup, const double *noise, int number, size_t *count, hy_diag *diag)
{
    hy_model_setup once_more = setup->model;
    once_more.scale = setup->alignment->model->scale;
    once_more.offset_ms = 7 + 13 * number + number * number; /* any times that have little in common */
    hy_model *model = hy_model_render(&once_more, diag);
    float *ring = calloc(NOISE_COUNT, sizeof *ring);
    float *samples = NULL;
    if (model != NULL && ring == NULL) {
        hy_fail(diag, "memory is out");
    }
    if (model != NULL && ring != NULL && shaped_noise(ring, noise, (uint64_t)number + 1, diag) == 0) {
        for (size_t i = 0; i < model->count; i++) {
            model->samples[i] += ring[i % NOISE_COUNT];
        }
        *count = model->count;
        samples = model->samples;
        model->samples = NULL;
    }
    free(ring);
    hy_model_free(model);
    return samples;
}

/* ---- distances ---- */

double hy_log_spectral_distance(const double *d)
{
    double n = 0, sum = 0, squares = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        if (isfinite(d[b])) {
            n += 1;
            sum += d[b];
            squares += d[b] * d[b];
        }
    }
    double left = n > 0 ? squares / n - sum / n * (sum / n) : 0.0;
    return left > 0 ? sqrt(left) : 0.0;
}

double hy_mel_cepstral_distance(const double *d)
{
    const double ln10 = 2.302585092994045684, pi = 3.14159265358979323846;
    double n = 0, mean = 0, sum = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        n += isfinite(d[b]);
        mean += isfinite(d[b]) ? d[b] : 0.0;
    }
    mean /= n > 0 ? n : 1;
    for (int m = 1; m <= 13; m++) {
        double c = 0; /* ln|H| = c[0] + sum of c[m] cos(m w) */
        for (int b = 0; b < HY_BANDS; b++) {
            c += isfinite(d[b]) ? (d[b] - mean) * ln10 / 20 * cos(pi * m * (b + 0.5) / HY_BANDS) : 0.0;
        }
        c *= 2.0 / HY_BANDS;
        sum += c * c;
    }
    return 10 / ln10 * sqrt(2 * sum);
}
