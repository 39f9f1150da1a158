/* Clock edges on host time, against arithmetic that does not round. */
#include <criterion/criterion.h>
#include <math.h>

#include "../../core/internal.h"
#include "core_bench.h"

#define PS HYOID_PS_PER_S

/* Frequencies whose seconds would round, each in the same direction, if they were multiplied out every time. */
static const double awkward[] = {720153.0938595867, 713337.1, 650000.1, 999999.9, 1.1, 1302083.3333333333};

Test(clock, whole_seconds_of_a_steady_clock_add_up_exactly)
{
    for (size_t k = 0; k < sizeof awkward / sizeof awkward[0]; k++) {
        hyoid_clock clock;
        hyoid_clock_init(&clock, awkward[k]);
        /* whole cycles and a fraction in 2^-52, both exact */
        const uint64_t whole = (uint64_t)awkward[k];
        const uint64_t part = (uint64_t)((awkward[k] - (double)whole) * 0x1p52);
        uint64_t cycles = 0, fraction = 0;
        for (int second = 1; second <= 1000000; second++) {
            hyoid_clock_next_piece(&clock);
            fraction += part;
            cycles += whole + (fraction >> 52);
            fraction &= (UINT64_C(1) << 52) - 1;
            cr_assert_eq(clock.start, second * PS);
        }
        cr_assert_eq(clock.start_cycle, cycles, "%.17g Hz", awkward[k]);
        cr_assert_eq(clock.start_phase, (double)fraction * 0x1p-52, "%.17g Hz", awkward[k]);
    }
}

/* Cycles of a glide from 0 to t, in the closed form; long double carries 64 bits. */
static long double glide_cycles(double from, double to, int64_t length, long double t)
{
    return from * t + ((long double)to - from) * t * t / (2.0L * (long double)length * 1e-12L);
}

Test(clock, edges_under_a_glide_stand_where_the_integral_is_whole)
{
    static const struct {
        double from, to;
        int64_t length;
    } glides[] = {
        {720000.0, 300000.0, 3 * PS}, {200000.0, 2e6, 7 * PS / 3}, {720153.09, 0.0, 1800 * PS}, {0.0, 1e6, 60 * PS}};
    for (size_t k = 0; k < sizeof glides / sizeof glides[0]; k++) {
        hyoid_clock clock;
        hyoid_clock_init(&clock, glides[k].from);
        hyoid_clock_glide(&clock, 0, glides[k].length, glides[k].to);
        long double worst = 0.0L;
        while (clock.start < glides[k].length) {
            uint64_t last = hyoid_clock_edges_before(&clock, clock.end);
            for (uint64_t cycle = clock.start_cycle + 1; cycle <= last; cycle += 997) {
                long double at = ((long double)clock.start + (long double)hyoid_clock_edge(&clock, cycle)) * 1e-12L;
                long double slope = ((long double)glides[k].to - glides[k].from) / (glides[k].length * 1e-12L);
                long double hz = glides[k].from + slope * at;
                long double off =
                    hz > 1000.0L ? (glide_cycles(glides[k].from, glides[k].to, glides[k].length, at) - cycle) / hz
                                 : 0.0L;
                worst = fabsl(off) > worst ? fabsl(off) : worst;
            }
            hyoid_clock_next_piece(&clock);
        }
        /* docs/exactness.md: a few picoseconds after half an hour of gliding */
        cr_assert_leq((double)worst * 1e12, glides[k].length > 100 * PS ? 5.0 : 0.1, "glide %zu: %Lg ps", k,
                      worst * 1e12L);
    }
}

Test(clock, the_own_square_root_is_within_one_unit_in_the_last_place)
{
    uint64_t seed = 1;
    size_t exact = 0;
    const size_t count = 2000000;
    for (size_t i = 0; i < count; i++) {
        double x = ldexp(1.0 + bench_random(&seed) * 0x1p-32 + bench_random(&seed) * 0x1p-64,
                         (int)(bench_random(&seed) % 110) - 50);
        double root = hyoid_clock_root(x), wanted = sqrt(x);
        exact += root == wanted;
        cr_assert(root >= nextafter(wanted, 0.0) && root <= nextafter(wanted, INFINITY), "%a: %a for %a", x, root,
                  wanted);
    }
    cr_log_info("%zu of %zu are correctly rounded", exact, count);
    cr_assert_eq(hyoid_clock_root(0.0), 0.0);
    cr_assert_eq(hyoid_clock_root(-1.0), 0.0);
    cr_assert_eq(hyoid_clock_root(1e12), 1e6);
}

Test(clock, an_edge_on_a_boundary_of_pieces_is_run_once)
{
    bench *b = bench_new();
    hyoid_stream *stream = malloc(sizeof *stream);
    cr_assert_eq(hyoid_stream_init(stream, &b->part, 0, NULL), HYOID_OK);
    hyoid_stream_run(stream, PS); /* edge 720000 falls exactly on the second */
    cr_assert_eq(stream->chip.cycle, 719999);
    hyoid_stream_run(stream, PS + 1);
    cr_assert_eq(stream->chip.cycle, 720000);
    hyoid_stream_run(stream, 10 * PS + 1);
    cr_assert_eq(stream->chip.cycle, 7200000);
    free(stream), free(b);
}
