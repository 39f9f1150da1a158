#include "take.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "moments.h"
#include "speech.h"
#include "warp.h"

static const double PI = 3.14159265358979323846;

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

typedef struct reader {
    hy_take *take;
    size_t room;
    int64_t *at; /* strobes, ps */
    int level;
} reader;

static int grow(reader *r)
{
    hy_take *t = r->take;
    if (t->items + 2 < r->room) {
        return 0;
    }
    size_t room = r->room > 0 ? 2 * r->room : 256;
    hy_said *said = realloc(t->said, room * sizeof *said);
    t->said = said != NULL ? said : t->said;
    double *seconds = realloc(t->seconds, room * sizeof *seconds);
    t->seconds = seconds != NULL ? seconds : t->seconds;
    unsigned char *uneven = realloc(t->uneven, room);
    t->uneven = uneven != NULL ? uneven : t->uneven;
    int64_t *at = realloc(r->at, room * sizeof *at);
    r->at = at != NULL ? at : r->at;
    r->room = room;
    return said != NULL && seconds != NULL && uneven != NULL && at != NULL ? 0 : -1;
}

/* Walks the log up to the first change of clock. */
static int walk(reader *r, hy_log *log, int64_t *end, hy_diag *diag)
{
    hy_take *t = r->take;
    hy_event event;
    int got = hy_log_rewind(log, diag) == 0 ? 1 : -1;
    while (got > 0 && (got = hy_log_next(log, &event, diag)) > 0) {
        *end = event.ps;
        if (event.signal == HY_CLOCK) {
            if (event.to_ps > event.ps || (t->items > 0 && event.hz != t->stated_hz)) {
                snprintf(t->note, sizeof t->note,
                         "only what was said before the clock first changes (%.3f s) is used",
                         (double)event.ps * 1e-12);
                break;
            }
            t->stated_hz = event.hz;
        } else if (event.signal == HY_INFLECTION) {
            if (t->items > 0 && event.ps > r->at[t->items - 1] && event.number != r->level) {
                t->uneven[t->items - 1] = 1;
            }
            r->level = event.number;
        } else if (event.signal == HY_PHONEME) {
            if (grow(r) != 0) {
                return hy_fail(diag, "out of memory");
            }
            t->said[t->items] = (hy_said){(uint8_t)event.number, (uint8_t)r->level, 0, 0};
            t->uneven[t->items] = 0;
            r->at[t->items++] = event.ps;
        } else if (event.signal == HY_PIN) {
            return hy_fail(diag, "the input drives single pins; calibrate needs a score or a log of phoneme writes");
        }
    }
    /* inflection set in the instant of the next strobe belongs to that one */
    for (size_t i = 0; i + 1 < t->items; i++) {
        t->uneven[i] = t->uneven[i] && t->said[i].level == t->said[i + 1].level;
    }
    return got < 0 ? -1 : 0;
}

/* Which phonemes lasted until request, by the clock and the part with which the host played. */
static void lengths(reader *r, int from_score, const hyoid_part *prior, int64_t end)
{
    hy_take *t = r->take;
    for (size_t i = 0; i < t->items; i++) {
        double seconds = (double)((i + 1 < t->items ? r->at[i + 1] : end) - r->at[i]) * 1e-12;
        double own = (double)prior->phoneme[t->said[i].code].duration * prior->filter_clocks / t->stated_hz;
        t->said[i].waits = (uint8_t)(from_score && (seconds > own - 2e-6 || i + 1 == t->items));
        t->seconds[i] = t->said[i].waits ? fmax(seconds - own, 0) : seconds;
        if (t->seconds[i] < 3 / t->stated_hz) {
            t->seconds[i] = 0; /* the host's answer, a clock or two */
        }
    }
}

int hy_take_read(hy_take *t, const char *path, hy_input *input, const hyoid_part *prior, const hy_host_options *host,
                 double known_hz, hy_diag *diag)
{
    memset(t, 0, sizeof *t);
    reader r = {.take = t};
    int64_t end = 0;
    t->stated_hz = host->clock_hz;
    t->recording = hy_recording_read(path, 0, diag);
    int status = t->recording != NULL ? hy_hum_remove(t->recording, &t->hum, diag) : -1;
    if (status == 0) {
        status = walk(&r, input->log, &end, diag);
    }
    if (status == 0 && t->items < 2) {
        status = hy_fail(diag, "the input says fewer than two phonemes: nothing can be fitted to that");
    }
    if (status == 0 && t->stated_hz <= 0) {
        status = hy_fail(diag, "the input's clock stands still; calibrate needs one that runs");
    }
    if (status == 0) {
        lengths(&r, input->from_score, prior, end);
        t->clock_known = known_hz > 0;
        t->clock_hz = known_hz > 0 ? known_hz : t->stated_hz;
        t->onset_s = calloc(t->items + 1, sizeof *t->onset_s);
        t->onset = calloc(t->items + 1, sizeof *t->onset);
        status = t->onset_s != NULL && t->onset != NULL ? 0 : hy_fail(diag, "out of memory");
    }
    free(r.at);
    if (status != 0) {
        hy_take_free(t);
    }
    return status;
}

