/* Level, noise and band of a recording that has been laid beside the model. */
#include <math.h>
#include <stdlib.h>

#include "align_private.h"

/* The recording's frame beside frame i of the model; null beyond its ends. */
static const float *frame_beside(const hy_alignment *a, size_t i)
{
    double at = hy_align_recording_time(a, (double)i * a->model_frames.hop / HY_ANALYSIS_RATE) * HY_ANALYSIS_RATE /
                a->frames.hop;
    long j = lround(at);
    return j >= 0 && j < (long)a->frames.count ? a->frames.energy + (size_t)j * HY_BANDS : NULL;
}

static double sum_of(const float *energy, const unsigned char *usable)
{
    double sum = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        sum += usable == NULL || usable[b] ? (double)energy[b] : 0.0;
    }
    return sum;
}

/* Recording against model over the frames in which the model is within 20 dB of its loud ones. */
static int find_gain(hy_alignment *a, hy_diag *diag)
{
    double *ratio = malloc((a->model_frames.count + 1) * sizeof *ratio);
    if (ratio == NULL) {
        return hy_fail(diag, "memory is out");
    }
    double loud = hy_loud_density(&a->model_frames, diag) * HY_BANDS, floor = sum_of(a->noise.energy, a->usable);
    size_t n = 0;
    for (size_t i = 0; i < a->model_frames.count; i++) {
        const float *m = a->model_frames.energy + i * HY_BANDS, *r = frame_beside(a, i);
        if (r != NULL && sum_of(m, NULL) > 0.01 * loud) {
            double left = sum_of(r, a->usable) - floor;
            ratio[n++] = 10 * log10((left > 0 ? left : 1e-20) / (sum_of(m, a->usable) + 1e-20));
        }
    }
    a->gain_db = hy_quantile(ratio, n, 0.5);
    free(ratio);
    return n > 0 ? 0 : hy_fail(diag, "%s: the recording is over before the speech begins", a->recording->name);
}

/* In each band, where the model is weakest, what the recording has beyond it. */
static int find_noise(hy_alignment *a, hy_diag *diag)
{
    size_t count = a->model_frames.count, n = 0;
    double *weak = malloc((count + 1) * sizeof *weak), *over = malloc((count + 1) * sizeof *over);
    if (weak == NULL || over == NULL) {
        free(weak);
        free(over);
        return hy_fail(diag, "memory is out");
    }
    double gain = pow(10, a->gain_db / 10);
    for (size_t b = 0; b < HY_BANDS; b++) {
        n = 0;
        for (size_t i = 0; i < count; i++) {
            weak[n++] = (double)a->model_frames.energy[i * HY_BANDS + b];
        }
        double limit = hy_quantile(weak, n, 0.1);
        n = 0;
        for (size_t i = 0; i < count; i++) {
            const float *r = frame_beside(a, i);
            double m = (double)a->model_frames.energy[i * HY_BANDS + b];
            if (r != NULL && m <= limit) {
                over[n++] = (double)r[b] - gain * m;
            }
        }
        /* the mean; a median of so few bins would be too low. What lies beyond is no noise: an edge that is off */
        double most = 4 * hy_quantile(over, n, 0.5), sum = 0, used = 0;
        for (size_t i = 0; i < n; i++) {
            sum += over[i] <= most ? over[i] : 0.0;
            used += over[i] <= most;
        }
        a->noise.energy[b] = (float)(used > 0 && sum > 0 ? sum / used : 0.0);
    }
    free(weak);
    free(over);
    hy_noise_sum(&a->noise);
    return 0;
}

#define CUT_DB 12.0      /* a band at the border that is weaker than the model by this was cut off on the way */
#define SLOPE_DB 3.0     /* and those beside it that are weaker by this are on the cut's slope */
#define GENTLE_DB 5.0    /* so does the lowest band, weaker than the rest by this, without a border in sight */
#define UNHEARD_DB -60.0 /* of the loud frames: a band of the model that is weaker says nothing */
enum { FEW_FRAMES = 10 };

/* By how much the recording is weaker than the model in one band, in the better third of the frames in which the model has
 * something there: what was cut off on the way is weak in all of them. dB; 200: nothing can be said. */
