#include "points.h"

#include <stdlib.h>

static int grow(double **array, size_t room)
{
    double *moved = realloc(*array, room * sizeof *moved);
    *array = moved != NULL ? moved : *array;
    return moved != NULL;
}

void hy_points_add(hy_points *p, double at, double value)
{
    if (p->count == p->room) {
        const size_t room = p->room > 0 ? 2 * p->room : 256;
        if (!grow(&p->at, room) || !grow(&p->value, room)) {
            p->failed = 1;
            return;
        }
        p->room = room;
    }
    p->at[p->count] = at;
    p->value[p->count++] = value;
}

void hy_points_free(hy_points *p)
{
    free(p->at);
    free(p->value);
    *p = (hy_points){0};
}
