/* Other sample rates. */
#include <math.h>
#include <samplerate.h>
#include <stdlib.h>
#include <string.h>

#include "recording.h"

float *hy_resample(const float *in, size_t count, double ratio, size_t *out_count, hy_diag *diag)
{
    size_t room = (size_t)((double)count * ratio + 64.0);
    float *out = malloc(room * sizeof *out);
    if (out == NULL) {
        hy_fail(diag, "memory is out");
        return NULL;
    }
    SRC_DATA data = {
        .data_in = in, .data_out = out, .input_frames = (long)count, .output_frames = (long)room, .src_ratio = ratio};
    int error = ratio == 1.0 ? 0 : src_simple(&data, SRC_SINC_MEDIUM_QUALITY, 1);
    if (error != 0) {
        hy_fail(diag, "cannot resample: %s", src_strerror(error));
        free(out);
        return NULL;
    }
    if (ratio == 1.0) {
        memcpy(out, in, count * sizeof *out);
        data.output_frames_gen = (long)count;
    }
    *out_count = (size_t)data.output_frames_gen;
    return out;
}

enum { DECIMATE_MOST = 16, HALF_LOBES = 5 };

float *hy_decimate(const float *in, size_t count, int factor, size_t *out_count, hy_diag *diag)
{
    const double pi = 3.14159265358979323846;
    float tap[2 * HALF_LOBES * DECIMATE_MOST + 1];
    const long half = (long)HALF_LOBES * factor;
    double sum = 0;
    for (long k = -half; k <= half; k++) {
        double x = 0.9 * (double)k / factor;
        double w = 0.5 + 0.5 * cos(pi * (double)k / (double)(half + 1));
        double v = w * (k == 0 ? 1.0 : sin(pi * x) / (pi * x));
        tap[k + half] = (float)v;
        sum += v;
    }
    *out_count = count / (size_t)factor + 1;
    float *out = malloc(*out_count * sizeof *out);
    if (out == NULL) {
        hy_fail(diag, "memory is out");
        return NULL;
    }
    for (size_t i = 0; i < *out_count; i++) {
        long middle = (long)i * factor, from = middle - half, to = middle + half;
        from = from < 0 ? 0 : from;
        to = to < (long)count ? to : (long)count - 1;
        float s = 0;
        for (long k = from; k <= to; k++) {
            s += tap[k - middle + half] * in[k];
        }
        out[i] = s / (float)sum;
    }
    return out;
}
