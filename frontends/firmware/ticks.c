#include "ticks.h"

#define MILLION UINT64_C(1000000)

int64_t hy_ticks_ps(uint64_t tick, uint32_t mcu_hz, double *fraction)
{
    const uint64_t rate = (uint64_t)mcu_hz * HY_TICKS;
    uint64_t us = tick % rate * MILLION; /* below 1e14: fits */
    uint64_t ps = us % rate * MILLION;
    if (fraction != NULL) {
        *fraction = (double)(ps % rate) / (double)rate;
    }
    return (int64_t)(tick / rate * MILLION * MILLION + us / rate * MILLION + ps / rate);
}

uint64_t hy_ticks_cycle(int64_t ps, uint32_t mcu_hz)
{
    uint64_t seconds = (uint64_t)ps / (MILLION * MILLION), rest = (uint64_t)ps % (MILLION * MILLION);
    uint64_t fine = rest % MILLION * mcu_hz;                    /* in 1e-12 cycles */
    uint64_t coarse = rest / MILLION * mcu_hz + fine / MILLION; /* in 1e-6 cycles */
    uint64_t part = fine % MILLION != 0 || coarse % MILLION != 0;
    return seconds * mcu_hz + coarse / MILLION + part;
}
