/* Inside the report: the page under way and how text gets into it. */
#ifndef HY_REPORT_PRIVATE_H
#define HY_REPORT_PRIVATE_H

#include <stdio.h>

#include "outfile.h"
#include "report.h"

enum { HY_REPORT_COLUMNS = 16 };

struct hy_report {
    hy_outfile *file;
    FILE *out;
    int section;  /* one is open */
    int table;    /* one is open */
    int cautions; /* they stand there */
    unsigned pictures;
    size_t columns;
    char *heading[HY_REPORT_COLUMNS]; /* of the table that is open: a narrow screen repeats them in each cell */
    int number[HY_REPORT_COLUMNS];
};

extern const char *const hy_report_style[]; /* the style sheet, line by line; null ends it */

/* Text, escaped for elements and for attributes alike. Null is empty. */
void hy_report_put(FILE *out, const char *text);

/* What a verdict's elements are called in the style sheet. */
const char *hy_report_class(hy_verdict verdict);

/* Decimals that show differences of `resolution`, 0..9. */
int hy_report_decimals(double resolution);

/* Ends a table that is open. */
void hy_report_close_table(hy_report *report);

#endif