static double weakness(const hy_alignment *a, size_t b, double floor, double *value)
{
    size_t n = 0;
    const double gain = pow(10, a->gain_db / 10), noise = (double)a->noise.energy[b];
    for (size_t i = 0; i < a->model_frames.count; i++) {
        const float *r = frame_beside(a, i);
        double m = (double)a->model_frames.energy[i * HY_BANDS + b];
        if (r != NULL && m > floor && gain * m > 4 * noise) {
            double left = (double)r[b] - noise;
            value[n++] = 10 * log10(gain * m / (left > 1e-12 * gain * m ? left : 1e-12 * gain * m));
        }
    }
    return n < FEW_FRAMES ? 200.0 : hy_quantile(value, n, 0.3);
}

/* What the bands that are carried have in common. */
static double middle(const double weak[HY_BANDS], const unsigned char fine[HY_BANDS])
{
    double value[HY_BANDS];
    size_t n = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        if (fine[b]) {
            value[n++] = weak[b];
        }
    }
    return hy_quantile(value, n, 0.5);
}

/* A band is usable if the way from the part to the file does not cut it off and the noise leaves something of it. From the middle
 * outward, until two bands in a row are not usable. (A defect that takes all sounds' highs or lows away looks the same; so the
 * band's limits are always told.) */
static int find_band(hy_alignment *a, hy_diag *diag)
{
    hy_bands bands;
    hy_bands_make(&bands, HY_BAND_FFT);
    double *value = malloc((a->model_frames.count + 1) * sizeof *value);
    if (value == NULL) {
        return hy_fail(diag, "memory is out");
    }
    unsigned char fine[HY_BANDS];
    double weak[HY_BANDS], floor = hy_loud_density(&a->model_frames, diag) * pow(10, UNHEARD_DB / 10);
    for (size_t b = 0; b < HY_BANDS; b++) {
        weak[b] = weakness(a, b, floor, value);
        fine[b] = weak[b] < CUT_DB && bands.centre[b] < a->recording->top_hz;
    }
    free(value);
    int low = 0, high = 0;
    while (low < HY_BANDS && bands.centre[low] < 1000.0) {
        low++;
    }
    high = low;
    while (low > 0 && (fine[low - 1] || (low > 1 && fine[low - 2]))) {
        low--;
    }
    while (high < HY_BANDS - 1 && (fine[high + 1] || (high < HY_BANDS - 2 && fine[high + 2]))) {
        high++;
    }
    /* a gentle low cut (a transformer, a coupling capacitor, a small loudspeaker) has most of its slope below the lowest band */
    const int gentle = low == 0 && weak[0] - middle(weak, fine) > GENTLE_DB;
    while ((low > 0 || gentle) && low < HY_BANDS - 1 && bands.centre[low] < 1000.0 &&
           weak[low] - (gentle ? middle(weak, fine) : 0.0) > SLOPE_DB) {
        low++;
    }
    while (high < HY_BANDS - 1 && high > 0 && bands.centre[high] > 1000.0 && weak[high] > SLOPE_DB) {
        high--;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        a->usable[b] = fine[b] && b >= low && b <= high;
    }
    a->low_hz = bands.low[low];
    a->high_hz = bands.high[high] < a->recording->top_hz ? bands.high[high] : a->recording->top_hz;
    return 0;
}

int hy_align_levels(hy_alignment *a, hy_diag *diag)
{
    for (int round = 0; round < 2; round++) { /* each leans on the others */
        if (find_gain(a, diag) != 0 || find_noise(a, diag) != 0 || find_band(a, diag) != 0) {
            return -1;
        }
    }
    if (find_gain(a, diag) != 0) {
        return -1;
    }
    double power = 0, n = 0, loud = hy_loud_density(&a->model_frames, diag) * HY_BANDS;
    hy_bands bands;
    hy_bands_make(&bands, HY_BAND_FFT);
    for (size_t i = 0; i < a->model_frames.count; i++) {
        const float *m = a->model_frames.energy + i * HY_BANDS;
        if (sum_of(m, NULL) > 0.01 * loud) {
            for (int b = 0; b < HY_BANDS; b++) {
                power += (double)m[b] * (bands.centre[b] - (b > 0 ? bands.centre[b - 1] : 100.0));
            }
            n += 1;
        }
    }
    a->speech_db = a->gain_db + 10 * log10(power / (n > 0 ? n : 1) + 1e-20);
    a->snr_db = a->speech_db - a->noise.level_db;
    return 0;
}
