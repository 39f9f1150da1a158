#include "centre.h"

#include <math.h>
#include <stdlib.h>

#define PITCHES_LEAST 8     /* fewer say nothing */
#define PITCH_WITHIN 0.02   /* ratio: a pitch agrees with a clock */
#define SHARE_CONFIRMS 0.3  /* of pitches, for a clock that tempo found: levels of inflection may be wrong */
#define SHARE_TELLS 0.5     /* of pitches, that agree with each other: without tempo */
#define LIKENESS_LEAST 0.4  /* of envelopes: below it tempo says nothing */
#define LIKENESS_SURE 0.6   /* one wrong code input leaves the healthy chip less */
#define LIKENESS_AHEAD 0.05 /* of a clock far off before one near the stated one */

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* Recorded pitch against the reference's, where both are voiced, in ascending order. */
static double *pitch_ratios(const hy_fit *fit, const hy_heard *heard, const hy_reference *r, size_t *count)
{
    double *ratio = malloc((r->segments + 1) * sizeof *ratio);
    *count = 0;
    for (size_t i = 0; ratio != NULL && i < r->segments; i++) {
        const hy_segment *at = &r->segment[i];
        double from = hy_fit_time(fit, at), length = hy_fit_time(fit, at + 1) - from;
        double hz = at->f0 > 0.0f ? hy_fit_pitch(heard, from + 0.6 * length) : 0.0;
        if (hz > 0.0) {
            ratio[(*count)++] = hz / (double)at->f0;
        }
    }
    if (ratio != NULL) {
        qsort(ratio, *count, sizeof *ratio, by_value);
    }
    return ratio;
}

static double share_near(const double *ratio, size_t count, double clock)
{
    size_t near = 0;
    for (size_t i = 0; i < count; i++) {
        near += fabs(ratio[i] / clock - 1.0) < PITCH_WITHIN;
    }
    return count > 0 ? (double)near / (double)count : 0.0;
}

/* The middle of what most of them agree on, and how many do. */
static double commonest(const double *ratio, size_t count, double *share)
{
    double found = 1.0;
    size_t most = 0;
    for (size_t first = 0, last = 0; first < count; first++) {
        while (last < count && ratio[last] <= ratio[first] * (1.0 + 2.0 * PITCH_WITHIN)) {
            last++;
        }
        if (last - first > most) {
            most = last - first;
            found = ratio[first + most / 2];
        }
    }
    *share = count > 0 ? (double)most / (double)count : 0.0;
    return found;
}

static void weigh(hy_centre *centre, const hy_fit *near, const hy_fit *far, const double *ratio, size_t count,
                  int tempo_tells)
{
    double share, pitch = commonest(ratio, count, &share);
    centre->likeness = near->likeness;
    if (!tempo_tells) {
        if (count >= PITCHES_LEAST && share >= SHARE_TELLS && pitch >= HY_CENTRE_LOW && pitch <= HY_CENTRE_HIGH) {
            centre->scale = pitch;
            centre->doubtful = 1;
        }
        return;
    }
    const int ahead = far->likeness >= LIKENESS_LEAST && far->likeness > near->likeness + LIKENESS_AHEAD;
    const int agreed = count < PITCHES_LEAST || share_near(ratio, count, far->clock) >= SHARE_CONFIRMS;
    if (agreed && (ahead || fabs(far->clock - 1.0) <= HY_CLOCK_REACH)) {
        centre->scale = far->clock;
        centre->likeness = far->likeness;
        centre->sure = far->likeness >= LIKENESS_SURE;
    }
}

int hy_centre_find(hy_centre *centre, const hy_heard *heard, const hy_reference *r, hy_diag *diag)
{
    const int tempo_tells = hy_fit_tempo_tells(r);
    hy_fit near, far;
    *centre = (hy_centre){.scale = 1.0, .likeness = -1.0};
    if (hy_fit_scan(&near, heard, r, 1.0 - HY_CLOCK_REACH, 1.0 + HY_CLOCK_REACH, diag) != 0) {
        return -1;
    }
    far = near;
    if (tempo_tells && hy_fit_scan(&far, heard, r, HY_CENTRE_LOW, HY_CENTRE_HIGH, diag) != 0) {
        return -1;
    }
    size_t count;
    double *ratio = pitch_ratios(&far, heard, r, &count);
    if (ratio == NULL) {
        return hy_fail(diag, "memory is short for the clock");
    }
    weigh(centre, &near, &far, ratio, count, tempo_tells);
    free(ratio);
    return 0;
}
