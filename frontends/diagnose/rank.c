#include "rank.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How many independent differences a mean rests on. Neighbouring slices and bands are not independent, so it is well below their
 * number; with differences of unknown scale that are spread as a double exponential, the likelihood of their mean m is m to the
 * power of minus their number. */
#define PER_PHONEME 0.5
#define PITCH_FLOOR 0.08        /* semitones: what measuring a pitch is good for */
#define UNCLAIMED_USUAL 0.3     /* share of voiced time: onsets, and what rings on */
#define UNCLAIMED_SEMITONES 1.0 /* what the rest counts as */
#define SPECTRUM_FLOOR 0.3      /* dB */
#define HEALTHY_PRIOR 6.0       /* natural logarithm: healthy chips are more common than any one fault */
#define COLOUR_LOOSE 25.0       /* dB, to find out what the recording carries */
#define COLOUR_TIGHT 3.0
#define BANDS_LEAST 8 /* a telephone carries about 14 */
#define EDGE_DB 6.0   /* a band at the edge that is so far from the others is not carried */
/* Nothing is explained if the mean difference is beyond the first, or beyond the second and more than a share of what expecting
 * silence would leave. */
#define UNLIKE_DB 4.0
#define UNLIKE_LEAST_DB 2.0
#define UNLIKE_SHARE 0.45

#define DC_SEEN 0.01  /* of full scale: a smaller mean is the recorder's own, or it passes no DC */
#define DC_WEIGHT 6.0 /* natural logarithm for each tolerance that the mean is off */

/* A recorder that passes no DC says nothing about an offset; one that does, says much. */
static double mean_support(const hy_heard *heard, const hy_candidate *c)
{
    double expected = pow(10.0, c->fit.gain_db / 20.0) * c->reference->mean;
    double share = c->reference->seconds / (heard->seconds > 0.0 ? heard->seconds : 1.0);
    expected *= share < 1.0 ? share : 1.0;
    double off = fabs(heard->dc - expected) / (DC_SEEN + 0.2 * fabs(expected));
    /* inverted recordings */
    double inverted = fabs(heard->dc + expected) / (DC_SEEN + 0.2 * fabs(expected));
    off = inverted < off ? inverted : off;
    return fabs(heard->dc) > DC_SEEN ? -DC_WEIGHT * fmin(off, 6.0) : 0.0;
}

/* The hum fault's fundamental at strength 1, RMS: 32 / pi^3 of the parabolas' peak, over the square root of 2. */
#define HUM_LEVEL (HYOID_FAULT_HUM_PEAK * 1.0320491 / 1.4142136)
#define TONE_TOLERANCE 5.0 /* dB */
#define TONE_WEIGHT 1.0    /* natural logarithm for each dB beyond it */
#define TONE_MOST 20.0

/* A tone at the fault's frequency is expected at its level with the fault, and not above its neighbours without. */
static double tone_support(const hy_heard *heard, const hy_candidate *c)
{
    hy_tone tone = hy_heard_tone(heard, c->reference->clock_hz * c->fit.clock / HYOID_FAULT_HUM_CLOCKS);
    double expected = tone.beside_db;
    if (tone.doubtful) {
        return 0.0;
    }
    if (c->reference->is.fault == HYOID_FAULT_HUM) {
        double level = 20.0 * log10(HUM_LEVEL * c->reference->is.strength) + c->fit.gain_db;
        expected = fmax(level, expected);
    }
    return -TONE_WEIGHT * fmin(fmax(fabs(tone.level_db - expected) - TONE_TOLERANCE, 0.0), TONE_MOST);
}

/* A pitch is heard where none should be: so it is off. */
static double pitch_difference(const hy_fit *fit)
{
    const double missed = fmax(fit->unclaimed - UNCLAIMED_USUAL, 0.0) / (1.0 - UNCLAIMED_USUAL);
    return (1.0 - missed) * fit->pitch + missed * UNCLAIMED_SEMITONES;
}

static double log_likelihood(const hy_fit *fit, double phonemes, double pitches)
{
    return -PER_PHONEME *
           (phonemes * log(fit->spectrum_db + SPECTRUM_FLOOR) + pitches * log(pitch_difference(fit) + PITCH_FLOOR));
}

/* Bands between those at which recorder or line cut the sound off: seen where the best supposition so far has energy. They are the
 * longest run of bands near the common gain; one alone that is not is a hole in it, and what tells nothing belongs to no side. */
