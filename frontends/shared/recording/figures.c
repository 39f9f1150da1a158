/* The figures of each code: recording, model and good chips side by side. */
#include "figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figures_private.h"

enum { REPLICAS_MAX = 8, FEW_BANDS = 5 };
#define DEEPEST_DB 45.0   /* a band that is weaker than the code's strongest by this is not compared */
#define QUIETEST_DB -40.0 /* against the speech: differences below this are not heard beside it */
#define LEAST_SHARE 0.3   /* of a sound's power must lie in the recording's band to be judged */
#define SMALL_SAMPLE 1.5  /* a spread that a handful of renderings tell is not known better */

static const struct {
    const char *name, *unit, *what;
} quantities[HY_MEASURES] = {
    [HY_M_DURATION] = {"duration", "%", "duration, at the part's own clock"},
    [HY_M_F0] = {"f0", "%", "pitch, at the part's own clock"},
    [HY_M_F1] = {"f1", "%", "first formant, at the part's own clock"},
    [HY_M_F2] = {"f2", "%", "second formant, at the part's own clock"},
    [HY_M_F3] = {"f3", "%", "third formant, at the part's own clock"},
    [HY_M_LSD] = {"lsd", "dB", "log-spectral distance of the long-term spectra"},
    [HY_M_MCD] = {"mcd", "dB", "mel-cepstral distance of the long-term spectra"},
    [HY_M_LEVEL] = {"level", "dB", "level against the whole recording's"},
    [HY_M_CLOSURE] = {"closure", "dB", "level while a stop is closed"},
    [HY_M_ONSET] = {"onset", "ms", "time of the rise at an onset"},
};

const char *hy_measure_name(hy_measure q)
{
    return quantities[q].name;
}

const char *hy_measure_unit(hy_measure q)
{
    return quantities[q].unit;
}

const char *hy_measure_what(hy_measure q)
{
    return quantities[q].what;
}

const char *hy_known_why(hy_known known)
{
    static const char *const why[] = {
        [HY_NOT_THERE] = "this sound has none",
        [HY_NOT_SEEN] = "can't be seen in this text",
        [HY_TOO_NOISY] = "the noise covers it",
        [HY_OUT_OF_BAND] = "outside the recording's band",
        [HY_TOO_SHORT] = "not in the recording, or too short",
        [HY_KNOWN] = "measured",
    };
    return why[known];
}

typedef struct workshop {
    const hy_figures_setup *setup;
    const hy_alignment *a;
    hy_bands bands;
    hy_view *model, *recording, *replica; /* replica: `replicas` of them */
    int replicas;
    double noise[HY_VIEW_BINS]; /* in the model's units */
    double noise_band[HY_BANDS];
    double gain;   /* power: recording over model */
    double speech; /* mean square of the speech, model's units */
} workshop;

/* ---- one code's bands ---- */

static void band_energies(const workshop *w, const double *power, double *band)
{
    for (int b = 0; b < HY_BANDS; b++) {
        band[b] = 0;
        for (int k = 0; k < w->bands.count[b]; k++) {
            band[b] += (double)w->bands.weight[b][k] * power[w->bands.first[b] + k];
        }
    }
}

/* What is compared: the model with the recording's noise on one side, the other signal as it is. */
static void differences(const workshop *w, unsigned code, const hy_view *view, double gain, double *d)
{
    double m[HY_BANDS], r[HY_BANDS], most = 0;
    band_energies(w, w->model->power[code], m);
    band_energies(w, view->power[code], r);
    for (int b = 0; b < HY_BANDS; b++) {
        most = w->a->usable[b] && m[b] > most ? m[b] : most;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        int shown = w->a->usable[b] && m[b] > most * pow(10, -DEEPEST_DB / 10) && m[b] > w->noise_band[b];
        d[b] = shown ? 10 * log10((r[b] / gain + 1e-20) / (m[b] + w->noise_band[b] + 1e-20)) : NAN;
    }
}

static double usable_power(const workshop *w, const double *power)
{
    double band[HY_BANDS], sum = 0;
    band_energies(w, power, band);
    for (int b = 0; b < HY_BANDS; b++) {
        sum += w->a->usable[b] ? band[b] * (w->bands.centre[b] - (b > 0 ? w->bands.centre[b - 1] : 100.0)) : 0.0;
    }
    return sum;
}

