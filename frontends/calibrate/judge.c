#include "judge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    BEFORE = 2,      /* items said before the judged one, so that registers stand as they did */
    LONG = 8000,     /* filter cycles of a neighbour at most: registers are at rest by then */
    LONGEST = 24000, /* of the item itself: more than its frames reach */
    MOST = 1 << 16,  /* in all */
    AFTER = 4,       /* frames into the next item */
    FRAMES = 160     /* in one item at most */
};
static const float CAP_DB = 15;

struct hy_judge {
    const hy_material *m;
    hy_tick_bands *bands;
    float channel[HY_TICK_BANDS]; /* power ratio, the hold included */
    float weight[HY_TICK_BANDS];  /* 0: deaf there */
    const uint16_t *pitch;        /* by item, see hy_judge_set_pitch; null: 0 for all */
    uint32_t pulse_length;        /* that these places are for */
    const hy_noise_cycle *cycle;  /* see hy_judge_set_noise */
    const uint32_t *when;
    const uint32_t *divider; /* see hy_judge_set_dividers */
    hyoid_part voice;        /* hy_judge_correlate's: the part without noise */
    float *sound;
    hy_tick_frame *recorded; /* frames of all items */
    size_t *first;           /* items + 1: where an item's frames begin in `recorded` */
    hy_tick_frame *model;
};

static size_t frames_of(const hy_material *m, size_t item)
{
    size_t n = (m->onset[item + 1] - m->onset[item]) / HY_TICK_HOP + AFTER;
    return n < FRAMES ? n : FRAMES;
}

/* Averages neighbours in time: one frame of noise or of two pitch periods says little by itself. */
static void smooth(hy_tick_frame *frames, size_t n)
{
    hy_tick_frame before = frames[0];
    for (size_t k = 0; k < n; k++) {
        hy_tick_frame here = frames[k];
        const hy_tick_frame *after = k + 1 < n ? &frames[k + 1] : &here;
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            frames[k].power[b] = (before.power[b] + here.power[b] + after->power[b]) / 3;
        }
        before = here;
    }
}

hy_judge *hy_judge_new(const hy_material *m)
{
    hy_judge *j = calloc(1, sizeof *j);
    if (j == NULL) {
        return NULL;
    }
    j->m = m;
    j->bands = hy_tick_bands_new();
    j->sound = malloc(MOST * sizeof *j->sound);
    j->first = malloc((m->items + 1) * sizeof *j->first);
    j->model = malloc(FRAMES * sizeof *j->model);
    size_t total = 0;
    for (size_t i = 0; j->first != NULL && i < m->items; i++) {
        j->first[i] = total;
        total += frames_of(m, i);
    }
    j->recorded = malloc((total + 1) * sizeof *j->recorded);
    if (j->bands == NULL || j->sound == NULL || j->first == NULL || j->model == NULL || j->recorded == NULL) {
        hy_judge_free(j);
        return NULL;
    }
    j->first[m->items] = total;
    for (size_t i = 0; i < m->items; i++) {
        for (size_t k = j->first[i]; k < j->first[i + 1]; k++) {
            long at = (long)m->onset[i] + (long)((k - j->first[i]) * HY_TICK_HOP);
            hy_tick_bands_frame(j->bands, m->sound, m->count, at, &j->recorded[k]);
        }
        smooth(j->recorded + j->first[i], j->first[i + 1] - j->first[i]);
        for (size_t k = j->first[i]; k < j->first[i + 1]; k++) {
            for (int b = 0; b < HY_TICK_BANDS; b++) {
                j->recorded[k].power[b] += m->mask[b];
            }
        }
    }
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        j->channel[b] = (float)hy_tick_band_hold((size_t)b);
        j->weight[b] = 1;
    }
    return j;
}

void hy_judge_free(hy_judge *j)
{
    if (j != NULL) {
        hy_tick_bands_free(j->bands);
        free(j->sound);
        free(j->first);
        free(j->model);
        free(j->recorded);
        free(j);
    }
}

void hy_judge_set_channel(hy_judge *j, const float channel_db[HY_TICK_BANDS], const unsigned char deaf[HY_TICK_BANDS])
{
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        j->channel[b] = powf(10, channel_db[b] / 10) * (float)hy_tick_band_hold((size_t)b);
        j->weight[b] = deaf == NULL || !deaf[b];
    }
}

void hy_judge_set_pitch(hy_judge *j, const uint16_t *pitch, uint32_t pulse_length)
{
    j->pitch = pitch;
    j->pulse_length = pulse_length;
}

