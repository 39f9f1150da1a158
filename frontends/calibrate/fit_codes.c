/* The phoneme memory: for each code, quantity by quantity, the value whose speech is nearest. */
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"
#include "partfile_fields.h"

enum { MOST_PLACES = 8 }; /* occurrences that are listened to: more change little */
/* dB^2 by which a value must beat the prior's to be believed: twice what chance gave with the right part in the tests */
static const double BELIEVED = 0.06;

typedef struct sweep {
    hy_fit *fit;
    hyoid_part *scratch; /* one for each thread */
    hyoid_part before;   /* what all codes' searches start from */
    hyoid_part found;    /* what each of them ends at */
    int delays;
} sweep;

static uint8_t *value_of(hyoid_phoneme *p, unsigned quantity)
{
    return (uint8_t *)p + hy_quantities[quantity].offset;
}

uint8_t hy_fit_value(const hyoid_part *part, unsigned code, unsigned quantity)
{
    return *((const uint8_t *)&part->phoneme[code] + hy_quantities[quantity].offset);
}

/* Amplitude 0 means another kind of sound: that is not for a search to decide. */
int hy_fit_searched(const hyoid_phoneme *p, unsigned quantity, int delays)
{
    const char *name = hy_quantities[quantity].name;
    if (p->pause) {
        return 0;
    }
    if (strcmp(name, "va") == 0) {
        return p->va > 0;
    }
    if (strcmp(name, "fa") == 0 || strcmp(name, "fc") == 0) {
        return p->fa > 0;
    }
    if (strcmp(name, "vd") == 0 || strcmp(name, "cld") == 0) {
        return delays;
    }
    return 1;
}

static double listen(const sweep *s, unsigned thread, const hyoid_part *part, unsigned code)
{
    size_t n = s->fit->by_code_count[code], step = n > MOST_PLACES ? n / MOST_PLACES : 1, used = 0;
    double sum = 0;
    for (size_t i = 0; i < n && used < MOST_PLACES; i += step, used++) {
        sum += hy_fit_item(s->fit, thread, part, s->fit->by_code[code][i]);
    }
    return used > 0 ? sum / (double)used : 0;
}

static void search_code(void *user, unsigned thread, size_t code)
{
    sweep *s = user;
    hy_fit *f = s->fit;
    hyoid_part *part = &s->scratch[thread];
    if (f->by_code_count[code] == 0) {
        return;
    }
    *part = s->before;
    hyoid_phoneme *p = &part->phoneme[code];
    for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
        if (!hy_fit_searched(p, q, s->delays) || f->pinned[code][q]) {
            continue;
        }
        uint8_t *value = value_of(p, q), best = *value;
        uint8_t old = hy_fit_value(f->prior, (unsigned)code, q);
        const int amplitude = q == HY_VA || q == HY_FA;
        double least = 1e30, most = 0, of_prior = 0;
        for (unsigned x = amplitude ? 1 : 0; x <= hy_quantities[q].most; x++) {
            *value = (uint8_t)x;
            double cost = listen(s, thread, part, (unsigned)code);
            if (cost < least) {
                least = cost;
                best = (uint8_t)x;
            }
            most = cost > most ? cost : most;
            of_prior = x == old ? cost : of_prior;
        }
        hy_finding *found = &f->finding[code][q];
        found->gain = (float)(of_prior - least);
        found->span = (float)(most - least);
        found->determined = most - least > 4 * BELIEVED;
        if (best != old && of_prior - least < BELIEVED) {
            best = old;
        }
        *value = best;
    }
    s->found.phoneme[code] = *p;
}

void hy_fit_pin(hy_fit *f, unsigned code, unsigned quantity, uint8_t value)
{
    *value_of(&f->part.phoneme[code], quantity) = value;
    f->pinned[code][quantity] = 1;
    f->finding[code][quantity] =
        (hy_finding){.moved = value != hy_fit_value(f->prior, code, quantity), .determined = 1, .span = 1};
}

size_t hy_fit_reach(const hy_fit *f, unsigned code, hy_place *places)
{
    enum { BEHIND = 2 };
    size_t n = 0, owner = 0;
    int any = 0;
    for (size_t i = 0; i < f->fitted_count; i++) {
        hy_place here = f->fitted[i];
        if (f->takes[here.take].said[here.item].code == code) {
            owner = i;
            any = 1;
        }
        if (any && f->fitted[owner].take == here.take && here.item <= f->fitted[owner].item + BEHIND) {
            places[n++] = here;
        }
    }
    return n;
}

int hy_fit_adopt(hy_fit *f, const hyoid_part *found)
{
    hy_place *places = malloc((f->fitted_count + 1) * sizeof *places);
    if (places == NULL) {
        return -1;
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        if (memcmp(&f->part.phoneme[code], &found->phoneme[code], sizeof found->phoneme[code]) == 0) {
            continue;
        }
        size_t n = hy_fit_reach(f, code, places);
        double now = hy_fit_mean(f, &f->part, places, n);
        for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
            uint8_t *value = value_of(&f->part.phoneme[code], q), before = *value;
            uint8_t wanted = hy_fit_value(found, code, q);
            if (wanted == before) {
                continue;
            }
            *value = wanted;
            double cost = hy_fit_mean(f, &f->part, places, n);
            if (cost < now) {
                now = cost;
            } else {
                *value = before;
            }
        }
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
            f->finding[code][q].moved = hy_fit_value(&f->part, code, q) != hy_fit_value(f->prior, code, q);
        }
    }
    free(places);
    return 0;
}

int hy_fit_codes(hy_fit *f, int delays)
{
    sweep *s = malloc(sizeof *s);
    hyoid_part *scratch = malloc(f->threads * sizeof *scratch);
    if (s == NULL || scratch == NULL) {
        free(s);
        free(scratch);
        return -1;
    }
    s->fit = f;
    s->scratch = scratch;
    s->before = s->found = f->part;
    s->delays = delays;
    hy_parallel(f->threads, HYOID_PHONEMES, search_code, s);
    int status = hy_fit_adopt(f, &s->found);
    free(scratch);
    free(s);
    return status;
}

void hy_fit_forget_returned(hy_fit *f, const hyoid_part *part)
{
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
            hy_finding *found = &f->finding[c][q];
            if (hy_fit_value(part, c, q) == hy_fit_value(f->prior, c, q)) {
                found->determined = found->determined && !found->moved && found->gain < BELIEVED;
                found->moved = 0;
                found->gain = 0;
            }
        }
    }
}
