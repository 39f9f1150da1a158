/* All outputs of one performance: sound, pins, labels, picture and the log itself, whichever way in it came. */
#ifndef HY_OUTPUTS_H
#define HY_OUTPUTS_H

#include <hyoid/hyoid.h>

#include "diag.h"
#include "fault.h"
#include "input.h"

typedef struct hy_render_options {
    /* destinations; null: not wanted; "-" is standard output */
    const char *sound, *pins, *log, *labels, *picture;
    uint32_t rate;
    int bits, dither, chip_rate, no_images;
    int logic; /* of the pins only what a logic analyser has channels for */
    int64_t tail_ps;
    hy_fault fault; /* of the chip that performs */
} hy_render_options;

typedef struct hy_render_summary {
    int64_t duration_ps;
    uint64_t phonemes, frames, clipped;
    uint32_t rate; /* of the sound file */
    float peak;
    int clock_moved;
    double least_hz, most_hz;
} hy_render_summary;

/* Performs the input into all wanted outputs. All are complete on the disk before the first takes its place, so that
 * whatever fails, fails with none in place; only a rename that the system refuses at the very end could leave some.
 * 0, or -1. */
int hy_render(const hy_input *input, const hyoid_part *part, const hy_render_options *options,
              hy_render_summary *summary, hy_diag *diag);

/* One line (two if something needs saying) on standard error. */
void hy_render_print(const hy_render_summary *summary, const hy_render_options *options, const char *part);

#endif
