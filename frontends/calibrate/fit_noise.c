/* The noise register's place in each take, handed to the judges. */
#include "fit_private.h"

int hy_fit_noise(hy_fit *f, size_t take, size_t *heard)
{
    if (hy_noise_cycle_of(&f->part, f->cycle) != 0) {
        *heard = 0;
        return 0;
    }
    hy_noise_places places = {.when = f->noise[take]};
    int found = hy_noise_place(&f->part, &f->takes[take], f->cycle, &places);
    *heard = found > 0 ? places.agree : 0;
    f->heard[take] = found > 0;
    for (unsigned k = 0; found >= 0 && k < f->threads; k++) {
        hy_judge_set_noise(f->judges[k * f->take_count + take], f->cycle, found ? f->noise[take] : NULL);
    }
    return found < 0 ? -1 : 0;
}
