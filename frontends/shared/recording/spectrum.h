/* Power spectra of short pieces of sound, and the bands in which sounds are compared. */
#ifndef HY_SPECTRUM_H
#define HY_SPECTRUM_H

#include <stddef.h>

#include "diag.h"

/* A Hann window and its transform. Power is a density, per Hz: its integral over frequency is the mean square. */
typedef struct hy_stft hy_stft;

/* window: samples, fft: a power of two, at least the window. Null if memory is out. */
hy_stft *hy_stft_new(int window, int fft);
void hy_stft_free(hy_stft *stft);
int hy_stft_bins(const hy_stft *stft); /* fft / 2 + 1 */

/* The power around sample `centre` of x[0..count); beyond both ends there is silence. power[bins]. */
void hy_stft_power(hy_stft *stft, const float *x, size_t count, long centre, float *power);

/* Triangular bands, equally wide on the mel scale 2595 lg(1 + f/700), from 100 Hz to 10 kHz: a usual choice that is narrower than a
 * formant and, where it matters, not much narrower than the distance of two harmonics. */
enum { HY_BANDS = 32, HY_BAND_FFT = 1024, HY_BAND_WINDOW = 600 };

typedef struct hy_bands {
    double centre[HY_BANDS]; /* Hz */
    double low[HY_BANDS], high[HY_BANDS];
    int bins;                                /* of the spectrum that they take */
    int first[HY_BANDS], count[HY_BANDS];    /* bins that a band takes */
    float weight[HY_BANDS][HY_BAND_FFT / 2]; /* sum 1 */
} hy_bands;

/* For spectra of `fft` points at the analysis rate, at most HY_BAND_FFT. */
void hy_bands_make(hy_bands *bands, int fft);
/* Mean density in each band. */
void hy_bands_take(const hy_bands *bands, const float *power, float *energy);

/* Band energies of a whole signal: frame i is centred on sample i * hop. */
typedef struct hy_frames {
    float *energy; /* count * HY_BANDS, density per Hz; owned */
    size_t count;
    int hop; /* samples */
} hy_frames;

int hy_frames_make(hy_frames *frames, const float *x, size_t count, int hop, hy_diag *diag);
void hy_frames_free(hy_frames *frames);

/* The value that the share `part` (0..1) of values lies below. Reorders them. 0 if count is 0. */
double hy_quantile(double *values, size_t count, double part);

#endif
