/* The sections' laws from the codes' own wishes: where a code would rather stand between two values, its section's capacitors are
 * a little off. One Newton step on the straight line through all codes, kept if the speech then fits better. */
#include <math.h>
#include <stdlib.h>

#include "fit_private.h"
#include "partfile_fields.h"

/* The place of least cost near a code's value x, as a fraction of a step; weight 0: can't be told. */
typedef struct wish {
    double x, off, weight;
} wish;

typedef struct wish_work {
    hy_fit *fit;
    hyoid_part *scratch; /* one for each thread */
    unsigned quantity;
    wish wishes[HYOID_PHONEMES];
} wish_work;

static double cost_of(hy_fit *f, unsigned thread, hyoid_part *part, unsigned code, uint8_t *value, int x)
{
    enum { LISTENED = 6 };
    double sum = 0;
    size_t n = f->by_code_count[code] < LISTENED ? f->by_code_count[code] : LISTENED;
    *value = (uint8_t)x;
    for (size_t i = 0; i < n; i++) {
        sum += hy_fit_item(f, thread, part, f->by_code[code][i]);
    }
    return sum / (double)n;
}

static void find_wish(void *user, unsigned thread, size_t code)
{
    wish_work *w = user;
    hy_fit *f = w->fit;
    w->wishes[code] = (wish){0, 0, 0};
    const hyoid_phoneme *p = &f->part.phoneme[code];
    hyoid_part *part = &w->scratch[thread];
    if (f->by_code_count[code] > 0 && !p->pause && p->va > 0) {
        *part = f->part;
        uint8_t *value = (uint8_t *)&part->phoneme[code] + hy_quantities[w->quantity].offset;
        int x = *value, most = (int)hy_quantities[w->quantity].most;
        if (x > 0 && x < most) {
            double a = cost_of(f, thread, part, (unsigned)code, value, x - 1);
            double b = cost_of(f, thread, part, (unsigned)code, value, x);
            double c = cost_of(f, thread, part, (unsigned)code, value, x + 1);
            double bend = a - 2 * b + c;
            if (bend > 0.1 && b <= a && b <= c) {
                double register_of = w->quantity == 1 ? 8 * x + x / 4 : 17 * x;
                w->wishes[code] = (wish){register_of, 0.5 * (a - c) / bend * (w->quantity == 1 ? 8.25 : 17), bend};
            }
        }
    }
}

int hy_fit_laws(hy_fit *f)
{
    wish_work *w = malloc(sizeof *w);
    hyoid_part *scratch = malloc(f->threads * sizeof *scratch);
    if (w == NULL || scratch == NULL) {
        free(w);
        free(scratch);
        return -1;
    }
    w->fit = f;
    w->scratch = scratch;
    double now = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
    for (unsigned q = 0; q < 3; q++) {
        w->quantity = q;
        hy_parallel(f->threads, HYOID_PHONEMES, find_wish, w);
        /* off = a + b (x - 128), weighted, with a slight pull to 0 */
        double s0 = 4, s1 = 0, s2 = 4 * 64.0 * 64.0, t0 = 0, t1 = 0;
        for (int c = 0; c < HYOID_PHONEMES; c++) {
            const wish *v = &w->wishes[c];
            double weight = fmin(v->weight, 3), x = v->x - 128;
            s0 += weight;
            s1 += weight * x;
            s2 += weight * x * x;
            t0 += weight * v->off;
            t1 += weight * v->off * x;
        }
        double det = s0 * s2 - s1 * s1, a = (t0 * s2 - t1 * s1) / det, b = (t1 * s0 - t0 * s1) / det;
        for (double share = 1; share > 0.2; share /= 2) {
            hyoid_part before = f->part;
            hyoid_section *section = q == 0 ? &f->part.f1 : q == 1 ? &f->part.f2 : &f->part.f3;
            double at128 = section->k0 + 128 * section->ks + share * a * section->ks;
            section->ks *= 1 + share * b;
            section->k0 = at128 - 128 * section->ks;
            const char *problem;
            double cost = hyoid_part_check(&f->part, &problem) == HYOID_OK
                              ? hy_fit_mean(f, &f->part, f->fitted, f->fitted_count)
                              : 1e30;
            if (cost < now) {
                now = cost;
                break;
            }
            f->part = before;
        }
    }
    free(scratch);
    free(w);
    return 0;
}
