/* What a step of the search can change, to be taken back. */
#include <stdlib.h>
#include <string.h>

#include "fit_private.h"

hy_fit_state *hy_fit_state_new(const hy_fit *f)
{
    hy_fit_state *s = calloc(1, sizeof *s);
    if (s == NULL) {
        return NULL;
    }
    s->takes = f->take_count;
    s->pitch = calloc(s->takes + 1, sizeof *s->pitch);
    s->divider = calloc(s->takes + 1, sizeof *s->divider);
    s->channel = calloc(s->takes + 1, sizeof *s->channel);
    s->deaf = calloc(s->takes + 1, sizeof *s->deaf);
    int failed = s->pitch == NULL || s->divider == NULL || s->channel == NULL || s->deaf == NULL;
    for (size_t t = 0; !failed && t < s->takes; t++) {
        s->pitch[t] = malloc((f->takes[t].items + 1) * sizeof **s->pitch);
        failed = s->pitch[t] == NULL;
    }
    if (failed) {
        hy_fit_state_free(s);
        return NULL;
    }
    return s;
}

void hy_fit_state_free(hy_fit_state *s)
{
    if (s == NULL) {
        return;
    }
    for (size_t t = 0; s->pitch != NULL && t < s->takes; t++) {
        free(s->pitch[t]);
    }
    free(s->pitch);
    free(s->divider);
    free(s->channel);
    free(s->deaf);
    free(s);
}

void hy_fit_state_keep(hy_fit_state *s, const hy_fit *f)
{
    s->part = f->part;
    for (size_t t = 0; t < s->takes; t++) {
        memcpy(s->pitch[t], f->pitch[t], f->takes[t].items * sizeof **s->pitch);
    }
    memcpy(s->divider, f->divider, s->takes * sizeof *s->divider);
    memcpy(s->channel, f->channel, s->takes * sizeof *s->channel);
    memcpy(s->deaf, f->deaf, s->takes * sizeof *s->deaf);
}

void hy_fit_state_restore(const hy_fit_state *s, hy_fit *f)
{
    f->part = s->part;
    for (size_t t = 0; t < s->takes; t++) {
        memcpy(f->pitch[t], s->pitch[t], f->takes[t].items * sizeof **s->pitch);
    }
    memcpy(f->divider, s->divider, s->takes * sizeof *s->divider);
    memcpy(f->channel, s->channel, s->takes * sizeof *s->channel);
    memcpy(f->deaf, s->deaf, s->takes * sizeof *s->deaf);
    for (size_t i = 0; i < f->threads * s->takes; i++) { /* of each thread, by take */
        hy_judge_set_channel(f->judges[i], f->channel[i % s->takes], f->deaf[i % s->takes]);
    }
}
