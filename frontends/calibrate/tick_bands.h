/* What an ear would compare: power in bands, frame by frame, in time counted by the chip's filter cycles. */
#ifndef HY_TICK_BANDS_H
#define HY_TICK_BANDS_H

#include <stddef.h>

enum {
    HY_TICK_BANDS = 40,
    HY_TICK_WINDOW = 640, /* filter cycles under one frame: 32 ms at 20 kHz, three pitch periods */
    HY_TICK_HOP = 128     /* filter cycles from frame to frame */
};

/* Power of each band in one frame. */
typedef struct hy_tick_frame {
    float power[HY_TICK_BANDS];
} hy_tick_frame;

typedef struct hy_tick_bands hy_tick_bands;

/* Plans the transform. Null when memory is short. Not to be shared by threads. */
hy_tick_bands *hy_tick_bands_new(void);
void hy_tick_bands_free(hy_tick_bands *bands);

/* Centre of a band as a fraction of the filter rate. */
double hy_tick_band_centre(size_t band);

/* What holding a level for a whole filter cycle does to a band's power (sin x / x, squared): a recording has it, the bare levels
 * have not. */
double hy_tick_band_hold(size_t band);

/* The frame centred on sample `centre` of `sound`; what lies outside [0, count) is silence. */
void hy_tick_bands_frame(hy_tick_bands *bands, const float *sound, size_t count, long centre, hy_tick_frame *frame);

#endif
