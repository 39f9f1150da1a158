/* Placing: where in the recording each item lies, and the clock. */
#include "take.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "moments.h"
#include "warp.h"

static const double PI = 3.14159265358979323846;
static const double AGREE = 0.001; /* up to here both tell the same clock; a pitch period more or less is 0.4 % */
static const double NEAR = 2e-5;   /* how far around the pitch's clock durations are asked: it is that good */

/* Windowed-sinc interpolation: out[i] = in(i * step); flat to 0.9 of the lower band, and the recording is band-limited
 * already. */
static size_t stretch(const float *in, size_t count, double step, float *out, size_t room)
{
    enum { SIDE = 24 };
    double cut = step > 1 ? 1 / step : 1; /* of the input's band */
    size_t n = 0;
    for (; n < room; n++) {
        double at = (double)n * step;
        long whole = (long)floor(at);
        if (whole >= (long)count) {
            break;
        }
        double share = at - (double)whole, sum = 0;
        double s = sin(PI * cut * (share + SIDE)), c = cos(PI * cut * (share + SIDE));
        double turn_s = sin(PI * cut), turn_c = cos(PI * cut);
        for (long k = -SIDE; k <= SIDE; k++) {
            double d = share - (double)k; /* distance from the sample; s and c follow it */
            long from = whole + k;
            if (from >= 0 && from < (long)count && fabs(d) < SIDE) {
                double sinc = fabs(d) < 1e-9 ? cut : s / (PI * d);
                double w = cos(PI * d / (2 * SIDE));
                sum += (double)in[from] * sinc * w * w;
            }
            double t = s * turn_c - c * turn_s;
            c = c * turn_c + s * turn_s;
            s = t;
        }
        out[n] = (float)sum;
    }
    return n;
}

/* The recording's own noise: in each band the tenth that is quietest. */
static int find_floor(hy_take *t, hy_diag *diag)
{
    enum { EVERY = HY_TICK_WINDOW / 2 };
    hy_tick_bands *bands = hy_tick_bands_new();
    size_t n = t->material.count / EVERY, used = 0;
    hy_tick_frame *frames = malloc((n + 1) * sizeof *frames);
    double *values = malloc((n + 1) * sizeof *values);
    if (bands == NULL || frames == NULL || values == NULL) {
        hy_tick_bands_free(bands);
        free(frames);
        free(values);
        return hy_fail(diag, "out of memory");
    }
    for (size_t i = 1; i + 1 < n; i++) {
        hy_tick_bands_frame(bands, t->sound, t->material.count, (long)(i * EVERY), &frames[used++]);
    }
    for (int b = 0; b < HY_TICK_BANDS; b++) {
        for (size_t i = 0; i < used; i++) {
            values[i] = (double)frames[i].power[b];
        }
        /* a band's power swings about its mean, so that the quietest lie below it */
        t->material.floor[b] = (float)(1.4 * hy_quantile(values, used, 0.05));
        t->material.mask[b] = (float)(1e-4 * hy_quantile(values, used, 0.99)); /* 40 dB under the loudest */
    }
    hy_tick_bands_free(bands);
    free(frames);
    free(values);
    return 0;
}

int hy_take_in_cycles(hy_take *t, const hyoid_part *part, hy_diag *diag)
{
    double cycle_hz = t->clock_hz / part->filter_clocks;
    double step = HY_ANALYSIS_RATE / cycle_hz;
    size_t room = (size_t)((double)t->recording->count / step) + 2;
    float *sound = malloc(room * sizeof *sound);
    if (sound == NULL) {
        return hy_fail(diag, "out of memory");
    }
    free(t->sound);
    t->sound = sound;
    t->material.sound = sound;
    t->material.count = stretch(t->recording->samples, t->recording->count, step, sound, room);
    t->material.said = t->said;
    t->material.items = t->items;
    t->material.onset = t->onset;
    for (size_t i = 0; i < t->items; i++) {
        t->said[i].ticks = (uint32_t)lrint(t->seconds[i] * cycle_hz);
    }
    for (size_t i = 0; i <= t->items; i++) { /* in order, and within the sound or not far behind it */
        double at = fmin(fmax(t->onset_s[i] * cycle_hz, 0), 2.0 * (double)t->material.count);
        uint32_t here = (uint32_t)lrint(at);
        t->onset[i] = i > 0 && here < t->onset[i - 1] ? t->onset[i - 1] : here;
    }
    return find_floor(t, diag);
}