void hy_judge_set_noise(hy_judge *j, const hy_noise_cycle *cycle, const uint32_t *when)
{
    j->cycle = cycle;
    j->when = when;
}

void hy_judge_set_dividers(hy_judge *j, const uint32_t *divider)
{
    j->divider = divider;
}

/* The item with which an item's context begins. */
static size_t first_of(size_t item)
{
    return item > BEFORE ? item - BEFORE : 0;
}

int hy_judge_period(const hy_judge *j, const hyoid_part *part, size_t item)
{
    return (int)hy_said_period(part, &j->m->said[first_of(item)]);
}

/* The pitch counter when an item's context begins. */
static uint32_t pitch_of(const hy_judge *j, const hyoid_part *part, size_t item)
{
    const int period = hy_judge_period(j, part, item);
    const int at = ((int)j->pitch[item] + (int)part->pulse_length - (int)j->pulse_length) % period;
    return (uint32_t)(at < 0 ? at + period : at);
}

/* What counts by itself, as it stood `ahead` filter cycles before the item, when its context began. */
static hy_start start_of(const hy_judge *j, const hyoid_part *part, size_t item, uint32_t ahead)
{
    hy_start start = {.settled = 1};
    if (j->pitch != NULL) {
        start.pitch = pitch_of(j, part, item);
    }
    if (j->when != NULL) {
        uint32_t period = j->cycle->period, when = j->when[item];
        start.noise = j->cycle->state[(when + period - ahead % period) % period];
        if (j->divider != NULL) {
            /* the register counts the chip's own cycles, the recording's are a little off by the end */
            int64_t onset = j->m->onset[item];
            int64_t off = (when + (int64_t)period - onset % period + period / 2) % period - period / 2;
            int64_t ticks = onset + off + 2 * (int64_t)MOST - (int64_t)ahead; /* never negative */
            const uint32_t cycles[HY_DIVIDERS] = {part->formant_cycles, part->amplitude_cycles, part->gate_cycles};
            for (int d = 0; d < HY_DIVIDERS; d++) {
                start.divider[d] = j->divider[d] == HY_UNKNOWN ? 0 : (uint32_t)((ticks + j->divider[d]) % cycles[d]);
            }
        }
    }
    return start;
}

/* Says the item in its context and leaves the sound in j->sound; *begin: where the item begins in it. Returns its length. */
static size_t speak(hy_judge *j, const hyoid_part *part, size_t item, size_t *begin)
{
    const hy_material *m = j->m;
    size_t from = first_of(item), to = item + 2 < m->items ? item + 2 : m->items;
    uint32_t onset[BEFORE + 3];
    hy_said around[BEFORE + 2];
    uint32_t ahead = 0;
    for (size_t i = from; i < to; i++) {
        uint32_t ticks = hy_said_ticks(part, &m->said[i]), most = i == item ? LONGEST : LONG;
        around[i - from] = (hy_said){m->said[i].code, m->said[i].level, 0, ticks < most ? ticks : most};
        ahead += i < item ? around[i - from].ticks : 0;
    }
    hy_start start = start_of(j, part, item, ahead);
    size_t count = hy_speech_render(part, start, around, to - from, j->sound, MOST, onset);
    *begin = onset[item - from];
    return count;
}

/* Says the item in its context and leaves its frames in j->model; returns their number. */
static size_t say(hy_judge *j, const hyoid_part *part, size_t item)
{
    const hy_material *m = j->m;
    size_t begin, count = speak(j, part, item, &begin), n = frames_of(m, item);
    for (size_t k = 0; k < n; k++) {
        hy_tick_bands_frame(j->bands, j->sound, count, (long)begin + (long)(k * HY_TICK_HOP), &j->model[k]);
    }
    smooth(j->model, n);
    for (size_t k = 0; k < n; k++) {
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            j->model[k].power[b] = j->model[k].power[b] * j->channel[b] + m->floor[b] + m->mask[b];
        }
    }
    return n;
}

static inline float decibels(float a, float b)
{
    return 4.342945f * logf(a / b);
}

size_t hy_judge_size(const hy_judge *j, size_t item)
{
    return (j->first[item + 1] - j->first[item]) * HY_TICK_BANDS;
}

void hy_judge_residual(hy_judge *j, const hyoid_part *part, size_t item, float *residual)
{
    const hy_tick_frame *recorded = j->recorded + j->first[item];
    size_t n = say(j, part, item);
    for (size_t k = 0; k < n; k++) {
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            float d = decibels(recorded[k].power[b] + 1e-12f, j->model[k].power[b] + 1e-12f);
            residual[k * HY_TICK_BANDS + (size_t)b] = j->weight[b] * fminf(fmaxf(d, -CAP_DB), CAP_DB);
        }
    }
}

