/* From recordings and captures to a part and what is said of it. */
#ifndef HY_CALIBRATE_RUN_H
#define HY_CALIBRATE_RUN_H

#include "calibration.h"
#include "diag.h"

typedef struct hy_calibrate_request {
    const char *recordings[HY_TAKES_MAX];
    size_t count;                 /* of recordings; 0: a capture alone. All text is the caller's */
    const char *input;            /* null if there are no recordings */
    const char *output;           /* the new folder */
    const char *capture, *map;    /* may be null, as all below */
    const char *part;             /* the prior; null: built-in */
    const char *date;             /* of the recordings, as the user says it */
    const char *json, *report;    /* output files; "-": standard output */
    double clock_hz, measured_hz; /* Hz; 0: not given */
    int level;                    /* 0..3 for an input that says none; -1: not given */
    int coloured;                 /* the recorder has a response of its own, which is found along */
    int resume;                   /* from the part in `unfinished` */
    int threads;                  /* 0: all processors */
    int argc;                     /* the command, for the report */
    char **argv;
    char unfinished[4096]; /* where the part so far is kept */
} hy_calibrate_request;

/* Does it all, and says a summary on standard output unless a page or JSON goes there. Files are complete before any takes its place,
 * the folder's last. 0, or -1 with the diagnosis. */
int hy_calibrate_run(const hy_calibrate_request *request, hy_diag *diag);

#endif