/* Where items lie in the recording, seconds, from places in samples a filter cycle of `cycle_hz`. */
static void keep(hy_take *t, const double *place, double cycle_hz)
{
    for (size_t i = 0; i <= t->items; i++) {
        t->onset_s[i] = place[i] / cycle_hz;
    }
}

int hy_take_warp(hy_take *t, const hyoid_part *part, hy_diag *diag)
{
    enum { ROUNDS = 3 };
    static const double SLACK = 0.25, MOST_TIMES = 3;
    double *place = malloc((t->items + 1) * sizeof *place);
    uint32_t *at = malloc((t->items + 1) * sizeof *at);
    if (place == NULL || at == NULL) {
        free(place);
        free(at);
        return hy_fail(diag, "out of memory");
    }
    int status = 0;
    for (int round = 0; status == 0 && round < ROUNDS; round++) {
        status = hy_take_in_cycles(t, part, diag);
        size_t room = 1;
        for (size_t i = 0; i < t->items; i++) {
            room += hy_said_ticks(part, &t->said[i]);
        }
        if (status == 0 && (double)room > MOST_TIMES * (double)t->material.count) {
            t->apart = INFINITY; /* at most a part of the input is in it */
            break;
        }
        float *model = status == 0 ? malloc(room * sizeof *model) : NULL;
        if (model == NULL) {
            status = status == 0 ? hy_fail(diag, "out of memory") : status;
            break;
        }
        size_t count = hy_speech_render(part, (hy_start){0}, t->said, t->items, model, room, at);
        if (hy_warp(model, count, t->sound, t->material.count, SLACK, at, t->items + 1, place, &t->apart) != 0) {
            status = hy_fail(diag, "%s: too little sound in it to lay the input beside", t->recording->name);
        }
        free(model);
        if (status != 0) {
            break;
        }
        double cycle_hz = t->clock_hz / part->filter_clocks;
        keep(t, place, cycle_hz);
        double ratio = (place[t->items] - place[0]) / (double)(at[t->items] - at[0]);
        if (t->clock_known || fabs(ratio - 1) < 0.02) {
            break;
        }
        t->clock_hz /= ratio;
    }
    free(place);
    free(at);
    return status;
}

/* Believes whole milliseconds within a share `around` of a scale, if they fit far better than chance, and nothing else fits as
 * well; the pitch's scale needs no such contest. */
static void set_clock(hy_take *t, const hyoid_part *part, double middle, double around)
{
    enum { MANY = 24 }; /* durations: fewer lie near whole milliseconds of some clock by chance */
    int known = 0;
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        known += t->sigma[c] > 0;
    }
    double scale = hy_grid_scale(part, t->duration, t->sigma, middle * (1 - around), middle * (1 + around),
                                 &t->grid_misfit, &t->grid_next);
    int grid = scale > 0 &&
               (around <= NEAR ? t->grid_misfit < 0.21 /* by chance 0.29, give or take 0.02 */
                               : known >= MANY && t->grid_misfit < 0.17 && t->grid_misfit < 0.96 * t->grid_next);
    t->clock_by_grid = grid ? t->clock_hz / scale : 0;
    if (!t->clock_known && grid) {
        t->clock_hz = t->clock_by_grid;
    }
    double unit = t->clock_known ? 1 : grid ? scale : middle;
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        t->duration[c] /= unit;
        t->sigma[c] /= unit;
    }
}

/* Nothing has told the clock: it may lie farther off than the pitch is searched at once (a mean duration that differs from the
 * prior's by a few percent). It is believed if the pitch tells one clock and no other. */
