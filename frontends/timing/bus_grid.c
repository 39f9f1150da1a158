/* A dump that a logic analyser's program wrote has finer time stamps than its samples. Whether all edges lie on the grid of a
 * sample rate in common use (practice) shows that, and to how much a time is known. */
#include <math.h>

#include "bus.h"

static const double rates[] = {10e3, 20e3, 25e3, 50e3, 100e3, 200e3, 250e3,  500e3, 1e6,   2e6,  2.5e6, 3e6,
                               4e6,  5e6,  6e6,  8e6,  10e6,  12e6,  12.5e6, 16e6,  20e6,  24e6, 25e6,  32e6,
                               40e6, 48e6, 50e6, 80e6, 100e6, 125e6, 200e6,  250e6, 400e6, 500e6};
enum { RATES = sizeof rates / sizeof rates[0], ENOUGH = 16, LOOKED_AT = 20000 };

void hy_grid_add(hy_bus_grid *grid, int64_t ps, int64_t step)
{
    if (grid->edges >= LOOKED_AT) {
        return;
    }
    if (grid->edges++ == 0) {
        grid->first = ps;
        grid->open = 0;
        for (unsigned i = 0; i < RATES; i++) {
            grid->open |=
                1e12 / rates[i] >= 16.0 * (double)step ? UINT64_C(1) << i : 0; /* finer ones can't be told */
        }
        return;
    }
    for (unsigned i = 0; i < RATES; i++) {
        if ((grid->open >> i & 1) != 0) {
            double off = fmod((double)(ps - grid->first), 1e12 / rates[i]);
            off = off > 0.5e12 / rates[i] ? 1e12 / rates[i] - off : off;
            grid->open &= off > (double)step + 1.0 ? ~(UINT64_C(1) << i) : ~UINT64_C(0);
        }
    }
}

double hy_grid_period(const hy_bus_grid *grid)
{
    for (unsigned i = 0; i < RATES && grid->edges >= ENOUGH; i++) { /* the coarsest that fits */
        if ((grid->open >> i & 1) != 0) {
            return 1e12 / rates[i];
        }
    }
    return 0.0;
}

double hy_grid_rate_for(double hz)
{
    for (unsigned i = 0; i < RATES; i++) {
        if (rates[i] >= hz * (1.0 - 1e-9)) {
            return rates[i];
        }
    }
    return hz;
}