/* How much of a sound's power lies in bands that the recording carries. */
static double usable_share(const workshop *w, unsigned code)
{
    double band[HY_BANDS], inside = 0, all = 0;
    band_energies(w, w->model->power[code], band);
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

static void spectrum(const workshop *w, hy_code_figures *code)
{
    double d[HY_BANDS], mean[HY_BANDS] = {0}, other[REPLICAS_MAX][HY_BANDS];
    differences(w, code->code, w->recording, w->gain, d);
    for (int r = 0; r < w->replicas; r++) {
        differences(w, code->code, &w->replica[r], 1.0, other[r]);
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

static double level_of(const workshop *w, double power, double noise)
{
    return 10 * log10(power + noise + w->speech * pow(10, QUIETEST_DB / 10));
}

static void level(const workshop *w, hy_code_figures *code)
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

static void closure(const workshop *w, hy_code_figures *code)
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

static void without_noise(const workshop *w, const double *power, double gain, double noise_share, double *out)
{
    for (int k = 0; k < HY_VIEW_BINS; k++) {
        double x = power[k] / gain, left = x - noise_share * w->noise[k];
        out[k] = left > 0.05 * x ? left : 0.05 * x;
    }
}

/* How much of what is heard between two frequencies would be noise, 0..1. */
static double noise_share(const workshop *w, unsigned code, double low_hz, double high_hz)
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

#define ROOM_DOUBT 4.0  /* %: echoes bend a spectrum more finely than the colour that is taken out */
#define CLOSE_TO_F0 2.3 /* a first formant that is nearer to the pitch than this is not told from its harmonics */

static void formants(const workshop *w, hy_code_figures *code, const double *expected, double cycle_hz, double f0_hz)
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
        } else if (expected[i] < w->a->low_hz * (w->a->low_hz > 150.0 ? 2.2 : 1.1) ||
                   expected[i] > w->a->high_hz * 0.93) {
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
            figure->uncertainty = spread + (w->setup->colour ? ROOM_DOUBT : 0.3) +
                                  20 * noise_share(w, c, model[i] - 100, model[i] + 100) +
                                  20 * noise_share(w, c, 0, 0.25 * cycle_hz);
        }
    }
}

/* ---- all codes ---- */

/* What the model makes of each code, over its occurrences. */
typedef struct expectation {
    double formant[3], cycle_hz, f0_hz, voice, noise;
} expectation;

static void list_codes(hy_figures *f, const hy_figures_setup *setup, expectation *of, int *place_of)
{
    const hy_alignment *a = setup->alignment;
    const hy_model *m = a->model;
    memset(f, 0, sizeof *f);
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        place_of[c] = -1;
        for (size_t i = 0; i < m->spoken_count && place_of[c] < 0; i++) {
            if (m->spoken[i].code == c) {
                place_of[c] = (int)f->count;
                f->code[f->count++].code = (unsigned)c;
            }
        }
    }
    for (size_t i = 0; i < m->spoken_count; i++) {
        const hy_spoken *s = &m->spoken[i];
        hy_code_figures *code = &f->code[place_of[s->code]];
        expectation *e = &of[place_of[s->code]];
        code->count++;
        code->inside += hy_spoken_inside(a, i) ? 1 : 0;
        code->seconds += s->to - s->from;
        e->formant[0] += s->f1;
        e->formant[1] += s->f2;
        e->formant[2] += s->f3;
        e->cycle_hz += s->clock_hz / setup->model.part->filter_clocks;
        e->f0_hz += s->f0_hz;
        e->voice += s->voice;
        e->noise += s->noise;
    }
    for (size_t k = 0; k < f->count; k++) {
        hy_code_figures *code = &f->code[k];
        const hyoid_phoneme *word = &setup->model.part->phoneme[code->code];
        double n = (double)code->count;
        for (int i = 0; i < 3; i++) {
            of[k].formant[i] /= n;
        }
        of[k].cycle_hz /= n;
        of[k].f0_hz /= n;
        code->stop = word->closure;
        code->pause = word->pause || (of[k].voice / n < 16 && of[k].noise / n < 16);
        code->voiced = of[k].voice / n >= 48;
        code->noisy = of[k].noise / n >= 48;
    }
}