static int find_usable(hy_diagnosis *d, const hy_fit *fit, hy_diag *diag)
{
    int low = 0, high = HY_BANDS - 1, most = 0;
    for (int from = 0; from < HY_BANDS; from++) {
        int last = from, inside = 0, beyond = 0;
        for (int b = from; b < HY_BANDS && beyond < 2; b++) {
            const int far = fabs(fit->colour_db[b]) > EDGE_DB,
                      near = fabs(fit->colour_db[b]) <= EDGE_DB; /* NaN: neither */
            beyond = far ? beyond + 1 : near ? 0 : beyond;
            inside += near;
            last = far ? last : b;
        }
        if (inside > most && !(fabs(fit->colour_db[from]) > EDGE_DB)) {
            most = inside;
            low = from;
            high = last;
        }
    }
    if (most < BANDS_LEAST) { /* no recorder is so narrow: the supposition is wrong, and tells nothing */
        low = 0;
        high = HY_BANDS - 1;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        d->usable[b] = b >= low && b <= high;
    }
    hy_bands *bands = malloc(sizeof *bands);
    if (bands == NULL) {
        return hy_fail(diag, "memory is short for the bands");
    }
    hy_bands_make(bands, HY_BAND_FFT);
    d->low_hz = bands->low[low];
    d->high_hz = bands->high[high];
    free(bands);
    return 0;
}

static int same_times(const hy_reference *a, const hy_reference *b)
{
    if (a->segments != b->segments) {
        return 0;
    }
    for (size_t i = 0; i <= a->segments; i++) {
        const hy_segment *s = &a->segment[i], *t = &b->segment[i];
        if (fabs(s->host_s + s->chip_s - t->host_s - t->chip_s) > 1e-4) {
            return 0;
        }
    }
    return 1;
}

int hy_sound_alike(const hy_reference *a, const hy_reference *b, const unsigned char *usable, int any_gain)
{
    double floor = 1e-7 * fmax(a->loud, b->loud), scale = 1.0;
    if (!(a->loud > 0.0) || !(b->loud > 0.0)) {
        return !(a->loud > 0.0) && !(b->loud > 0.0);
    }
    if (a->slices != b->slices || !same_times(a, b)) {
        return 0;
    }
    if (any_gain) {
        scale = a->loud / b->loud;
        floor = 1e-7 * a->loud;
    }
    for (size_t i = 0; i < a->slices; i++) {
        for (size_t k = 0; k < HY_BANDS; k++) {
            double x = (double)a->energy[i * HY_BANDS + k], y = scale * (double)b->energy[i * HY_BANDS + k];
            if ((usable == NULL || usable[k]) && fabs(10.0 * log10((x + floor) / (y + floor))) > 0.2) {
                return 0;
            }
        }
    }
    return 1;
}

double hy_candidate_clock(const hy_candidate *candidate)
{
    return candidate->reference->scale * candidate->fit.clock;
}

static int by_support(const void *a, const void *b)
{
    const hy_candidate *x = a, *y = b;
    if (x->support != y->support) {
        return x->support > y->support ? -1 : 1;
    }
    return x->reference->is.fault - y->reference->is.fault;
}

static void keep_best(hy_diagnosis *d, const hy_candidate *all, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        size_t k = 0;
        while (k < d->candidates && d->candidate[k].reference->is.fault != all[i].reference->is.fault) {
            k++;
        }
        if (k == d->candidates) {
            d->candidate[d->candidates++] = all[i];
        } else if (all[i].support > d->candidate[k].support) {
            d->candidate[k] = all[i];
        }
    }
    qsort(d->candidate, d->candidates, sizeof d->candidate[0], by_support);
}

static void group(hy_diagnosis *d, int any_gain)
{
    for (size_t i = 0; i < d->candidates; i++) {
        d->candidate[i].group = (int)i;
        for (size_t k = 0; k < i; k++) {
            if (d->candidate[k].group == (int)k &&
                hy_sound_alike(d->candidate[k].reference, d->candidate[i].reference, d->usable, any_gain)) {
                d->candidate[i].group = (int)k;
                break;
            }
        }
    }
}

static int by_level(const void *a, const void *b)
{
    const hy_candidate *x = a, *y = b;
    if (x->fit.spectrum_db != y->fit.spectrum_db) {
        return x->fit.spectrum_db < y->fit.spectrum_db ? -1 : 1;
    }
    return x->reference->is.fault - y->reference->is.fault;
}

/* Whether the most likely one is near enough. If not, likelihoods of what is far off say nothing: the nearest come first. */
static int settle(hy_diagnosis *d)
{
    const hy_fit *fit = &d->candidate[0].fit;
    const double found = fit->spectrum_db;
    const int unlike = found > UNLIKE_DB || (found > UNLIKE_LEAST_DB && found > UNLIKE_SHARE * fit->silence_db);
    d->log_likelihood = d->candidate[0].support;
    d->likeness = -1.0;
    for (size_t i = 0; i < d->candidates; i++) {
        d->candidate[i].support -= d->log_likelihood;
        d->likeness = fmax(d->likeness, d->candidate[i].fit.likeness);
    }
    if (unlike) {
        qsort(d->candidate, d->candidates, sizeof d->candidate[0], by_level);
    }
    return !unlike;
}

