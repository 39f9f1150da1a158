#include "fit_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int sort_items(hy_fit *f, const unsigned char *const *uses)
{
    size_t total = 0;
    for (size_t t = 0; t < f->take_count; t++) {
        total += f->takes[t].items;
    }
    f->fitted = malloc((total + 1) * sizeof *f->fitted);
    f->held = malloc((total + 1) * sizeof *f->held);
    f->costs = malloc((total + 1) * sizeof *f->costs);
    if (f->fitted == NULL || f->held == NULL || f->costs == NULL) {
        return -1;
    }
    for (size_t t = 0; t < f->take_count; t++) {
        for (size_t i = 0; i < f->takes[t].items; i++) {
            hy_place place = {(uint32_t)t, (uint32_t)i};
            int use = uses != NULL && uses[t] != NULL ? uses[t][i] : HY_FITTED;
            if (use == HY_HELD_OUT) {
                f->held[f->held_count++] = place;
            } else if (use == HY_FITTED) {
                f->fitted[f->fitted_count++] = place;
            }
        }
    }
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        f->by_code[c] = malloc((total + 1) * sizeof *f->by_code[c]);
        if (f->by_code[c] == NULL) {
            return -1;
        }
        for (size_t i = 0; i < f->fitted_count; i++) {
            if (f->takes[f->fitted[i].take].said[f->fitted[i].item].code == c) {
                f->by_code[c][f->by_code_count[c]++] = f->fitted[i];
            }
        }
    }
    return 0;
}

hy_fit *hy_fit_new(const hy_material *takes, size_t count, const unsigned char *const *use, const hyoid_part *prior,
                   unsigned threads)
{
    hy_fit *f = calloc(1, sizeof *f);
    if (f == NULL) {
        return NULL;
    }
    f->takes = takes;
    f->take_count = count;
    f->prior = prior;
    f->part = *prior;
    f->threads = hy_parallel_threads(threads);
    f->judges = calloc(f->threads * count, sizeof(hy_judge *));
    f->channel = calloc(count, sizeof *f->channel);
    f->deaf = calloc(count, sizeof *f->deaf);
    f->pitch = calloc(count, sizeof *f->pitch);
    f->noise = calloc(count, sizeof *f->noise);
    f->divider = calloc(count, sizeof *f->divider);
    f->heard = calloc(count, sizeof *f->heard);
    f->sign = calloc(count, sizeof *f->sign);
    f->cycle = malloc(sizeof *f->cycle);
    int failed = f->noise == NULL || f->cycle == NULL || f->divider == NULL || f->heard == NULL || f->sign == NULL ||
                 f->judges == NULL || f->channel == NULL || f->deaf == NULL || f->pitch == NULL ||
                 sort_items(f, use) != 0;
    for (size_t t = 0; !failed && t < count; t++) {
        f->sign[t] = 1;
        f->pitch[t] = calloc(takes[t].items + 1, sizeof *f->pitch[t]);
        f->noise[t] = calloc(takes[t].items + 1, sizeof *f->noise[t]);
        memset(f->divider[t], 0xff, sizeof f->divider[t]); /* HY_UNKNOWN */
        failed = f->pitch[t] == NULL || f->noise[t] == NULL;
    }
    for (size_t i = 0; !failed && i < f->threads * count; i++) {
        f->judges[i] = hy_judge_new(&takes[i % count]);
        failed = f->judges[i] == NULL;
        if (!failed) {
            hy_judge_set_pitch(f->judges[i], f->pitch[i % count], prior->pulse_length);
            hy_judge_set_dividers(f->judges[i], f->divider[i % count]);
        }
    }
    if (failed) {
        hy_fit_free(f);
        return NULL;
    }
    return f;
}

void hy_fit_free(hy_fit *f)
{
    if (f == NULL) {
        return;
    }
    for (size_t i = 0; f->judges != NULL && i < f->threads * f->take_count; i++) {
        hy_judge_free(f->judges[i]);
    }
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        free(f->by_code[c]);
    }
    for (size_t t = 0; f->pitch != NULL && t < f->take_count; t++) {
        free(f->pitch[t]);
    }
    for (size_t t = 0; f->noise != NULL && t < f->take_count; t++) {
        free(f->noise[t]);
    }
    free(f->noise);
    free(f->divider);
    free(f->heard);
    free(f->sign);
    free(f->cycle);
    free(f->pitch);
    free(f->judges);
    free(f->channel);
    free(f->deaf);
    free(f->fitted);
    free(f->held);
    free(f->costs);
    free(f);
}

hyoid_part *hy_fit_part(hy_fit *f)
{
    return &f->part;
}

typedef struct mean_work {
    hy_fit *fit;
    const hyoid_part *part;
    const hy_place *places;
} mean_work;

static void mean_one(void *user, unsigned thread, size_t i)
{
    mean_work *w = user;
    w->fit->costs[i] = hy_fit_item(w->fit, thread, w->part, w->places[i]);
}

double hy_fit_mean(hy_fit *f, const hyoid_part *part, const hy_place *places, size_t count)
{
    mean_work w = {f, part, places};
    hy_parallel(f->threads, count, mean_one, &w);
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += f->costs[i];
    }
    return count > 0 ? sum / (double)count : -1;
}

double hy_fit_cost(hy_fit *f, int held_out)
{
    return held_out ? hy_fit_mean(f, &f->part, f->held, f->held_count)
                    : hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
}

