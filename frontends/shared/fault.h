/* A fault of the model's chip, as the user names it. */
#ifndef HY_FAULT_H
#define HY_FAULT_H

#include <hyoid/hyoid.h>

#include "diag.h"

typedef struct hy_fault {
    int given;
    hyoid_fault fault;
    double strength; /* above 0, at most 1 */
} hy_fault;

/* NAME or NAME:STRENGTH, a graded fault's, such as hum:0.3. What is no name is refused with the nearest ones, or with all. 0, or
 * -1. */
int hy_fault_read(const char *text, hy_fault *fault, hy_diag *diag);

/* "no-noise", "hum at 0.3" */
typedef struct hy_fault_text {
    char text[64];
} hy_fault_text;
hy_fault_text hy_fault_say(const hy_fault *fault);

/* Puts it into a stream's chip: a hy_performance's or a host's prepare; user is the hy_fault. */
void hy_fault_prepare(void *user, hyoid_stream *stream);

#endif
