/* What the sound looks like: its last seconds as columns of a spectrogram and of a waveform. Control thread. */
#ifndef HY_SCOPE_H
#define HY_SCOPE_H

#include <stddef.h>
#include <stdint.h>

enum {
    HY_SCOPE_COLUMNS = 256, /* of HY_SCOPE_MS each */
    HY_SCOPE_MS = 40,
    HY_SCOPE_BANDS = 48,
    HY_SCOPE_BAND_HZ = 125 /* each: 0 to 6 kHz in all */
};

typedef struct hy_scope hy_scope;

hy_scope *hy_scope_new(uint32_t rate);
void hy_scope_free(hy_scope *scope);
void hy_scope_feed(hy_scope *scope, const float *samples, size_t count);

/* `back` columns before the newest (0). dB of full scale, -120 or less if there was none; a band is HY_SCOPE_BAND_HZ wide. */
float hy_scope_band(const hy_scope *scope, unsigned back, unsigned band);
/* Least and greatest sample. */
void hy_scope_wave(const hy_scope *scope, unsigned back, float *low, float *high);

/* How many columns were finished so far. */
uint64_t hy_scope_count(const hy_scope *scope);

#endif
