/* The clocks of a sweep: a range, a table of a board's clock circuit, or what an RC oscillator may give. */
#ifndef HY_SWEEP_CLOCKS_H
#define HY_SWEEP_CLOCKS_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

/* Slower clocks are listed but not played: a second of speech would last more than ten minutes. */
#define HY_SWEEP_SLOWEST_HZ 1000.0
enum { HY_SWEEP_STEPS_MAX = 4096 };

typedef struct hy_sweep_clock {
    char label[24];
    double hz;
} hy_sweep_clock;

typedef struct hy_sweep_clocks {
    hy_sweep_clock *clock; /* owned */
    size_t count;
} hy_sweep_clocks;

void hy_clocks_free(hy_sweep_clocks *clocks);

/* `text` is A..B; the steps have equal ratios, or equal differences if `linear`. 0, or -1. */
int hy_clocks_range(hy_sweep_clocks *clocks, const char *text, int steps, int linear, hy_diag *diag);

/* A CSV file with the header `code,hz`: a row for each code of the board's clock circuit, 0..65535. steps > 0: so many rows,
 * spread evenly from the first to the last. 0, or -1. */
int hy_clocks_dac(hy_sweep_clocks *clocks, const char *path, int steps, hy_diag *diag);

/* An oscillator with a resistor and a capacitor: clock = k / (R C). Spreads are shares, either way, evenly likely. */
typedef struct hy_rc {
    double ohm, farad;
    double ohm_spread, farad_spread;
    double k, k_spread;
    char k_known[16], k_spread_known[16]; /* confidence; "given" if the user gave them */
    int draws;
    uint64_t seed;
} hy_rc;

/* k and its spread from reference/board/clock.csv, compiled in. 0, or -1. */
int hy_rc_defaults(hy_rc *rc, hy_diag *diag);
/* `text` is R,C,TOL or R,C,TOL of R,TOL of C: 6.8k or 6k8, 150p, 5 or 5%. 0, or -1. */
int hy_rc_read(hy_rc *rc, const char *text, hy_diag *diag);
/* `text` is K or K,TOL. 0, or -1. */
int hy_rc_read_constant(hy_rc *rc, const char *text, hy_diag *diag);
/* Draws that many boards (SplitMix64 from the seed) and gives the least, 5 %, median, 95 % and largest clock, so labelled. */
int hy_clocks_rc(hy_sweep_clocks *clocks, const hy_rc *rc, hy_diag *diag);

#endif
