/* A picture of a rendering: spectrogram with phoneme names, clock curve and request line on one time axis (PNG; cairo, FFTW).
 * Memory does not grow with length: the spectrogram has a fixed number of columns. */
#ifndef HY_PICTURE_H
#define HY_PICTURE_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

typedef struct hy_picture hy_picture;

/* duration_ps: the whole rendering's length, known beforehand. title: one line at the top; note: one at the bottom,
 * or empty. */
hy_picture *hy_picture_open(const char *path, uint32_t rate, int64_t duration_ps, const char *title, const char *note,
                            hy_diag *diag);
void hy_picture_frames(hy_picture *picture, const float *frames, size_t count);
void hy_picture_latch(hy_picture *picture, int64_t ps, unsigned code);
void hy_picture_request(hy_picture *picture, int64_t ps, int level);
/* The clock is from_hz at from_ps and moves linearly to to_hz at to_ps. */
void hy_picture_clock(hy_picture *picture, int64_t from_ps, double from_hz, int64_t to_ps, double to_hz);
void hy_picture_mark(hy_picture *picture, int64_t ps, const char *name);
int hy_picture_finish(hy_picture *picture, hy_diag *diag);
int hy_picture_commit(hy_picture *picture, hy_diag *diag);
void hy_picture_abandon(hy_picture *picture);

#endif
