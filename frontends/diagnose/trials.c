#include "trials.h"

int hy_trials_render(hy_trials *trials, const hy_reference_setup *setup, size_t most,
                     void (*tell)(void *user, size_t done), void *user, hy_diag *diag)
{
    size_t count;
    const hy_supposition *suppositions = hy_suppositions(&count);
    for (most = most < count ? most : count; trials->count < most; trials->count++) {
        /* the first one, healthy, saves time for the others */
        hy_reference *made = hy_reference_make(setup, suppositions[trials->count], trials->reference[0], diag);
        if (made == NULL) {
            return -1;
        }
        trials->reference[trials->count] = made;
        if (tell != NULL) {
            tell(user, trials->count + 1);
        }
    }
    return 0;
}

void hy_trials_free(hy_trials *trials)
{
    for (size_t i = 0; i < trials->count; i++) {
        hy_reference_free(trials->reference[i]);
    }
    *trials = (hy_trials){{0}, 0};
}
