/* Host-rate output: the chip's staircase, band-limited and sampled at the host's rate.
 *
 * The staircase is a sum of steps. A band-limited step is the running integral of a low-pass kernel; it differs from
 * a sharp step only within HYOID_TAPS / 2 host samples on either side. So each step adds that difference, taken at
 * its exact sub-sample time, to the bins around it, and a bin that no later step can reach gets the level that the
 * staircase holds there. Nothing is integrated over time: nothing drifts.
 *
 * The difference is tabulated by reference/kernel/make_kernel.c as a cubic per sixteenth of a sample and tap. Times
 * are reckoned in double; single precision is enough for the differences, because each stays in its bin for one
 * sample only: the rounding lies below -140 dB of the signal (tests/outside/circuit measures it) and halves the
 * work. */
#include <string.h>

#include "internal.h"

#define PARTS 16 /* pieces of a host sample */
#define TAPS HYOID_TAPS
#define HALF (HYOID_TAPS / 2)
#define BINS (HYOID_BLOCK + 2 * HYOID_TAPS)
#define MOST (HYOID_BLOCK + HYOID_TAPS) /* frames in one call of the observer: promised */

static const float kernel[PARTS][4][TAPS] = {
#include "output_kernel.inc"
};

void hyoid_output_init(hyoid_output *output, uint32_t rate)
{
    memset(output, 0, sizeof *output);
    output->rate = rate;
    output->first = 1 - HALF;
    output->filled = output->first;
}

/* Host samples before `end` that no step has crossed yet stand at the present level. */
static void fill(hyoid_output *output, int64_t end)
{
    const float level = (float)output->level;
    for (; output->filled < end; output->filled++) {
        output->held[output->filled - output->first] = level;
    }
}

static void shift(float *bins, size_t count)
{
    memmove(bins, bins + count, (BINS - count) * sizeof bins[0]);
    memset(bins + (BINS - count), 0, count * sizeof bins[0]);
}

/* Hands out the bins before host sample `end`, which must be final. */
static void emit(hyoid_output *output, int64_t end, const hyoid_observer *to)
{
    while (output->first < end) {
        float frames[MOST];
        const int64_t first = output->first;
        const size_t count = end - first < MOST ? (size_t)(end - first) : MOST;
        fill(output, first + (int64_t)count);
        for (size_t i = 0; i < count; i++) {
            frames[i] = output->held[i] + output->bin[i];
        }
        shift(output->held, count);
        shift(output->bin, count);
        output->first = first + (int64_t)count;
        size_t early = first < 0 ? (size_t)-first : 0; /* before time 0 */
        if (to->frames != NULL && early < count) {
            to->frames(to->user, frames + early, count - early);
        }
    }
}

/* The kernel at fraction f of a part. */
static void evaluate(float *restrict out, const float (*restrict c)[TAPS], float f)
{
    for (int k = 0; k < TAPS; k++) {
        out[k] = ((c[3][k] * f + c[2][k]) * f + c[1][k]) * f + c[0][k];
    }
}

void hyoid_output_kernel(uint32_t fraction, float *values)
{
    evaluate(values, kernel[fraction >> 28], (float)((fraction & 0x0fffffffu) * 0x1p-28));
}

static void add(float *restrict bin, const float *restrict values, float delta)
{
    for (int k = 0; k < TAPS; k++) {
        bin[k] += delta * values[k];
    }
}

static bool listed(const uint32_t *list, uint32_t count, uint32_t wanted, uint32_t *at)
{
    uint32_t have = count < HYOID_KEPT ? count : HYOID_KEPT;
    for (uint32_t i = 0; i < have; i++) {
        if (list[i] == wanted) {
            *at = i;
            return true;
        }
    }
    return false;
}

/* Finds or works out the kernel for a fraction of a host sample in 2^-32. It is kept when the same fraction was met
 * twice within a few steps: at a clock whose fractions never come back, keeping each would only cost time. */
static const float *kernel_for(hyoid_output *output, uint32_t fraction, float *scratch)
{
    uint32_t at;
    if (listed(output->kept, output->kept_count, fraction, &at)) {
        return output->kept_kernel[at];
    }
    float *place = scratch;
    if (listed(output->seen, output->seen_count, fraction, &at)) {
        at = output->kept_count++ % HYOID_KEPT;
        output->kept[at] = fraction;
        place = output->kept_kernel[at];
    } else {
        output->seen[output->seen_count++ % HYOID_KEPT] = fraction;
    }
    hyoid_output_kernel(fraction, place);
    return place;
}

void hyoid_output_step(hyoid_output *output, int64_t second, double ps, double value, const hyoid_observer *to)
{
    if (value == output->level) {
        return;
    }
    /* 2^-32 of a sample is 190 dB below the signal, and makes the places of a steady clock repeat exactly */
    uint64_t place = (uint64_t)(ps * ((double)output->rate * 1e-12) * 0x1p32 + 0.5);
    int64_t index = second * (int64_t)output->rate + (int64_t)(place >> 32);
    uint32_t fraction = (uint32_t)place;

    if (index < output->first - 1 + HALF) { /* rounding put it a hair before what was handed out */
        index = output->first - 1 + HALF;
        fraction = 0;
    }
    if (index + HALF >= output->first + BINS) {
        emit(output, index + 1 - HALF, to);
    }
    fill(output, index + 1);
    float scratch[TAPS];
    add(output->bin + (index + 1 - HALF - output->first), kernel_for(output, fraction, scratch),
        (float)(value - output->level));
    output->level = value;
}

int64_t hyoid_output_final(uint32_t rate, int64_t ps)
{
    int64_t second = ps / HYOID_PS_PER_S;
    uint64_t rest = (uint64_t)(ps % HYOID_PS_PER_S) * rate / (uint64_t)HYOID_PS_PER_S;
    return second * (int64_t)rate + (int64_t)rest + 1 - HALF;
}

void hyoid_output_run(hyoid_output *output, int64_t ps, const hyoid_observer *to)
{
    emit(output, hyoid_output_final(output->rate, ps), to);
}
