/* A sweep in figures: a table for people, CSV and JSON for programs. */
#ifndef HY_SWEEP_TABLE_H
#define HY_SWEEP_TABLE_H

#include <stdio.h>

#include "report/report.h"
#include "step.h"

typedef struct hy_sweep_table {
    const hy_sweep_subject *subject;
    const char *input, *part; /* as given; part is null for the built-in one */
    const hy_rc *rc;          /* or null */
    const hy_sweep_step *steps;
    size_t count;
} hy_sweep_table;

void hy_sweep_print(const hy_sweep_table *table, FILE *out);
void hy_sweep_csv(const hy_sweep_table *table, FILE *out);
/* The table's section of a report. */
void hy_sweep_report(const hy_sweep_table *table, hy_report *report);
int hy_sweep_json(const hy_sweep_table *table, FILE *out, hy_diag *diag);

#endif
