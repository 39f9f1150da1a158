/* From recordings and captures to a part and what is said of it. */
#ifndef HY_CALIBRATE_RUN_H
#define HY_CALIBRATE_RUN_H

#include "calibration.h"
#include "diag.h"

typedef struct hy_calibrate_request {
    const char *recordings[HY_TAKES_MAX];
    size_t count;              /* of recordings; 0: a capture alone */
    const char *input;         /* null if there are no recordings */
    const char *output;        /* the new folder */
    const char *capture, *map; /* may be null, as all below */
    const char *part;          /* the prior; null: built-in */
    const char *date, *json, *report;
    double clock_hz, measured_hz; /* Hz; 0: not given */
    int level;                    /* -1: not given */
    int coloured, resume;
    int threads; /* 0: all processors */
    int argc;    /* the command, for the report */
    char **argv;
    char unfinished[4096]; /* where the part so far is kept */
} hy_calibrate_request;

/* Does it all; files and folders appear only if all of them can. 0, or -1. */
int hy_calibrate_run(const hy_calibrate_request *request, hy_diag *diag);

#endif
