/* All levels a step up or down, with the recorder's gain to make up for it, sound nearly the same: only their steps' unevenness tells,
 * and the constants bend to that. No code can go back alone, so it is done for all at once, before constants are searched. */
#include <math.h>
#include <stdlib.h>

#include "fit_private.h"
#include "partfile_fields.h"

static int by_size(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

/* By how many steps most codes' values of a quantity have moved: the median; between two, the one nearer to none. */
static int common_step(const hy_fit *f, unsigned quantity)
{
    int moved[HYOID_PHONEMES], count = 0;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hyoid_phoneme *was = &f->prior->phoneme[code];
        if (f->by_code_count[code] > 0 && hy_fit_searched(was, quantity, 0) && (quantity != HY_BW2 || was->va > 0)) {
            moved[count++] = hy_fit_value(&f->part, code, quantity) - hy_fit_value(f->prior, code, quantity);
        }
    }
    if (count == 0) {
        return 0;
    }
    qsort(moved, (size_t)count, sizeof *moved, by_size);
    const int low = moved[(count - 1) / 2], high = moved[count / 2];
    return low > 0 ? low : high < 0 ? high : 0;
}

/* Shifts a quantity of all codes that were said and that it is searched of, within what the registers hold. */
static void shift(const hy_fit *f, hyoid_part *part, unsigned quantity, int by)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        hyoid_phoneme *p = &part->phoneme[code];
        uint8_t *value = (uint8_t *)p + hy_quantities[quantity].offset;
        const int least = quantity != HY_BW2, most = (int)hy_quantities[quantity].most, next = *value + by;
        if (f->by_code_count[code] > 0 && hy_fit_searched(p, quantity, 0)) {
            *value = (uint8_t)(next < least ? least : next > most ? most : next);
        }
    }
}

int hy_fit_levels_home(hy_fit *f, int free_form)
{
    const int voice = common_step(f, HY_VA), noise = common_step(f, HY_FA);
    if (voice == 0 && noise == 0) {
        return 0;
    }
    shift(f, &f->part, HY_VA, -voice);
    shift(f, &f->part, HY_FA, -noise);
    return hy_fit_channel(f, free_form);
}

/* The same of noise alone, whose couplings make up for it: as far as the register's law has it for a code in the middle. */
void hy_fit_noises_home(hy_fit *f)
{
    const int by = common_step(f, HY_FA);
    int sum = 0, count = 0;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        if (f->by_code_count[code] > 0 && hy_fit_searched(&f->part.phoneme[code], HY_FA, 0)) {
            sum += f->part.phoneme[code].fa;
            count++;
        }
    }
    if (by == 0 || sum <= by * count) {
        return;
    }
    hyoid_part part = f->part;
    const double factor = pow((double)sum / (sum - by * count), part.amplitude_power);
    double *const couplings[] = {&part.noise_f2, &part.noise_f3, &part.noise_f4, &part.noise_direct};
    for (size_t i = 0; i < sizeof couplings / sizeof couplings[0]; i++) {
        *couplings[i] *= factor;
    }
    shift(f, &part, HY_FA, -by);
    const char *problem;
    f->part = hyoid_part_check(&part, &problem) == HYOID_OK ? part : f->part;
}

/* The same of bandwidths: a step more for all, and a damping that is less by one step for all. */
void hy_fit_bandwidths_home(hy_fit *f)
{
    const int by = common_step(f, HY_BW2);
    hyoid_part part = f->part;
    part.f2.k6 += by * part.f2_k6_step;
    shift(f, &part, HY_BW2, -by);
    const char *problem;
    f->part = by != 0 && hyoid_part_check(&part, &problem) == HYOID_OK ? part : f->part;
}
