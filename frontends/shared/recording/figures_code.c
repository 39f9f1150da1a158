/* The figures of one code: spectrum, level, closure and formants of recording, model and good chips side by side. */
#include <math.h>
#include <stdlib.h>

#include "figures_private.h"

enum { REPLICAS_MAX = HY_REPLICAS_MAX, FEW_BANDS = 5 };
#define DEEPEST_DB 45.0   /* a band that is weaker than the code's strongest by this is not compared */
#define QUIETEST_DB -40.0 /* against the speech: differences below this are not heard beside it */
#define LEAST_SHARE 0.3   /* of a sound's power must lie in the recording's band to be judged */
#define SMALL_SAMPLE 1.5  /* a spread that a handful of renderings tell is not known better */

/* ---- one code's bands ---- */

void hy_band_energies(const hy_workshop *w, const double *power, double *band)
{
    for (int b = 0; b < HY_BANDS; b++) {
        band[b] = 0;
        for (int k = 0; k < w->bands.count[b]; k++) {
            band[b] += (double)w->bands.weight[b][k] * power[w->bands.first[b] + k];
        }
    }
}

/* What is compared: the model with the recording's noise on one side, the other signal as it is. */
void hy_band_differences(const hy_workshop *w, unsigned code, const hy_view *view, double gain, double *d)
{
    double m[HY_BANDS], r[HY_BANDS], most = 0;
    hy_band_energies(w, w->model->power[code], m);
    hy_band_energies(w, view->power[code], r);
    for (int b = 0; b < HY_BANDS; b++) {
        most = w->a->usable[b] && m[b] > most ? m[b] : most;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        int shown = w->a->usable[b] && m[b] > most * pow(10, -DEEPEST_DB / 10) && m[b] > w->noise_band[b];
        d[b] = shown ? 10 * log10((r[b] / gain + 1e-20) / (m[b] + w->noise_band[b] + 1e-20)) : NAN;
    }
}

static double usable_power(const hy_workshop *w, const double *power)
{
    double band[HY_BANDS], sum = 0;
    hy_band_energies(w, power, band);
    for (int b = 0; b < HY_BANDS; b++) {
        sum += w->a->usable[b] ? band[b] * (w->bands.centre[b] - (b > 0 ? w->bands.centre[b - 1] : 100.0)) : 0.0;
    }
    return sum;
}

/* How much of a sound's power lies in bands that the recording carries. */
static double usable_share(const hy_workshop *w, unsigned code)
{
    double band[HY_BANDS], inside = 0, all = 0;
    hy_band_energies(w, w->model->power[code], band);
    for (int b = 0; b < HY_BANDS; b++) {
        double power = band[b] * (w->bands.centre[b] - (b > 0 ? w->bands.centre[b - 1] : 100.0));
        inside += w->a->usable[b] ? power : 0.0;
        all += power;
    }
    return all > 0 ? inside / all : 0.0;
}

static size_t finite_count(const double *d)
{
    size_t n = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        n += isfinite(d[b]) ? 1 : 0;
    }
    return n;
}

/* ---- spectra ---- */

/* Takes what good chips have out of a distance; what is left is what the part has beyond them. */
static void set_distance(hy_figure *figure, double raw, double usual, double degrees)
{
    double left = raw * raw - usual * usual;
    figure->known = HY_KNOWN;
    figure->usual = usual;
    figure->value = left > 0 ? sqrt(left) : 0.0;
    double larger = figure->value > usual ? figure->value : usual;
    double spread = sqrt((2 * pow(usual, 4) + 4 * usual * usual * figure->value * figure->value) / degrees);
    figure->uncertainty = larger > 0 ? SMALL_SAMPLE * spread / larger : 0.0;
}

