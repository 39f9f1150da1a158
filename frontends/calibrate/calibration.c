#include "calibration.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "guard.h"

/* Durations and pitch periods from all takes together. */
static void combine(hy_calibration *s)
{
    double ms = s->prior->nominal_hz / s->prior->filter_clocks / 1000;
    s->whole_ms = 1;
    for (size_t t = 0; t < s->take_count; t++) {
        s->whole_ms &= s->takes[t].clock_by_grid > 0 || (s->takes[t].clock_known && s->takes[t].grid_misfit < 0.17);
    }
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        double sum = 0, weight = 0;
        for (size_t t = 0; t < s->take_count; t++) {
            const hy_take *take = &s->takes[t];
            if (take->sigma[c] > 0) {
                double w = 1 / (take->sigma[c] * take->sigma[c]);
                sum += w * take->duration[c];
                weight += w;
            }
        }
        s->duration_sigma[c] = 0;
        double d = weight > 0 ? sum / weight : 0;
        if (weight > 1.0 / (60.0 * 60.0) && d > 100 && d < 60000) {
            s->duration_sigma[c] = sqrt(1 / weight);
            d = s->whole_ms ? floor(round(d / ms) * ms + 0.5) : round(d);
            s->part.phoneme[c].duration = (uint16_t)d;
        }
    }
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        double sum = 0, weight = 0;
        for (size_t t = 0; t < s->take_count; t++) {
            const hy_pitch_fit *p = &s->takes[t].pitch;
            if (p->used[level] >= 8 && p->sigma[level] < 0.3 && p->period[level] > 16 && p->period[level] < 4096) {
                double w = 1 / (p->sigma[level] * p->sigma[level] + 1e-4);
                sum += w * p->period[level];
                weight += w;
            }
        }
        s->pitch_found[level] = weight > 0;
        if (weight > 0) {
            s->part.pitch_period[level] = (uint32_t)lrint(sum / weight);
        }
    }
    int told = 0;
    for (int c = 0; s->take_count > 0 && c < HYOID_PHONEMES; c++) {
        told += s->takes[0].pitch.f1[c] >= 0;
    }
    if (told > 12) {
        s->part.pitch_f1_shift = s->takes[0].pitch.shift;
    }
}

unsigned hy_calibration_take_pins(hy_calibration *s)
{
    unsigned taken = 0;
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        const unsigned cycles = hy_pins_duration(s->pins, c, s->part.phoneme[c].duration);
        if (cycles > 0) {
            s->part.phoneme[c].duration = (uint16_t)cycles;
            s->duration_sigma[c] = fmax((s->pins->most[c] - s->pins->least[c]) / sqrt(12), 1e-3);
            taken++;
        }
    }
    if (hy_pins_delay(s->pins) >= 0) {
        s->part.request_delay = (uint32_t)hy_pins_delay(s->pins);
        taken++;
    }
    return taken;
}

/* The capture's word holds where it has one. What the recordings say of the same codes tells whether it is of the same chip. */
static int take_pins(hy_calibration *s, int last, hy_diag *diag)
{
    hy_pins *pins = s->pins;
    const hy_take *first = &s->takes[0];
    /* a clock that was itself found by the prior's durations would only give these back */
    const int told = first->clock_known || first->clock_by_grid > 0 || first->clock_by_pitch > 0;
    unsigned compared = 0;
    if (pins == NULL) {
        return 0;
    }
    if (told && (!pins->measured || (pins->with_hz > 0 && pins->with_hz != first->clock_hz)) &&
        hy_pins_measure(pins, s->prior_file, first->clock_hz, diag) != 0) {
        return -1;
    }
    const hyoid_part heard = s->part;
    double sigma[HYOID_PHONEMES];
    memcpy(sigma, s->duration_sigma, sizeof sigma);
    hy_calibration_take_pins(s);
    pins->differing = 0;
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        if (hy_pins_duration(pins, c, 0) > 0 && sigma[c] > 0) {
            const double cycles = s->part.phoneme[c].duration;
            compared++;
            pins->differing += fabs(heard.phoneme[c].duration - cycles) > 5 * sigma[c] + 0.005 * cycles;
        }
    }
    if (last && compared >= 8 && pins->differing > compared / 4) {
        return hy_fail(
            diag,
            "%s: %u of %u codes last otherwise than in the recordings: a capture of the same chip, with its "
            "clock, would be right",
            pins->path, pins->differing, compared);
    }
    return 0;
}

/* A phoneme whose tops are cut off has another spectrum. If too many have, the rest would not be a recording of the chip: then none is
 * passed over. */
static void pass_over_clipped(hy_take *t, unsigned char *use)
{
    enum { TOPS = 3 }; /* one or two happen where a slow wave touches its peak */
    size_t usable = 0;
    t->clipped = t->passed_over = 0;
    for (size_t i = 0; i < t->items; i++) {
        usable += use[i] != HY_UNUSED;
        t->clipped +=
            use[i] != HY_UNUSED && hy_recording_tops(t->recording, t->onset_s[i], t->onset_s[i + 1]) >= TOPS;
    }
    if (t->clipped > usable / 3) {
        return;
    }
    for (size_t i = 0; i < t->items; i++) {
        if (use[i] != HY_UNUSED && hy_recording_tops(t->recording, t->onset_s[i], t->onset_s[i + 1]) >= TOPS) {
            use[i] = HY_UNUSED;
            t->passed_over++;
        }
    }
}

