/* What the blocks of the core tell each other. One filter cycle is the list in ticks() (chip.c), which
 * reads as the block diagram of docs/chip.md. */
#ifndef HYOID_INTERNAL_H
#define HYOID_INTERNAL_H

#include <float.h>
#include <stdbool.h>

#include <hyoid/hyoid.h>

/* The exactness promise rests on these two. */
_Static_assert(
    FLT_EVAL_METHOD == 0,
    "doubles must be evaluated as doubles (32-bit x86: -msse2 -mfpmath=sse; gcc on s390x: -fexcess-precision=fast)");
_Static_assert(sizeof(double) == 8 && DBL_MANT_DIG == 53 && DBL_MAX_EXP == 1024, "double must be IEEE binary64");

/* Filter cycles that are worked through between two looks at sequencer and transitions. */
#define HYOID_RUN 64

/* sequencer.c */
void hyoid_sequencer_power_up(hyoid_chip *chip);
void hyoid_sequencer_restore(hyoid_chip *chip); /* the delays of the phoneme that is latched */
void hyoid_sequencer_latch(hyoid_chip *chip);
void hyoid_sequencer_tick(hyoid_chip *chip, uint64_t cycle);
uint32_t hyoid_sequencer_quiet(const hyoid_chip *chip); /* further ticks that only count */
void hyoid_sequencer_skip(hyoid_chip *chip, uint32_t ticks);

/* transitions.c */
void hyoid_transitions_power_up(hyoid_chip *chip);
void hyoid_transitions_tick(hyoid_chip *chip);
uint32_t hyoid_transitions_quiet(const hyoid_chip *chip);
void hyoid_transitions_skip(hyoid_chip *chip, uint32_t ticks);
void hyoid_transitions_refresh(hyoid_chip *chip); /* all derived values, from the registers */
void hyoid_transitions_refresh_bandwidth(hyoid_chip *chip);
void hyoid_transitions_refresh_noise(hyoid_chip *chip);
void hyoid_transitions_refresh_gate(hyoid_chip *chip);

/* sources.c: `count` filter cycles of voice and scaled noise, 1..HYOID_RUN */
void hyoid_sources(hyoid_chip *chip, uint32_t count, double *voice, double *noise);

/* the same into one lane of a batch: every HYOID_BATCH-th element */
void hyoid_sources_lane(hyoid_chip *chip, uint32_t count, double *voice, double *noise);

/* tract.c: the same cycles through the sections, gate and low-pass, to levels of the audio pin */
void hyoid_tract(hyoid_chip *chip, uint32_t count, const double *voice, const double *noise, double *levels);
void hyoid_tract_lowpass(hyoid_chip *chip, uint32_t count, double *levels);

/* faults.c */
void hyoid_faults_power_up(hyoid_chip *chip);
void hyoid_faults_restore(hyoid_chip *chip, hyoid_tap *tap, void *user); /* all that follows from the stored state */
void hyoid_probed_tick(hyoid_chip *chip, uint64_t cycle, double *level);
uint64_t hyoid_faults_ticks_to_end(const hyoid_chip *chip,
                                   uint64_t counts); /* filter cycles until `counts` more are timed */

/* chip.c */
uint64_t hyoid_chip_next_work(const hyoid_chip *chip);

/* clock.c: edges on the host's time line */
double hyoid_clock_root(double x);
void hyoid_clock_restore(hyoid_clock *clock); /* the piece that starts at clock->start */
void hyoid_clock_init(hyoid_clock *clock, double hz);
void hyoid_clock_set(hyoid_clock *clock, int64_t ps, double hz);
void hyoid_clock_glide(hyoid_clock *clock, int64_t ps, int64_t end_ps, double hz);
void hyoid_clock_next_piece(hyoid_clock *clock);
double hyoid_clock_hz_at(const hyoid_clock *clock, int64_t ps);
uint64_t hyoid_clock_edges_before(const hyoid_clock *clock, int64_t ps);             /* within the piece */
double hyoid_clock_edge(const hyoid_clock *clock, uint64_t cycle);                   /* ps after clock->start */
double hyoid_clock_place(const hyoid_clock *clock, uint64_t cycle, double fraction); /* the same between two edges */

/* output.c */
void hyoid_output_init(hyoid_output *output, uint32_t rate);
void hyoid_output_step(hyoid_output *output, int64_t second, double ps, double value, const hyoid_observer *to);
int64_t hyoid_output_final(uint32_t rate, int64_t ps);      /* the first host sample that a step at ps can touch */
void hyoid_output_kernel(uint32_t fraction, float *values); /* HYOID_TAPS of them; fraction in 2^-32 host samples */
void hyoid_output_run(hyoid_output *output, int64_t ps, const hyoid_observer *to);

/* images.c */
void hyoid_images_level(hyoid_stream *stream, const hyoid_level *level);
void hyoid_images_run(hyoid_stream *stream, int64_t ps);

#endif
