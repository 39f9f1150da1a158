/* What a sweep was asked for, and its outputs: all appear, or none does. */
#ifndef HY_SWEEP_OUTPUTS_H
#define HY_SWEEP_OUTPUTS_H

#include "table.h"

typedef struct hy_sweep_request {
    const char *input, *clock, *dac, *rc, *rc_constant, *phoneme, *part, *map;
    const char *output, *csv, *json, *picture, *report, *item, *date;
    char *command; /* for the report; owned */
    int steps, linear, draws, draws_given, level, bits;
    uint64_t seed;
    double gap_ms;
    int64_t tail_ps;
    uint32_t rate;
} hy_sweep_request;

/* The table's steps have their figures; those that an output needs the sound of are played again. 0, or -1. */
int hy_sweep_write(const hy_sweep_request *request, const hy_sweep_table *table, const hy_sweep_clocks *clocks,
                   hy_diag *diag);

#endif