static int look_farther(hy_take *t, const hyoid_part *part, hy_diag *diag)
{
    static const double AROUND[] = {0.975, 1.025};
    const double base = t->clock_hz;
    double told = 0;
    int n = 0, status = 0;
    for (size_t i = 0; status == 0 && i < sizeof AROUND / sizeof AROUND[0]; i++) {
        t->clock_hz = base * AROUND[i];
        status = hy_take_in_cycles(t, part, diag);
        if (status == 0) {
            hy_pitch_measure(part, &t->material, &t->pitch);
            n += t->pitch.scale > 0;
            told = t->pitch.scale > 0 ? t->clock_hz / t->pitch.scale : told;
        }
    }
    t->clock_hz = base;
    if (n == 1) {
        set_clock(t, part, base / told, NEAR);
        t->clock_hz = t->clock_by_pitch = told;
    }
    status = status == 0 ? hy_take_in_cycles(t, part, diag) : status;
    if (status == 0) {
        hy_pitch_measure(part, &t->material, &t->pitch);
    }
    return status;
}

int hy_take_place(hy_take *t, const hyoid_part *part, const float *channel_db, int reach, hy_diag *diag)
{
    static const float flat[HY_TICK_BANDS] = {0};
    double *place = malloc((t->items + 1) * sizeof *place);
    hy_moment *moments = malloc((2 * t->items + 1) * sizeof *moments);
    hyoid_part *now = malloc(sizeof *now);
    if (place == NULL || moments == NULL || now == NULL) {
        free(place);
        free(moments);
        free(now);
        return hy_fail(diag, "out of memory");
    }
    int status = hy_take_in_cycles(t, part, diag);
    double cycle_hz = t->clock_hz / part->filter_clocks;
    for (size_t i = 0; status == 0 && i <= t->items; i++) {
        place[i] = t->onset_s[i] * cycle_hz;
    }
    *now = *part;
    for (int round = 0; status == 0 && round < 2; round++) {
        hy_moment_search search = {now, &t->material, place, channel_db != NULL ? channel_db : flat, reach};
        status = hy_moments_onsets(&search, moments);
        long bursts = status == 0 ? hy_moments_bursts(&search, moments + t->items) : -1;
        if (bursts < 0) {
            status = hy_fail(diag, "out of memory");
            break;
        }
        t->bursts = (size_t)bursts;
        for (int c = 0; c < HYOID_PHONEMES; c++) {
            t->duration[c] = now->phoneme[c].duration;
        }
        if (hy_durations(&t->material, moments, t->items + t->bursts, t->duration, t->sigma, place, &t->spread) !=
            0) {
            status = hy_fail(diag, "%s: the input can't be found in it", t->recording->name);
        }
        for (int c = 0; status == 0 && c < HYOID_PHONEMES; c++) {
            double d = round == 0 ? t->duration[c] : 0;
            if (d > 1 && d < 60000) {
                now->phoneme[c].duration = (uint16_t)lrint(d);
            }
        }
    }
    if (status == 0) {
        keep(t, place, cycle_hz);
        set_clock(t, part, 1, 0.04);
        status = hy_take_in_cycles(t, part, diag);
    }
    if (status == 0) {
        hy_pitch_measure(part, &t->material, &t->pitch);
        t->clock_by_pitch = t->pitch.scale > 0 ? t->clock_hz / t->pitch.scale : 0;
        if (!t->clock_known && t->clock_by_grid == 0 && t->clock_by_pitch > 0) {
            set_clock(t, part, t->pitch.scale, NEAR);
            t->clock_hz = t->clock_by_pitch;
            status = hy_take_in_cycles(t, part, diag);
        } else if (!t->clock_known && t->clock_by_grid == 0) {
            status = look_farther(t, part, diag);
        } else if (!t->clock_known && t->clock_by_grid > 0 && fabs(t->pitch.scale - 1) < AGREE) {
            /* durations have told which clock it is, pitch tells it more finely */
            t->clock_hz = t->clock_by_pitch;
            for (int c = 0; c < HYOID_PHONEMES; c++) {
                t->duration[c] /= t->pitch.scale;
                t->sigma[c] /= t->pitch.scale;
            }
            status = hy_take_in_cycles(t, part, diag);
        }
    }
    free(place);
    free(moments);
    free(now);
    return status;
}