/* Which items are held out: a stretch of six in every thirty of the later half, as long as each code keeps two. */
static int split(hy_calibration *s, hy_diag *diag)
{
    enum { STRETCH = 6, EVERY = 5, KEPT = 2 };
    unsigned count[HYOID_PHONEMES] = {0};
    for (size_t t = 0; t < s->take_count; t++) {
        hy_take *take = &s->takes[t];
        s->use[t] = calloc(take->items + 1, 1);
        if (s->use[t] == NULL) {
            return hy_fail(diag, "out of memory");
        }
        for (size_t i = 0; i < take->items; i++) {
            s->use[t][i] = take->uneven[i] ? HY_UNUSED : HY_FITTED;
        }
        pass_over_clipped(take, s->use[t]);
        for (size_t i = 0; i < take->items; i++) {
            count[take->said[i].code] += s->use[t][i] == HY_FITTED;
        }
    }
    for (size_t t = 0; t < s->take_count; t++) {
        const hy_take *take = &s->takes[t];
        for (size_t i = take->items / 2; i < take->items; i++) {
            unsigned code = take->said[i].code;
            if ((i / STRETCH) % EVERY == 0 && s->use[t][i] == HY_FITTED && count[code] > KEPT) {
                s->use[t][i] = HY_HELD_OUT;
                count[code]--;
            }
        }
        for (size_t i = 0; i < take->items; i++) {
            s->held += s->use[t][i] == HY_HELD_OUT;
            s->fitted += s->use[t][i] == HY_FITTED;
        }
    }
    memcpy(s->said, count, sizeof count);
    return 0;
}

/* A fit of the takes as they now lie. by_pitch: F1 codes that the pitch tells are set. */
static int renew(hy_calibration *s, int by_pitch, hy_diag *diag)
{
    hy_fit_free(s->fit);
    for (size_t t = 0; t < s->take_count; t++) {
        s->materials[t] = s->takes[t].material;
    }
    s->fit = hy_fit_new(s->materials, s->take_count, (const unsigned char *const *)s->use, s->prior, s->threads);
    if (s->fit == NULL) {
        return hy_fail(diag, "out of memory");
    }
    *hy_fit_part(s->fit) = s->part;
    for (unsigned c = 0; by_pitch && c < HYOID_PHONEMES; c++) {
        for (size_t t = s->take_count; t-- > 0;) {
            int f1 = s->takes[t].pitch.f1[c];
            if (f1 >= 0 && s->said[c] > 0) {
                hy_fit_pin(s->fit, c, 0, (uint8_t)f1);
                break;
            }
        }
    }
    for (size_t t = 0; t < s->take_count; t++) {
        if (hy_fit_noise(s->fit, t, &s->noise_heard[t]) != 0) {
            return hy_fail(diag, "out of memory");
        }
    }
    return 0;
}

typedef struct runner {
    hy_calibration *s;
    hy_calibration_step *step;
    void *user;
    double done, each;
    hy_diag *diag;
} runner;

static int tell(runner *r, const char *what)
{
    int status = r->step != NULL ? r->step(r->user, r->s, what, r->done, r->diag) : 0;
    r->done += r->each;
    return status;
}

enum { LAST_REACH = 120 };

static int place(runner *r, int reach, int with_channel)
{
    hy_calibration *s = r->s;
    for (size_t t = 0; t < s->take_count; t++) {
        const float *channel = with_channel && s->fit != NULL ? hy_fit_channel_db(s->fit, t) : NULL;
        if (hy_take_place(&s->takes[t], &s->part, channel, reach, r->diag) != 0) {
            return -1;
        }
    }
    combine(s);
    return take_pins(s, reach == LAST_REACH, r->diag);
}

/* Codes with the recorder's response free: nothing else is known yet. The transitions' rates at once: codes that had settled with
 * wrong ones would hold those fast. At first F1 codes by their sound alone: the pitch tells them but for a common step, and is read
 * against these. */
static int rough(runner *r, int delays)
{
    hy_calibration *s = r->s;
    int status = renew(s, delays, r->diag);
    for (int pass = 0; status == 0 && pass < 2; pass++) {
        status = hy_fit_channel(s->fit, 1);
    }
    if (status != 0 || hy_fit_codes(s->fit, delays) != 0 || hy_fit_levels_home(s->fit, 1) != 0 ||
        hy_fit_counts(s->fit, 16) != 0) {
        return hy_fail(r->diag, "out of memory");
    }
    s->part = *hy_fit_part(s->fit);
    return 0;
}

/* What each round of the fine search does. Where the gate stands is asked at once, as so much hangs on when voices are cut off; how far
 * it and the others count only when sounds are about right. */
