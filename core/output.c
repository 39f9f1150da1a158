/* Host-rate output: the chip's staircase, band-limited and sampled at the host's rate.
 *
 * The staircase is a sum of steps. A band-limited step is the running integral of a low-pass kernel; it
 * differs from a sharp step only within HYOID_TAPS / 2 host samples on either side. So each step adds that
 * difference, taken at its exact sub-sample time, to the bins around it, and a bin that no later step can
 * reach gets the level that the staircase holds there. Nothing is integrated over time: nothing drifts.
 *
 * The difference is tabulated by reference/kernel/make_kernel.c as a cubic per sixteenth of a sample and tap. */
#include <string.h>

#include "internal.h"

#define PARTS 16 /* pieces of a host sample */
#define TAPS HYOID_TAPS
#define HALF (HYOID_TAPS / 2)
#define BINS (HYOID_BLOCK + 2 * HYOID_TAPS)

static const double kernel[PARTS][4][TAPS] = {
#include "output_kernel.inc"
};

void hyoid_output_init(hyoid_output *output, uint32_t rate)
{
    memset(output, 0, sizeof *output);
    output->rate = rate;
    output->first = 1 - HALF;
    output->filled = output->first;
}

/* Hands out the bins before host sample `end`, which must be final. */
static void emit(hyoid_output *output, int64_t end, const hyoid_observer *to)
{
    while (output->first < end) {
        float frames[BINS];
        size_t count = end - output->first < BINS ? (size_t)(end - output->first) : BINS;
        int64_t first = output->first;
        for (size_t i = 0; i < count; i++) {
            double held = first + (int64_t)i >= output->filled ? output->level : 0.0;
            frames[i] = (float)(output->bin[i] + held);
        }
        memmove(output->bin, output->bin + count, (BINS - count) * sizeof output->bin[0]);
        memset(output->bin + (BINS - count), 0, count * sizeof output->bin[0]);
        output->first = first + (int64_t)count;
        if (output->filled < output->first) {
            output->filled = output->first;
        }
        size_t early = first < 0 ? (size_t)-first : 0; /* before time 0 */
        if (to->frames != NULL && early < count) {
            to->frames(to->user, frames + early, count - early);
        }
    }
}

/* Adds `delta` times the kernel at fraction f of part p to TAPS bins. */
static void add(double *restrict bin, const double (*restrict c)[TAPS], double f, double delta)
{
    for (int k = 0; k < TAPS; k++) {
        bin[k] += delta * (((c[3][k] * f + c[2][k]) * f + c[1][k]) * f + c[0][k]);
    }
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
    for (; output->filled <= index; output->filled++) {
        output->bin[output->filled - output->first] += output->level;
    }
    add(output->bin + (index + 1 - HALF - output->first), kernel[fraction >> 28], (fraction & 0x0fffffffu) * 0x1p-28,
        value - output->level);
    output->level = value;
}

void hyoid_output_run(hyoid_output *output, int64_t ps, const hyoid_observer *to)
{
    int64_t second = ps / HYOID_PS_PER_S;
    uint64_t rest = (uint64_t)(ps % HYOID_PS_PER_S) * output->rate / (uint64_t)HYOID_PS_PER_S;
    emit(output, second * (int64_t)output->rate + (int64_t)rest + 1 - HALF, to);
}
