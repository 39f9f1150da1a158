/* Values over time, as many as come. */
#ifndef HY_POINTS_H
#define HY_POINTS_H

#include <stddef.h>

typedef struct hy_points {
    double *at, *value;
    size_t count, room;
    int failed; /* memory was out: points are missing */
} hy_points;

/* Adds one behind the others, or says `failed`. All zero is an empty list. */
void hy_points_add(hy_points *points, double at, double value);
void hy_points_free(hy_points *points);

#endif