void hy_take_free(hy_take *t)
{
    hy_recording_free(t->recording);
    free(t->said);
    free(t->seconds);
    free(t->uneven);
    free(t->onset_s);
    free(t->onset);
    free(t->sound);
    memset(t, 0, sizeof *t);
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
        t->material.mask[b] = (float)(1e-5 * hy_quantile(values, used, 0.99)); /* 50 dB under the loudest */
    }
    hy_tick_bands_free(bands);
    free(frames);
    free(values);
    return 0;
}

/* The recording with one sample a filter cycle of clock_hz; onsets and lengths follow. */
static int in_cycles(hy_take *t, const hyoid_part *part, hy_diag *diag)
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
    for (size_t i = 0; i <= t->items; i++) {
        double at = t->onset_s[i] * cycle_hz;
        t->onset[i] = at > 0 ? (uint32_t)lrint(at) : 0;
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
    static const double SLACK = 0.25;
    double *place = malloc((t->items + 1) * sizeof *place);
    uint32_t *at = malloc((t->items + 1) * sizeof *at);
    int status = place != NULL && at != NULL ? 0 : hy_fail(diag, "out of memory");
    for (int round = 0; status == 0 && round < ROUNDS; round++) {
        status = in_cycles(t, part, diag);
        size_t room = 1;
        for (size_t i = 0; i < t->items; i++) {
            room += hy_said_ticks(part, &t->said[i]);
        }
        float *model = status == 0 ? malloc(room * sizeof *model) : NULL;
        if (model == NULL) {
            status = status == 0 ? hy_fail(diag, "out of memory") : status;
            break;
        }
        size_t count = hy_speech_render(part, t->said, t->items, model, room, at);
        if (hy_warp(model, count, t->sound, t->material.count, SLACK, at, t->items + 1, place) != 0) {
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

/* Believes whole milliseconds if they fit far better than chance, and nothing else fits as well. */
static void set_clock(hy_take *t, const hyoid_part *part)
{
    double scale = hy_grid_scale(part, t->duration, t->sigma, 0.96, 1.04, &t->grid_misfit, &t->grid_next);
    int grid = scale > 0 && t->grid_misfit < 0.17 && t->grid_misfit < 0.96 * t->grid_next;
    t->clock_by_grid = grid ? t->clock_hz / scale : 0;
    if (!t->clock_known && grid) {
        t->clock_hz = t->clock_by_grid;
        for (int c = 0; c < HYOID_PHONEMES; c++) {
            t->duration[c] /= scale;
            t->sigma[c] /= scale;
        }
    }
}

int hy_take_place(hy_take *t, const hyoid_part *part, const float *channel_db, int reach, hy_diag *diag)
{
    static const float flat[HY_TICK_BANDS] = {0};
    double *place = malloc((t->items + 1) * sizeof *place);
    hy_moment *moments = malloc((2 * t->items + 1) * sizeof *moments);
    hyoid_part *now = malloc(sizeof *now);
    int status =
        place != NULL && moments != NULL && now != NULL ? in_cycles(t, part, diag) : hy_fail(diag, "out of memory");
    double cycle_hz = t->clock_hz / part->filter_clocks;
    for (size_t i = 0; status == 0 && i <= t->items; i++) {
        place[i] = t->onset_s[i] * cycle_hz;
    }
    if (status == 0) {
        *now = *part;
    }
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
        set_clock(t, part);
        status = in_cycles(t, part, diag);
    }
    if (status == 0) {
        hy_pitch_measure(part, &t->material, &t->pitch);
        t->clock_by_pitch = t->pitch.scale > 0 ? t->clock_hz / t->pitch.scale : 0;
        if (!t->clock_known && t->clock_by_grid == 0 && t->clock_by_pitch > 0) {
            t->clock_hz = t->clock_by_pitch;
            status = in_cycles(t, part, diag);
        }
    }
    free(place);
    free(moments);
    free(now);
    return status;
}
