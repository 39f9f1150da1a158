/* What a calibration found out, for people (text, page) and programs (JSON). */
#ifndef HY_OUTCOME_H
#define HY_OUTCOME_H

#include "calibration.h"
#include "diag.h"
#include "outfile.h"
#include "partfile.h"
#include "report/report.h"

typedef struct hy_outcome {
    hy_calibration *session;
    const char *folder;       /* of the new part */
    const char *part_name;    /* of the prior; null: built-in */
    const hy_partfile *prior; /* what the search began with; borrowed, as all pointers here */
    const hy_partfile *found; /* the new part, as it was written */
    int argc;
    char **argv;
} hy_outcome;

/* What the held-out phonemes did not bear out, loudly: on standard error. */
void hy_outcome_warn(const hy_outcome *outcome);

/* A summary on standard output. */
int hy_outcome_print(const hy_outcome *outcome, hy_diag *diag);
/* JSON (keys: docs/calibrate.md) and page, finished, to be committed or abandoned. Null on error. */
hy_outfile *hy_outcome_json(const hy_outcome *outcome, const char *path, hy_diag *diag);
hy_report *hy_outcome_report(const hy_outcome *outcome, const char *path, hy_diag *diag);

/* For one code: log-spectral distance of its fitted items with the prior and with the part, and how many numbers are measured,
 * kept because the recordings don't tell them, or not searched. */
typedef struct hy_outcome_code {
    size_t items;
    double before_db, after_db; /* negative: not known */
    unsigned measured, kept;
    char kept_names[80]; /* "f3 bw2" */
} hy_outcome_code;
hy_outcome_code hy_outcome_of(const hy_outcome *outcome, unsigned code);

#endif