typedef struct round_plan {
    unsigned dividers; /* see hy_fit_dividers, as the next one */
    int counts_too;
    int first; /* codes before the joint step, too, and the gate again behind it: nothing was searched with its place so far */
    int levels_home;
    int pulse;      /* in large steps */
    int count_step; /* see hy_fit_counts */
} round_plan;
enum { PLANNED = 4 }; /* the last one repeats, if anything is still gained */
static const round_plan plan[PLANNED] = {
    {1, 0, 1, 0, 0, 8}, {HY_DIVIDERS, 1, 0, 1, 1, 2}, {HY_DIVIDERS, 2, 0, 0, 1, 2}, {HY_DIVIDERS, 0, 0, 0, 0, 2}};

/* Constants and codes in turn, with the response that is believed. */
static int fine(runner *r, int round)
{
    hy_calibration *s = r->s;
    hy_fit *f = s->fit;
    const round_plan *p = &plan[round < PLANNED ? round : PLANNED - 1];
    if ((p->levels_home && hy_fit_levels_home(f, s->coloured) != 0) || hy_fit_phases(f, 0, 0) != 0 ||
        hy_fit_dividers(f, p->dividers, p->counts_too) != 0 || (p->first && hy_fit_codes(f, 1) != 0) ||
        hy_fit_channel(f, s->coloured) != 0 || (p->pulse && hy_fit_pulse(f, s->coloured) != 0) ||
        hy_fit_joint(f, 3) != 0) {
        return hy_fail(r->diag, "out of memory");
    }
    hy_fit_bandwidths_home(f);
    hy_fit_noises_home(f);
    if (hy_fit_codes(f, 1) != 0 || hy_fit_channel(f, s->coloured) != 0 ||
        (p->first && hy_fit_dividers(f, p->dividers, 0) != 0) || hy_fit_counts(f, p->count_step) != 0) {
        return hy_fail(r->diag, "out of memory");
    }
    s->part = *hy_fit_part(f);
    return 0;
}

/* A fit of the takes as they were placed last. Which bands the recorder passes is found first; then one gain for all of them, unless it
 * is coloured. */
static int settle(runner *r)
{
    hy_calibration *s = r->s;
    int status = renew(s, 1, r->diag);
    for (int pass = 0; status == 0 && pass < 3; pass++) {
        status = hy_fit_channel(s->fit, pass < 2 || s->coloured) == 0 ? 0 : hy_fail(r->diag, "out of memory");
    }
    return status;
}

static int judge(hy_calibration *s, hy_diag *diag)
{
    /* errors and findings, with everything else in place */
    if (hy_fit_reals(s->fit, 2) != 0 || hy_fit_errors(s->fit) != 0 || hy_fit_codes(s->fit, 1) != 0) {
        return hy_fail(diag, "out of memory");
    }
    s->part = *hy_fit_part(s->fit);
    return hy_guard(s, diag);
}

int hy_calibration_run(hy_calibration *s, const hyoid_part *start, hy_calibration_step *step, void *user,
                       hy_diag *diag)
{
    enum { FINE = 5 };
    static const double ENOUGH = 0.004; /* of the cost: what a further round must gain */
    runner r = {s, step, user, 0, 1.0 / (5 + FINE), diag};
    s->part = start != NULL ? *start : *s->prior;
    int status = tell(&r, "finding the phonemes");
    for (size_t t = 0; status == 0 && t < s->take_count; t++) {
        status = hy_take_warp(&s->takes[t], &s->part, diag) == 0 ? hy_take_cut(&s->takes[t], &s->part, diag) : -1;
    }
    status = status == 0 ? place(&r, 400, 0) : -1;
    status = status == 0 ? place(&r, 250, 0) : -1;
    status = status == 0 ? split(s, diag) : -1;
    status = status == 0 && tell(&r, "phoneme codes, first pass") == 0 ? rough(&r, 0) : -1;
    status = status == 0 ? place(&r, 200, 1) : -1;
    status = status == 0 && tell(&r, "phoneme codes, second pass") == 0 ? rough(&r, 1) : -1;
    status = status == 0 ? place(&r, LAST_REACH, 1) : -1;
    status = status == 0 ? settle(&r) : -1;
    double before = 1e30;
    for (int round = 0; status == 0 && round < FINE; round++) {
        status = tell(&r, "constants and codes") == 0 ? fine(&r, round) : -1;
        if (round == 0 && status == 0) { /* moments once more, by sounds that are now nearly right */
            status = place(&r, LAST_REACH, 1) == 0 ? settle(&r) : -1;
        }
        double now = status == 0 ? hy_fit_cost(s->fit, 0) : 0;
        if (round + 1 >= PLANNED - 1 && before - now < ENOUGH * before) {
            break;
        }
        before = now;
    }
    return status == 0 && tell(&r, "judging") == 0 && judge(s, diag) == 0 ? tell(&r, "done") : -1;
}

void hy_calibration_free(hy_calibration *s)
{
    hy_fit_free(s->fit);
    s->fit = NULL;
    for (size_t t = 0; t < HY_TAKES_MAX; t++) {
        free(s->use[t]);
        s->use[t] = NULL;
    }
}
