/* Where the part's clock lies, roughly, before anything is known of faults: how far to bend the model so that the rest can be sought
 * near it. */
#ifndef HY_CENTRE_H
#define HY_CENTRE_H

#include "fit.h"

#define HY_CENTRE_LOW 0.6 /* ratios to the stated clock: what is searched */
#define HY_CENTRE_HIGH 1.67

typedef struct hy_centre {
    double scale;    /* ratio to the reference's clock; 1 where nothing else is plain */
    double likeness; /* of the envelopes there, -1..1 */
    int sure;        /* tempo says so plainly, and pitch does not speak against it */
    int doubtful;    /* pitch alone says so: it could be the inflection as well */
} hy_centre;

/* What a reference and the recording say of the clock: tempo, if the pitch has no word against it; pitch, where the host wrote at
 * times of its own. 0, or -1 (memory). */
int hy_centre_find(hy_centre *centre, const hy_heard *heard, const hy_reference *reference, hy_diag *diag);

#endif
