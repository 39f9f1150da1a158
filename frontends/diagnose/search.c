#include "search.h"

#include <math.h>
#include <stdlib.h>

#include "centre.h"

#define NEAR 0.001     /* ratio: spectra of a reference serve for clocks so far off its own */
#define CLOSE 0.0005   /* ratio: as good as the same */
#define STRAYED 0.01   /* ratio: a finer search that goes so far off has found something else */
#define AT_EDGE 0.04   /* a fit beyond it has come to the end of what was searched */
#define UNLIKELY 0.6   /* likeness below which the clock may be to blame */
#define WORTH 0.4      /* likeness from which another clock is worth a trial */
#define SOUNDS_DB 10.0 /* above the floor: there is something to find a clock in */

static void tell(hy_search *s, size_t done)
{
    if (s->setup->progress != NULL) {
        s->setup->progress(s->setup->user, done, s->whole);
    }
}

static void on_rendered(void *user, size_t done)
{
    hy_search *s = user;
    tell(s, s->done + done);
}

static void on_ranked(void *user, size_t done, size_t whole)
{
    hy_search *s = user;
    tell(s, s->done + whole + done);
}

/* Each supposition is rendered and laid on the recording. */
static size_t effort(void)
{
    size_t count;
    hy_suppositions(&count);
    return 2 * count;
}

static hy_reference_setup model_at(const hy_search *s, double scale)
{
    hy_reference_setup model = s->setup->model;
    model.scale = scale;
    return model;
}

/* Ranks at a clock; whatever explains the recording better stays in s->best. */
static int try_at(hy_search *s, hy_trials *trials, double scale, const hy_heard *heard, hy_diag *diag)
{
    const hy_reference_setup model = model_at(s, scale);
    if (hy_trials_render(trials, &model, HY_TRIALS_MOST, on_rendered, s, diag) != 0) {
        return -1;
    }
    const hy_rank_setup how = {trials->reference,        trials->count, s->setup->gain_known,
                               s->setup->gain_tolerance, on_ranked,     s};
    if (hy_rank(s->second, heard, &how, diag) != 0) {
        return -1;
    }
    s->done += 2 * trials->count;
    if (s->best->candidates == 0 || s->second->log_likelihood > s->best->log_likelihood) {
        hy_diagnosis *better = s->second;
        s->second = s->best;
        s->best = better;
    }
    return 0;
}

/* Where the healthy chip is plainly heard, it tells the clock to a fraction of a percent; at that clock spectra can be told apart
 * best. */
static int sharpen(hy_search *s, hy_centre *centre, const hy_heard *heard, hy_diag *diag)
{
    const hy_fit_setup how = {s->setup->gain_known, s->setup->gain_tolerance, 0.0, NULL};
    for (int turn = 0; turn < 2 && centre->sure; turn++) {
        const hy_reference_setup model = model_at(s, centre->scale);
        hy_fit fit;
        hy_trials_free(&s->bent);
        if (hy_trials_render(&s->bent, &model, 1, NULL, NULL, diag) != 0 ||
            hy_fit_find(&fit, heard, s->bent.reference[0], &how, NULL, diag) != 0) {
            return -1;
        }
        if (fabs(fit.clock - 1.0) < CLOSE || fabs(fit.clock - 1.0) > STRAYED) {
            break;
        }
        centre->scale *= fit.clock;
    }
    hy_trials_free(&s->bent);
    return 0;
}

static int try_elsewhere(hy_search *s, double scale, const hy_heard *heard, hy_diag *diag)
{
    s->whole = s->done + effort();
    return try_at(s, &s->bent, scale, heard, diag);
}

/* The clock that the likest of all suppositions has: a fault hides it from the healthy one if it changes times, pitch or most of the
 * sound. Faults with degrees are heard at their worst. */
static int find_by_all(hy_centre *best, const hy_trials *trials, const hy_heard *heard, hy_diag *diag)
{
    *best = (hy_centre){.scale = 1.0, .likeness = WORTH};
    for (size_t i = 0; i < trials->count; i++) {
        const hy_reference *r = trials->reference[i];
        hy_centre centre;
        if (!(r->loud > 0.0) || (r->is.fault != HY_HEALTHY && r->is.strength < 1.0)) {
            continue;
        }
        if (hy_centre_find(&centre, heard, r, diag) != 0) {
            return -1;
        }
        *best = centre.likeness > best->likeness ? centre : *best;
    }
    return 0;
}

static int far(double ratio)
{
    return fabs(ratio - 1.0) > NEAR;
}

static int run(hy_search *s, const hy_heard *heard, hy_diag *diag)
{
    const hy_reference_setup model = model_at(s, 1.0);
    hy_centre centre;
    s->whole = effort();
    if (hy_trials_render(&s->stated, &model, 1, on_rendered, s, diag) != 0 ||
        hy_centre_find(&centre, heard, s->stated.reference[0], diag) != 0 || sharpen(s, &centre, heard, diag) != 0) {
        return -1;
    }
    if (far(centre.scale) && !centre.doubtful) {
        return try_elsewhere(s, centre.scale, heard, diag);
    }
    if (try_at(s, &s->stated, 1.0, heard, diag) != 0) {
        return -1;
    }
    const hy_fit *fit = &s->best->candidate[0].fit;
    const int plain =
        s->best->finding != HY_NOT_EXPLAINED && fabs(fit->clock - 1.0) < AT_EDGE && fit->likeness > UNLIKELY;
    if (!far(centre.scale) && !plain && heard->snr_db > SOUNDS_DB &&
        find_by_all(&centre, &s->stated, heard, diag) != 0) {
        return -1;
    }
    return far(centre.scale) ? try_elsewhere(s, centre.scale, heard, diag) : 0;
}

int hy_search_run(hy_search *s, const hy_heard *heard, const hy_search_setup *setup, hy_diag *diag)
{
    s->setup = setup;
    s->done = 0;
    hy_trials_free(&s->bent);
    free(s->best);
    free(s->second);
    s->best = calloc(1, sizeof *s->best);
    s->second = calloc(1, sizeof *s->second);
    return s->best != NULL && s->second != NULL ? run(s, heard, diag)
                                                : hy_fail(diag, "memory is short for the diagnosis");
}

void hy_search_free(hy_search *s)
{
    hy_trials_free(&s->stated);
    hy_trials_free(&s->bent);
    free(s->best);
    free(s->second);
    *s = (hy_search){.setup = NULL};
}
