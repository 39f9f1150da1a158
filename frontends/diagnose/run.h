/* From a recording and an input to a diagnosis and its outputs. */
#ifndef HY_DIAGNOSE_RUN_H
#define HY_DIAGNOSE_RUN_H

#include "diag.h"
#include "rank.h"

typedef struct hy_diagnose_request {
    const char *recording, *input, *part, *map; /* part and map may be null */
    const char *json, *report, *item, *date;    /* may be null */
    double clock_hz;                            /* below 0: the part's nominal one */
    double gain_db;                             /* of the recording against the pin, if gain_known */
    int gain_known, channel, quiet;             /* channel 0: the loudest */
    int level;                                  /* below 0: HY_LEVEL_DEFAULT */
    char *command;                              /* for the report; may be null */
} hy_diagnose_request;

/* Reads, renders, ranks, and writes what was asked for. 0, or -1 with nothing written. */
int hy_diagnose_run(const hy_diagnose_request *request, hy_finding *finding, hy_diag *diag);

#endif
