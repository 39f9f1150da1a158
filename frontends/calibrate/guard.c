#include "guard.h"

#include <math.h>
#include <string.h>

#include "stakes.h"

/* Numbers as the part's files will hold them: six digits, more were never measured. What was not moved stays as it is. */
static void settle(hyoid_part *p, const hyoid_part *prior)
{
    static const size_t reals[] = {offsetof(hyoid_part, f1.k0),
                                   offsetof(hyoid_part, f1.ks),
                                   offsetof(hyoid_part, f1.k6),
                                   offsetof(hyoid_part, f2.k0),
                                   offsetof(hyoid_part, f2.ks),
                                   offsetof(hyoid_part, f2.k6),
                                   offsetof(hyoid_part, f3.k0),
                                   offsetof(hyoid_part, f3.ks),
                                   offsetof(hyoid_part, f3.k6),
                                   offsetof(hyoid_part, f2_k6_step),
                                   offsetof(hyoid_part, f4_k),
                                   offsetof(hyoid_part, f4_k6),
                                   offsetof(hyoid_part, f4_feed),
                                   offsetof(hyoid_part, noise_f2),
                                   offsetof(hyoid_part, noise_f3),
                                   offsetof(hyoid_part, noise_f4),
                                   offsetof(hyoid_part, noise_direct),
                                   offsetof(hyoid_part, pulse_unit),
                                   offsetof(hyoid_part, noise_between_pulses)};
    for (size_t i = 0; i < sizeof reals / sizeof reals[0]; i++) {
        double *now = (double *)(void *)((char *)p + reals[i]);
        double was = *(const double *)(const void *)((const char *)prior + reals[i]);
        double scale = pow(10, 6 - ceil(log10(*now + 1e-300)));
        double rounded = round(*now * scale) / scale;
        if (*now != was && *now != 0 && rounded > 0) {
            *now = rounded;
        }
    }
}

typedef struct worth {
    double distance, cost; /* of the held-out phonemes */
} worth;

/* What a part is worth, the recorder's gain and the pitch's places found anew for it. */
static int weigh(hy_calibration *s, const hyoid_part *part, int near, worth *w)
{
    *hy_fit_part(s->fit) = *part;
    if (hy_fit_channel(s->fit, s->coloured) != 0) {
        return -1;
    }
    if (hy_fit_phases(s->fit, 1, near) != 0) {
        return -1;
    }
    w->distance = hy_fit_distance(s->fit, part, HYOID_PHONEMES, 1, NULL);
    w->cost = hy_fit_cost(s->fit, 1);
    return 0;
}

static int is_better(const worth *a, const worth *b)
{
    return a->distance < b->distance && a->cost < b->cost;
}

static void doubt(hy_calibration *s, unsigned stake)
{
    size_t n = strlen(s->doubted);
    snprintf(s->doubted + n, sizeof s->doubted - n, "%s%s", n > 0 ? ", " : "", hy_stake_name(stake));
}

/* Stake by stake: does what was found for it bring the held-out phonemes nearer? */
static int try_stakes(hy_calibration *s, worth *best)
{
    for (unsigned stake = 0; stake < HY_STAKES; stake++) {
        hyoid_part tried = s->part;
        unsigned changed = hy_stake_restore(&tried, s->prior, stake, hy_fit_pinned(s->fit));
        const char *problem;
        worth w;
        if (hy_stake_is_leant_on(stake) || changed == 0 || hyoid_part_check(&tried, &problem) != HYOID_OK) {
            continue;
        }
        if (weigh(s, &tried, 1, &w) != 0) {
            return -1;
        }
        if (w.distance <= best->distance && w.cost <= best->cost) {
            s->part = tried;
            s->put_back += changed;
            *best = w;
            doubt(s, stake);
        }
    }
    return 0;
}

/* The prior with durations and, if wanted, all that the pitch told. */
static hyoid_part prior_with(const hy_calibration *s, int pitch)
{
    hyoid_part p = *s->prior;
    unsigned char(*pinned)[HY_FIT_QUANTITIES] = hy_fit_pinned(s->fit);
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        p.phoneme[c].duration = s->part.phoneme[c].duration;
        if (pitch && pinned[c][0]) {
            p.phoneme[c].f1 = s->part.phoneme[c].f1;
        }
    }
    if (pitch) {
        memcpy(p.pitch_period, s->part.pitch_period, sizeof p.pitch_period);
        p.pitch_f1_shift = s->part.pitch_f1_shift;
    }
    return p;
}

static int hold_out(hy_calibration *s)
{
    hyoid_part before = prior_with(s, 0), pitched = prior_with(s, 1);
    worth was, only_pitch, found;
    if (weigh(s, &before, 0, &was) != 0 || weigh(s, &pitched, 0, &only_pitch) != 0 ||
        weigh(s, &s->part, 0, &found) != 0 || try_stakes(s, &found) != 0) {
        return -1;
    }
    if (!is_better(&found, &was) || (only_pitch.distance <= found.distance && only_pitch.cost <= found.cost)) {
        int pitch_helps = is_better(&only_pitch, &was);
        s->part = pitch_helps ? pitched : before;
        found = pitch_helps ? only_pitch : was;
        s->prior_stands = 1;
        for (int level = 0; level < HYOID_LEVELS && !pitch_helps; level++) {
            s->pitch_found[level] =
                s->pitch_found[level] && s->part.pitch_period[level] == s->prior->pitch_period[level];
        }
    }
    s->held_before_db = was.distance;
    s->held_after_db = found.distance;
    return 0;
}

int hy_guard(hy_calibration *s, hy_diag *diag)
{
    *hy_fit_part(s->fit) = s->part;
    int back = hy_fit_prune(s->fit);
    if (back < 0) {
        return hy_fail(diag, "out of memory");
    }
    s->part = *hy_fit_part(s->fit);
    s->put_back = (unsigned)back;
    settle(&s->part, s->prior);
    s->held_before_db = s->held_after_db = -1;
    if (s->held > 0 && hold_out(s) != 0) {
        return hy_fail(diag, "out of memory");
    }
    hyoid_part before = prior_with(s, 0), *parts[] = {&before, &s->part};
    double *costs[] = {&s->before_db, &s->after_db};
    for (int i = 0; i < 2; i++) { /* the part that was found last, so that the fit is left with it */
        *hy_fit_part(s->fit) = *parts[i];
        if (hy_fit_channel(s->fit, s->coloured) != 0) {
            return hy_fail(diag, "out of memory");
        }
        if (hy_fit_phases(s->fit, 0, 0) != 0) {
            return hy_fail(diag, "out of memory");
        }
        *costs[i] = sqrt(hy_fit_cost(s->fit, 0));
    }
    hy_fit_forget_returned(s->fit, &s->part);
    return 0;
}