/* What all sounds have in common: each band's median over the codes; smooth over neighbours. dB. */
static void find_colour(const workshop *w, const hy_figures *f, double *colour)
{
    double raw[HY_BANDS], value[HYOID_PHONEMES];
    for (int b = 0; b < HY_BANDS; b++) {
        size_t n = 0;
        for (size_t k = 0; k < f->count; k++) {
            double d[HY_BANDS];
            differences(w, f->code[k].code, w->recording, w->gain, d);
            if (isfinite(d[b]) && !f->code[k].pause && w->recording->frames[f->code[k].code] > 0) {
                value[n++] = d[b];
            }
        }
        raw[b] = n >= 3 ? hy_quantile(value, n, 0.5) : 0.0;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        double sum = 0, weight = 0;
        for (int k = b > 0 ? b - 1 : 0; k <= b + 1 && k < HY_BANDS; k++) {
            sum += raw[k] * (k == b ? 2 : 1);
            weight += k == b ? 2 : 1;
        }
        colour[b] = sum / weight;
    }
}

/* Takes it out of the recording's spectra, and so out of its noise. */
static void take_colour(workshop *w, const hy_figures *f)
{
    double colour[HY_BANDS];
    const double bin = (double)HY_ANALYSIS_RATE / HY_VIEW_FFT;
    find_colour(w, f, colour);
    for (int k = 0, b = 0; k < HY_VIEW_BINS; k++) {
        double hz = k * bin;
        while (b < HY_BANDS - 2 && w->bands.centre[b + 1] < hz) {
            b++;
        }
        double part = (hz - w->bands.centre[b]) / (w->bands.centre[b + 1] - w->bands.centre[b]);
        part = part < 0 ? 0 : part > 1 ? 1 : part;
        double factor = pow(10, -((1 - part) * colour[b] + part * colour[b + 1]) / 10);
        w->noise[k] *= factor;
        for (int c = 0; c < HYOID_PHONEMES; c++) {
            w->recording->power[c][k] *= factor;
        }
    }
}

/* The model as it is, the recording (its colour taken out, if asked for), then good chips in the noise that is left. */
static int make_views(workshop *w, const hy_figures *f, hy_diag *diag)
{
    const hy_figures_setup *setup = w->setup;
    const hy_alignment *a = w->a;
    const hyoid_part *part = setup->model.part;
    const hy_side model = {a->model->samples, a->model->count, NULL, 0};
    const hy_side recording = {a->recording->samples, a->recording->count, a, 0};
    if (hy_view_make(w->model, &model, a, part, diag) != 0 ||
        hy_view_make(w->recording, &recording, a, part, diag) != 0) {
        return -1;
    }
    hy_noise_in_bins(a, w->noise);
    band_energies(w, w->noise, w->noise_band);
    if (setup->colour) {
        take_colour(w, f);
        band_energies(w, w->noise, w->noise_band);
    }
    for (int r = 0; r < w->replicas; r++) {
        hy_side side = {.jitter = (unsigned)r + 1};
        float *x = hy_replica(setup, w->noise, r, &side.count, diag);
        side.x = x;
        int failed = x == NULL || hy_view_make(&w->replica[r], &side, a, part, diag) != 0;
        free(x);
        if (failed) {
            return -1;
        }
    }
    return 0;
}

int hy_figures_make(hy_figures *f, const hy_figures_setup *setup, hy_diag *diag)
{
    const hy_alignment *a = setup->alignment;
    int place_of[HYOID_PHONEMES];
    expectation of[HYOID_PHONEMES] = {{{0}, 0, 0, 0, 0}};
    workshop w = {.setup = setup, .a = a, .gain = pow(10, a->gain_db / 10)};
    w.replicas = setup->replicas < 0 ? 0 : setup->replicas > REPLICAS_MAX ? REPLICAS_MAX : setup->replicas;
    list_codes(f, setup, of, place_of);
    hy_view *views = calloc((size_t)w.replicas + 2, sizeof *views);
    if (views == NULL) {
        return hy_fail(diag, "memory is out");
    }
    w.model = views;
    w.recording = views + 1;
    w.replica = views + 2;
    hy_bands_make(&w.bands, HY_VIEW_FFT);
    w.speech = pow(10, (a->speech_db - a->gain_db) / 10);
    int failed = make_views(&w, f, diag) != 0 || hy_figures_times(f, setup, place_of, diag) != 0;
    for (size_t k = 0; !failed && k < f->count; k++) {
        hy_code_figures *code = &f->code[k];
        if (w.recording->frames[code->code] < 1) {
            for (int q = HY_M_F1; q <= HY_M_CLOSURE; q++) {
                code->figure[q].known = HY_TOO_SHORT;
            }
            continue;
        }
        spectrum(&w, code);
        level(&w, code);
        closure(&w, code);
        formants(&w, code, of[k].formant, of[k].cycle_hz, of[k].f0_hz);
    }
    free(views);
    return failed ? -1 : 0;
}
