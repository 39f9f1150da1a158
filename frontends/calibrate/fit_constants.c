/* Constants that count: rates and shifts of the transitions, one after the other, in ever smaller steps. */
#include <stdlib.h>

#include "fit_private.h"
#include "knobs.h"

/* A count whose divider's place is known: either is right with the other only. */
static int is_counted(const hy_fit *f, unsigned knob)
{
    int known = 0;
    for (size_t t = 0; knob < HY_DIVIDERS && t < f->take_count; t++) {
        known |= f->divider[t][knob] != HY_UNKNOWN;
    }
    return known;
}

int hy_fit_counts(hy_fit *f, int first)
{
    hyoid_part *tried = malloc(sizeof *tried);
    if (tried == NULL) {
        return -1;
    }
    double now = hy_fit_mean(f, &f->part, f->fitted, f->fitted_count);
    for (int step = first; step > 0; step /= 2) {
        for (unsigned k = 0; k < HY_COUNT_KNOBS; k++) {
            if (hy_knob_is_closure(k) && first > 8) {
                continue; /* heard in a few frames only, and misled while sounds are still wrong */
            }
            if (is_counted(f, k)) {
                continue;
            }
            for (int sign = -1; sign <= 1; sign += 2) {
                int went = 0;
                for (;;) {
                    *tried = f->part;
                    if (!hy_knob_count(tried, k, sign * step)) {
                        break;
                    }
                    double cost = hy_fit_mean(f, tried, f->fitted, f->fitted_count);
                    if (cost >= now) {
                        break;
                    }
                    now = cost;
                    f->part = *tried;
                    went = 1;
                }
                if (went) {
                    break;
                }
            }
        }
    }
    free(tried);
    return 0;
}
