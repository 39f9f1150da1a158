/* The glottal pulse's two times, in larger steps than a slope tells. A pulse that closes too slowly lacks what lies above its corner,
 * and dampings, couplings and codes make up for that so well that each small step of the pulse alone is a step up: the search rested
 * with the prior's closing on three of ten random parts. So other times are tried outright, each with the
 * constants fitted to it, and the best of those with codes and constants together. */
#include <stdlib.h>

#include "fit_private.h"

/* Factors on one of the two times; how far apart they lie is what Gauss and Newton's method then finds its way across. */
enum { TRIES = 4, FAVOURITES = 2, QUICK_ROUNDS = 4 };
static const double CLOSINGS[TRIES] = {0.6, 0.8, 1.25, 1.6}, OPENINGS[TRIES] = {0.75, 0.87, 1.15, 1.3};

typedef struct pulse_search {
    hy_fit *fit;
    int free_form;
    hy_fit_state *before, *best, *favourite[FAVOURITES];
    double cost[FAVOURITES];
    int favourites;
} pulse_search;

/* Keeps what stands now if it is among the best. */
static void keep_favourite(pulse_search *s, double cost)
{
    int at = s->favourites < FAVOURITES ? s->favourites++ : FAVOURITES;
    while (at > 0 && cost < s->cost[at - 1]) {
        at--;
    }
    if (at == FAVOURITES) {
        return;
    }
    hy_fit_state *last = s->favourite[s->favourites - 1];
    for (int i = s->favourites - 1; i > at; i--) {
        s->favourite[i] = s->favourite[i - 1];
        s->cost[i] = s->cost[i - 1];
    }
    s->favourite[at] = last;
    s->cost[at] = cost;
    hy_fit_state_keep(last, s->fit);
}

/* One of the times by factors, from where the fit stands: *least is its cost, before and after. 0, or -1. */
static int try_times(pulse_search *s, const double factors[TRIES], int closing, double *least)
{
    hy_fit *f = s->fit;
    hy_fit_state_keep(s->before, f);
    hy_fit_state_keep(s->best, f);
    s->favourites = 0;
    for (int i = 0; i < TRIES; i++) {
        double opening, closing_time;
        const char *problem;
        hy_fit_state_restore(s->before, f);
        hy_pulse_times(&f->part, &opening, &closing_time);
        opening *= closing ? 1 : factors[i];
        closing_time *= closing ? factors[i] : 1;
        if (!hy_pulse_fits(opening, closing_time)) {
            continue;
        }
        hy_pulse_shape(&f->part, opening, closing_time);
        if (hyoid_part_check(&f->part, &problem) != HYOID_OK) {
            continue;
        }
        if (hy_fit_channel(f, s->free_form) != 0 || hy_fit_reals(f, QUICK_ROUNDS) != 0) {
            return -1;
        }
        keep_favourite(s, hy_fit_mean(f, &f->part, f->fitted, f->fitted_count));
    }
    for (int i = 0; i < s->favourites; i++) {
        hy_fit_state_restore(s->favourite[i], f);
        if (hy_fit_joint(f, 1) != 0) {
            return -1;
        }
        const double cost = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
        if (cost < *least) {
            *least = cost;
            hy_fit_state_keep(s->best, f);
        }
    }
    hy_fit_state_restore(s->best, f);
    return 0;
}

int hy_fit_pulse(hy_fit *f, int free_form)
{
    pulse_search s = {.fit = f, .free_form = free_form};
    s.before = hy_fit_state_new(f);
    s.best = hy_fit_state_new(f);
    int status = s.before != NULL && s.best != NULL ? 0 : -1;
    for (int i = 0; i < FAVOURITES; i++) {
        s.favourite[i] = hy_fit_state_new(f);
        status = s.favourite[i] != NULL ? status : -1;
    }
    if (status == 0 && f->fitted_count > 0) {
        status = hy_fit_joint(f, 1); /* so that what stands has had its step, too */
        double least = status == 0 ? hy_fit_mean(f, &f->part, f->fitted, f->fitted_count) : 0;
        status = status == 0 ? try_times(&s, CLOSINGS, 1, &least) : -1;
        status = status == 0 ? try_times(&s, OPENINGS, 0, &least) : -1;
    }
    hy_fit_state_free(s.before);
    hy_fit_state_free(s.best);
    for (int i = 0; i < FAVOURITES; i++) {
        hy_fit_state_free(s.favourite[i]);
    }
    return status;
}