void hy_code_spectrum(const hy_workshop *w, hy_code_figures *code)
{
    double d[HY_BANDS], mean[HY_BANDS] = {0}, other[REPLICAS_MAX][HY_BANDS];
    hy_band_differences(w, code->code, w->recording, w->gain, d);
    for (int r = 0; r < w->replicas; r++) {
        hy_band_differences(w, code->code, &w->replica[r], 1.0, other[r]);
        for (int b = 0; b < HY_BANDS; b++) {
            mean[b] += other[r][b] / w->replicas;
        }
    }
    double lsd = 0, mcd = 0;
    for (int r = 0; r < w->replicas; r++) {
        for (int b = 0; b < HY_BANDS; b++) {
            other[r][b] -= mean[b];
        }
        lsd += pow(hy_log_spectral_distance(other[r]), 2);
        mcd += pow(hy_mel_cepstral_distance(other[r]), 2);
    }
    double level = 0, n = (double)finite_count(d);
    for (int b = 0; b < HY_BANDS; b++) {
        d[b] -= mean[b];
        level += isfinite(d[b]) ? d[b] / n : 0.0;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        code->difference[b] = d[b] - level;
    }
    hy_figure *l = &code->figure[HY_M_LSD], *m = &code->figure[HY_M_MCD];
    double share = usable_share(w, code->code);
    if (code->pause || share < LEAST_SHARE || n < FEW_BANDS) {
        l->known = m->known = code->pause ? HY_NOT_THERE : share < LEAST_SHARE ? HY_OUT_OF_BAND : HY_TOO_NOISY;
        return;
    }
    double more = w->replicas > 1 ? (w->replicas + 1.0) / (w->replicas * (w->replicas - 1.0)) : 0.0;
    set_distance(l, hy_log_spectral_distance(d), sqrt(lsd * more), n / 2);
    set_distance(m, hy_mel_cepstral_distance(d), sqrt(mcd * more), n / 2);
    l->count = m->count = code->inside;
}

/* Mean and spread (two standard deviations, of one more) over good chips. */
static void usual(const double *x, int n, double *mean, double *spread)
{
    double sum = 0, squares = 0;
    for (int i = 0; i < n; i++) {
        sum += x[i];
    }
    *mean = n > 0 ? sum / n : 0.0;
    for (int i = 0; i < n; i++) {
        squares += (x[i] - *mean) * (x[i] - *mean);
    }
    *spread = n > 1 ? SMALL_SAMPLE * 2 * sqrt(squares / (n - 1) * (1 + 1.0 / n)) : 0.0;
}

static double level_of(const hy_workshop *w, double power, double noise)
{
    return 10 * log10(power + noise + w->speech * pow(10, QUIETEST_DB / 10));
}

void hy_code_level(const hy_workshop *w, hy_code_figures *code)
{
    hy_figure *figure = &code->figure[HY_M_LEVEL];
    double noise = usable_power(w, w->noise), model = usable_power(w, w->model->power[code->code]);
    double other[REPLICAS_MAX], mean, spread, own = level_of(w, model, noise);
    for (int r = 0; r < w->replicas; r++) {
        other[r] = level_of(w, usable_power(w, w->replica[r].power[code->code]), 0) - own;
    }
    usual(other, w->replicas, &mean, &spread);
    double got = level_of(w, usable_power(w, w->recording->power[code->code]) / w->gain, 0);
    double share = code->pause ? 1.0 : usable_share(w, code->code);
    /* little of a sound may lie in the band, but if that is missing, too, the sound is */
    int heard = model > noise && own > level_of(w, 0, 0) + 6;
    figure->known = share < LEAST_SHARE && !heard  ? HY_OUT_OF_BAND
                    : code->pause || model > noise ? HY_KNOWN
                                                   : HY_TOO_NOISY;
    figure->model = own;
    figure->recording = got;
    figure->value = got - own - mean;
    figure->uncertainty =
        spread + 0.2 +
        (share < LEAST_SHARE ? 10 : 4) * (1 - share); /* the border of the band takes a part of what lies beside it */
    figure->count = code->inside;
}

void hy_code_closure(const hy_workshop *w, hy_code_figures *code)
{
    hy_figure *figure = &code->figure[HY_M_CLOSURE];
    unsigned c = code->code;
    figure->known = HY_NOT_THERE;
    if (!code->stop || w->model->closed_frames[c] < 1) {
        return;
    }
    double noise = 0;
    for (int k = HY_CLOSURE_BIN; k < HY_VIEW_BINS; k++) {
        noise += w->noise[k] * HY_ANALYSIS_RATE / HY_VIEW_FFT;
    }
    double other[REPLICAS_MAX], mean, spread, own = level_of(w, w->model->closed[c], noise);
    for (int r = 0; r < w->replicas; r++) {
        other[r] = level_of(w, w->replica[r].closed[c], 0) - own;
    }
    usual(other, w->replicas, &mean, &spread);
    figure->known = noise > 0.1 * w->speech ? HY_TOO_NOISY : HY_KNOWN;
    figure->model = own;
    figure->recording = level_of(w, w->recording->closed[c] / w->gain, 0);
    figure->value = figure->recording - own - mean;
    figure->uncertainty = spread + 0.5;
    figure->count = code->inside;
}