static void conclude(hy_diagnosis *d, int explained)
{
    double sum = 0.0;
    for (size_t i = 0; i < d->candidates; i++) {
        sum += exp(d->candidate[i].support);
        if (d->candidate[i].reference->is.fault == HY_HEALTHY) {
            d->healthy = i;
        }
    }
    for (size_t i = 0; i < d->candidates; i++) {
        d->candidate[i].probability = explained ? exp(d->candidate[i].support) / sum : 0.0;
    }
    d->finding = !explained                                                ? HY_NOT_EXPLAINED
                 : d->candidate[d->healthy].group == d->candidate[0].group ? HY_IS_HEALTHY
                                                                           : HY_IS_FAULTY;
}

static const hy_candidate *likeliest(const hy_candidate *all, size_t count)
{
    const hy_candidate *best = all;
    for (size_t i = 1; i < count; i++) {
        best = all[i].support > best->support ? &all[i] : best;
    }
    return best;
}

/* A search may end beside the best place. What has the times of the best so far is also tried where that one lies, so that no
 * supposition wins by a better search. */
static int share_place(hy_candidate *all, const hy_heard *heard, const hy_rank_setup *setup, const hy_fit_setup *how,
                       hy_diag *diag)
{
    const hy_candidate *best = likeliest(all, setup->references);
    for (size_t i = 0; i < setup->references; i++) {
        hy_fit there = all[i].fit;
        there.clock = best->fit.clock;
        there.delay = best->fit.delay;
        if (&all[i] == best || !same_times(all[i].reference, best->reference)) {
            continue;
        }
        if (hy_fit_judge(&there, heard, all[i].reference, how, diag) != 0) {
            return -1;
        }
        if (there.spectrum_db < all[i].fit.spectrum_db) {
            all[i].fit = there;
        }
    }
    return 0;
}

static int judge_all(hy_candidate *all, const hy_heard *heard, const hy_rank_setup *setup, const hy_fit_setup *how,
                     hy_diag *diag)
{
    double phonemes = 0.0, pitches = 0.0;
    for (size_t i = 0; i < setup->references; i++) {
        if (hy_fit_judge(&all[i].fit, heard, all[i].reference, how, diag) != 0) {
            return -1;
        }
        if (all[i].reference->is.fault == HY_HEALTHY) {
            phonemes = (double)all[i].fit.phonemes;
        }
        pitches = fmax(pitches, (double)all[i].fit.pitches);
    }
    for (size_t i = 0; i < setup->references; i++) {
        all[i].support = log_likelihood(&all[i].fit, phonemes, pitches) + mean_support(heard, &all[i]) +
                         tone_support(heard, &all[i]) +
                         (all[i].reference->is.fault == HY_HEALTHY ? HEALTHY_PRIOR : 0.0);
    }
    return 0;
}

int hy_rank(hy_diagnosis *d, const hy_heard *heard, const hy_rank_setup *setup, hy_diag *diag)
{
    memset(d, 0, sizeof *d);
    hy_candidate *all = calloc(setup->references, sizeof *all);
    hy_fit_setup how = {setup->gain_known, setup->gain_tolerance, COLOUR_LOOSE, NULL};
    if (all == NULL) {
        return hy_fail(diag, "memory is short for the ranking");
    }
    int result = 0;
    for (size_t i = 0; i < setup->references && result == 0; i++) {
        all[i].reference = setup->reference[i];
        /* another strength of the same fault lies where the last one did */
        const hy_fit *near = i > 0 && all[i - 1].reference->is.fault == all[i].reference->is.fault &&
                                     all[i - 1].reference->segments == all[i].reference->segments
                                 ? &all[i - 1].fit
                                 : NULL;
        result = hy_fit_find(&all[i].fit, heard, all[i].reference, &how, near, diag);
        if (setup->progress != NULL) {
            setup->progress(setup->user, i + 1, setup->references);
        }
    }
    result = result == 0 ? judge_all(all, heard, setup, &how, diag) : -1;
    result = result == 0 ? share_place(all, heard, setup, &how, diag) : -1;
    if (result == 0) {
        how.colour_most = COLOUR_TIGHT;
        how.usable = d->usable;
        result = find_usable(d, &likeliest(all, setup->references)->fit, diag);
    }
    result = result == 0 ? judge_all(all, heard, setup, &how, diag) : -1;
    if (result == 0) {
        keep_best(d, all, setup->references);
        const int explained = settle(d);
        group(d, !setup->gain_known);
        conclude(d, explained);
    }
    free(all);
    return result;
}
