/* The figures of all codes: recording, model and good chips are made, then each code is looked at. */
#include "figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figures_private.h"

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
static void find_colour(const hy_workshop *w, const hy_figures *f, double *colour)
{
    double raw[HY_BANDS], value[HYOID_PHONEMES];
    for (int b = 0; b < HY_BANDS; b++) {
        size_t n = 0;
        for (size_t k = 0; k < f->count; k++) {
            double d[HY_BANDS];
            hy_band_differences(w, f->code[k].code, w->recording, w->gain, d);
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
static void take_colour(hy_workshop *w, const hy_figures *f)
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
static int make_views(hy_workshop *w, const hy_figures *f, hy_diag *diag)
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
    hy_band_energies(w, w->noise, w->noise_band);
    if (setup->colour) {
        take_colour(w, f);
        hy_band_energies(w, w->noise, w->noise_band);
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
    hy_workshop w = {.setup = setup, .a = a, .gain = pow(10, a->gain_db / 10)};
    w.replicas = setup->replicas < 0 ? 0 : setup->replicas > HY_REPLICAS_MAX ? HY_REPLICAS_MAX : setup->replicas;
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
        hy_code_spectrum(&w, code);
        hy_code_level(&w, code);
        hy_code_closure(&w, code);
        hy_code_formants(&w, code, of[k].formant, of[k].cycle_hz, of[k].f0_hz);
    }
    free(views);
    return failed ? -1 : 0;
}
