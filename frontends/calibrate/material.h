/* A recording laid out for fitting: sound at one sample per filter cycle, and what was said when. */
#ifndef HY_MATERIAL_H
#define HY_MATERIAL_H

#include <stddef.h>
#include <stdint.h>

#include "speech.h"
#include "tick_bands.h"

typedef struct hy_material {
    const float *sound; /* one sample a filter cycle, full scale 1 */
    size_t count;
    const hy_said *said; /* what was said, in order */
    size_t items;
    const uint32_t *onset;      /* items + 1 indices into sound: where each item's time begins, and the end */
    float floor[HY_TICK_BANDS]; /* power of the recording's own noise in a frame, by band */
    float mask[HY_TICK_BANDS];  /* power that no ear would miss beside the loudest: added to both sides */
} hy_material;

#endif
