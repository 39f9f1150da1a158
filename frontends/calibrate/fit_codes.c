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
static int searched(const hyoid_phoneme *p, unsigned quantity, int delays)
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
        if (!searched(p, q, s->delays) || f->pinned[code][q]) {
            continue;
        }
        uint8_t *value = value_of(p, q), best = *value;
        uint8_t old = hy_fit_value(f->prior, (unsigned)code, q);
        const char *name = hy_quantities[q].name;
        int amplitude = strcmp(name, "va") == 0 || strcmp(name, "fa") == 0;
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
        found->moved = best != old;
        *value = best;
    }
    f->part.phoneme[code] = *p;
}

void hy_fit_pin(hy_fit *f, unsigned code, unsigned quantity, uint8_t value)
{
    *value_of(&f->part.phoneme[code], quantity) = value;
    f->pinned[code][quantity] = 1;
    f->finding[code][quantity] =
        (hy_finding){.moved = value != hy_fit_value(f->prior, code, quantity), .determined = 1, .span = 1};
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
    s->before = f->part;
    s->delays = delays;
    hy_parallel(f->threads, HYOID_PHONEMES, search_code, s);
    free(scratch);
    free(s);
    return 0;
}