double hy_judge_item(hy_judge *j, const hyoid_part *part, size_t item)
{
    const hy_tick_frame *recorded = j->recorded + j->first[item];
    size_t n = say(j, part, item);
    double sum = 0, total = 0;
    for (size_t k = 0; k < n; k++) {
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            float d = decibels(recorded[k].power[b] + 1e-12f, j->model[k].power[b] + 1e-12f);
            d = fminf(fmaxf(d, -CAP_DB), CAP_DB);
            sum += (double)(d * d * j->weight[b]);
            total += (double)j->weight[b];
        }
    }
    return total > 0 ? sum / total : 0;
}

void hy_judge_spread(hy_judge *j, const hyoid_part *part, size_t item, hy_spread *spread)
{
    const hy_tick_frame *recorded = j->recorded + j->first[item];
    size_t n = say(j, part, item);
    for (size_t k = 0; k < n; k++) {
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            if (recorded[k].power[b] > 4 * (j->m->floor[b] + j->m->mask[b]) &&
                j->model[k].power[b] > 4 * (j->m->floor[b] + j->m->mask[b])) {
                float d = decibels(recorded[k].power[b], j->model[k].power[b]);
                int bin = (int)lrintf(2 * d) + HY_SPREAD / 2;
                if (bin >= 0 && bin < HY_SPREAD) {
                    spread->count[b][bin]++;
                }
            }
        }
    }
}

void hy_judge_spectra(hy_judge *j, const hyoid_part *part, size_t item, float recorded_db[HY_TICK_BANDS],
                      float model_db[HY_TICK_BANDS])
{
    const hy_tick_frame *recorded = j->recorded + j->first[item];
    size_t n = say(j, part, item) - AFTER; /* without the beginning of the next item */
    float a[HY_TICK_BANDS] = {0}, b[HY_TICK_BANDS] = {0};
    n = n > 0 ? n : 1;
    for (size_t k = 0; k < n; k++) {
        for (int i = 0; i < HY_TICK_BANDS; i++) {
            a[i] += recorded[k].power[i];
            b[i] += j->model[k].power[i];
        }
    }
    for (int i = 0; i < HY_TICK_BANDS; i++) {
        recorded_db[i] = decibels(a[i] / (float)n + 1e-12f, 1);
        model_db[i] = decibels(b[i] / (float)n + 1e-12f, 1);
    }
}

double hy_judge_distance(hy_judge *j, const hyoid_part *part, size_t item)
{
    float a[HY_TICK_BANDS], b[HY_TICK_BANDS];
    hy_judge_spectra(j, part, item, a, b);
    double sum = 0, n = 0;
    for (int i = 0; i < HY_TICK_BANDS; i++) {
        float floor_db = decibels(j->m->floor[i] + j->m->mask[i] + 1e-12f, 1);
        if (j->weight[i] > 0 && (a[i] > floor_db + 6 || b[i] > floor_db + 6)) {
            sum += (double)((a[i] - b[i]) * (a[i] - b[i]));
            n += 1;
        }
    }
    return n > 0 ? sqrt(sum / n) : -1;
}

void hy_judge_correlate(hy_judge *j, const hyoid_part *part, size_t item, int reach, float *sums, float *scale)
{
    const hy_material *m = j->m;
    j->voice = *part;
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        j->voice.phoneme[c].fa = 0;
    }
    size_t begin;
    const long count = (long)speak(j, &j->voice, item, &begin);
    const long onset = (long)m->onset[item], margin = HY_TICK_WINDOW / 2;
    const long from = (long)begin < margin ? -(long)begin : -margin;
    const long to = (long)frames_of(m, item) * HY_TICK_HOP + margin;
    double of_model = 0, of_recorded = 0;
    memset(sums, 0, (size_t)(2 * reach + 1) * sizeof *sums);
    for (long i = from; i < to; i++) {
        const long at = onset + i, here = (long)begin + i;
        if (at < 1 || at >= (long)m->count || here - reach < 1 || here + reach >= count) {
            continue;
        }
        const float slope = m->sound[at] - m->sound[at - 1];
        for (int lag = -reach; lag <= reach; lag++) {
            sums[lag + reach] += slope * (j->sound[here + lag] - j->sound[here + lag - 1]);
        }
        const float model = j->sound[here] - j->sound[here - 1];
        of_recorded += (double)(slope * slope);
        of_model += (double)(model * model);
    }
    *scale = (float)sqrt(of_recorded * of_model);
}