double hy_fit_distance(hy_fit *f, const hyoid_part *part, unsigned code, int held_out, size_t *n)
{
    const hy_place *places = held_out ? f->held : f->fitted;
    size_t count = held_out ? f->held_count : f->fitted_count, used = 0;
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        unsigned here = f->takes[places[i].take].said[places[i].item].code;
        double d = code == HYOID_PHONEMES || here == code
                       ? hy_judge_distance(f->judges[places[i].take], part, places[i].item)
                       : -1;
        sum += d >= 0 ? d : 0;
        used += d >= 0;
    }
    if (n != NULL) {
        *n = used;
    }
    return used > 0 ? sum / (double)used : -1;
}

int hy_fit_spectra(hy_fit *f, const hyoid_part *part, unsigned code, float recorded_db[HY_TICK_BANDS],
                   float model_db[HY_TICK_BANDS])
{
    size_t n = f->by_code_count[code];
    memset(recorded_db, 0, HY_TICK_BANDS * sizeof *recorded_db);
    memset(model_db, 0, HY_TICK_BANDS * sizeof *model_db);
    for (size_t i = 0; i < n; i++) {
        float a[HY_TICK_BANDS], b[HY_TICK_BANDS];
        hy_place at = f->by_code[code][i];
        hy_judge_spectra(f->judges[at.take], part, at.item, a, b);
        for (int k = 0; k < HY_TICK_BANDS; k++) {
            recorded_db[k] += a[k] / (float)n;
            model_db[k] += b[k] / (float)n;
        }
    }
    return n > 0 ? 0 : -1;
}

/* The middle of a histogram's entries, dB; *n: how many. */
static double middle(const unsigned *bins, unsigned *n)
{
    unsigned total = 0, below = 0;
    for (int i = 0; i < HY_SPREAD; i++) {
        total += bins[i];
    }
    *n = total;
    for (int i = 0; i < HY_SPREAD; i++) {
        if (2 * (below + bins[i]) >= total && bins[i] > 0) {
            double within = (0.5 * total - below) / bins[i];
            const int centre = HY_SPREAD / 2;
            return 0.5 * (i - centre - 0.5 + within);
        }
        below += bins[i];
    }
    return 0;
}

int hy_fit_channel(hy_fit *f, int free_form)
{
    enum { FEW = 50 };
    static const double DEAF_DB = 15;
    hy_spread *spread = malloc(sizeof *spread);
    if (spread == NULL) {
        return -1;
    }
    for (size_t t = 0; t < f->take_count; t++) {
        memset(spread, 0, sizeof *spread);
        for (size_t i = 0; i < f->fitted_count; i++) {
            if (f->fitted[i].take == t) {
                hy_judge_spread(f->judges[t], &f->part, f->fitted[i].item, spread);
            }
        }
        double off[HY_TICK_BANDS], sum = 0, total = 0;
        unsigned n[HY_TICK_BANDS];
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            off[b] = middle(spread->count[b], &n[b]);
            if (!f->deaf[t][b] && n[b] > FEW) {
                sum += off[b] * sqrt(n[b]);
                total += sqrt(n[b]);
            }
        }
        double gain = total > 0 ? sum / total : 0;
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            double by = free_form ? (n[b] > FEW ? 0.7 * off[b] : 0) : gain;
            f->channel[t][b] += (float)by;
        }
        /* bands that are far down against the loudest third tell more of the recorder than of the chip */
        double level = 0;
        for (int b = 0; free_form && b < HY_TICK_BANDS; b++) {
            level += (double)f->channel[t][b] / HY_TICK_BANDS;
        }
        for (int b = 0; free_form && b < HY_TICK_BANDS; b++) {
            f->deaf[t][b] = (double)f->channel[t][b] < level - DEAF_DB || n[b] <= FEW;
        }
        if (!free_form && total > 0) {
            /* leaving the free form: one gain for all bands */
            double mean = 0, count = 0;
            for (int b = 0; b < HY_TICK_BANDS; b++) {
                if (!f->deaf[t][b]) {
                    mean += (double)f->channel[t][b];
                    count += 1;
                }
            }
            for (int b = 0; count > 0 && b < HY_TICK_BANDS; b++) {
                f->channel[t][b] = (float)(mean / count);
            }
        }
        for (unsigned k = 0; k < f->threads; k++) {
            hy_judge_set_channel(f->judges[k * f->take_count + t], f->channel[t], f->deaf[t]);
        }
    }
    free(spread);
    return 0;
}

void hy_fit_level(hy_fit *f)
{
    hyoid_part *p = &f->part;
    double voice = p->pulse_unit / f->prior->pulse_unit; /* and so does one factor of voice and noise */
    float by = (float)(20 * log10(voice * p->output_gain / f->prior->output_gain));
    p->output_gain = f->prior->output_gain;
    p->pulse_unit = f->prior->pulse_unit;
    double *noises[] = {&p->noise_f2, &p->noise_f3, &p->noise_f4, &p->noise_direct};
    for (size_t i = 0; i < sizeof noises / sizeof noises[0]; i++) {
        *noises[i] /= voice;
    }
    for (size_t t = 0; t < f->take_count; t++) {
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            f->channel[t][b] += by;
        }
        for (unsigned k = 0; k < f->threads; k++) {
            hy_judge_set_channel(f->judges[k * f->take_count + t], f->channel[t], f->deaf[t]);
        }
    }
}

const float *hy_fit_channel_db(const hy_fit *f, size_t take)
{
    return f->channel[take];
}

const unsigned char *hy_fit_deaf(const hy_fit *f, size_t take)
{
    return f->deaf[take];
}

unsigned char (*hy_fit_pinned(hy_fit *f))[HY_FIT_QUANTITIES]
{
    return f->pinned;
}

const hy_finding *hy_fit_finding(const hy_fit *f, unsigned code, unsigned quantity)
{
    return &f->finding[code][quantity];
}