/* ---- formants ---- */

static void without_noise(const hy_workshop *w, const double *power, double gain, double noise_share, double *out)
{
    for (int k = 0; k < HY_VIEW_BINS; k++) {
        double x = power[k] / gain, left = x - noise_share * w->noise[k];
        out[k] = left > 0.05 * x ? left : 0.05 * x;
    }
}

/* How much of what is heard between two frequencies would be noise, 0..1. */
static double noise_share(const hy_workshop *w, unsigned code, double low_hz, double high_hz)
{
    const double bin = (double)HY_ANALYSIS_RATE / HY_VIEW_FFT;
    double noise = 0, sound = 1e-30;
    for (int k = (int)(low_hz / bin); k <= (int)(high_hz / bin) && k < HY_VIEW_BINS; k++) {
        if (k >= 0) {
            noise += w->noise[k];
            sound += w->model->power[code][k];
        }
    }
    return noise / (sound + noise);
}

#define CUT_DOUBT 4.0   /* %: the second formant is bent where the cut goes through the first */
#define ROOM_DOUBT 4.0  /* %: echoes bend a spectrum more finely than the colour that is taken out */
#define CLOSE_TO_F0 2.3 /* a first formant that is nearer to the pitch than this is not told from its harmonics */

void hy_code_formants(const hy_workshop *w, hy_code_figures *code, const double *expected, double cycle_hz,
                      double f0_hz)
{
    const unsigned c = code->code;
    double clean[HY_VIEW_BINS], model[3], recording[3], other[3][REPLICAS_MAX];
    hy_formant_setup setup = {
        .power = clean, .cycle_hz = cycle_hz, .low_hz = w->a->low_hz, .high_hz = w->a->high_hz, .expected = expected};
    without_noise(w, w->model->power[c], 1.0, 0.0, clean);
    hy_formants_find(&setup, model);
    setup.expected = model; /* what the model shows is what is looked for */
    without_noise(w, w->recording->power[c], w->gain, 1.0, clean);
    hy_formants_find(&setup, recording);
    const double least = w->a->low_hz * (w->a->low_hz > HY_CUT_LOW_HZ ? 2.2 : 1.1);
    int found[3] = {0};
    for (int r = 0; r < w->replicas; r++) {
        double f[3];
        without_noise(w, w->replica[r].power[c], 1.0, 1.0, clean);
        hy_formants_find(&setup, f);
        for (int i = 0; i < 3; i++) {
            if (f[i] > 0 && model[i] > 0) {
                other[i][found[i]++] = 100 * log(f[i] / model[i]);
            }
        }
    }
    for (int i = 0; i < 3; i++) {
        hy_figure *figure = &code->figure[HY_M_F1 + i];
        double mean, spread;
        usual(other[i], found[i], &mean, &spread);
        figure->model = model[i];
        figure->recording = recording[i];
        figure->count = code->inside;
        if (!code->voiced || code->noisy || code->stop || code->pause) {
            figure->known = HY_NOT_THERE;
        } else if (expected[i] < least || expected[i] > w->a->high_hz * 0.93) {
            figure->known = HY_OUT_OF_BAND;
        } else if (!(model[i] > 0) || fabs(log(model[i] / expected[i])) > 0.15 ||
                   (i == 0 && model[i] < CLOSE_TO_F0 * f0_hz)) {
            figure->known = HY_NOT_SEEN;
        } else if (noise_share(w, c, model[i] - 100, model[i] + 100) > 0.3 || w->a->high_hz < 0.15 * cycle_hz) {
            figure->known = HY_TOO_NOISY;
        } else if (!(recording[i] > 0) || found[i] < w->replicas) {
            figure->known = found[i] < w->replicas ? HY_TOO_NOISY : HY_NOT_SEEN;
        } else {
            figure->known = HY_KNOWN;
            figure->value = 100 * (exp(log(recording[i] / model[i]) - mean / 100) - 1);
            /* how well the noise itself is known is not in the spread */
            figure->uncertainty =
                spread + (w->setup->colour ? ROOM_DOUBT : 0.3) + (i == 1 && expected[0] < least ? CUT_DOUBT : 0.0) +
                20 * noise_share(w, c, model[i] - 100, model[i] + 100) + 20 * noise_share(w, c, 0, 0.25 * cycle_hz);
        }
    }
}
