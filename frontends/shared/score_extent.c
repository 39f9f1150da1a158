/* How long a score is once its repeats are expanded: known while it is read, before anything is played. */
#include "score_internal.h"

#define PS_PER_MS INT64_C(1000000000)

static int check(hy_parser *p, unsigned line, unsigned column, const hy_extent *e)
{
    const char *found = e->phonemes > HY_SCORE_PHONEMES       ? "10000000 phonemes"
                        : e->statements > HY_SCORE_STATEMENTS ? "10000000 statements"
                        : e->ps > HY_DAY_PS                   ? "24 hours"
                                                              : NULL;
    if (found == NULL) {
        return 0;
    }
    return hy_fail_at(p->diag, p->name, line, column,
                      "found more than %s up to here, repeats counted; expected a shorter score", found);
}

int hy_extent_phonemes(hy_parser *p, const hy_token *at, uint32_t count, int nominal_ms)
{
    hy_extent *e = &p->extent[p->depth];
    int64_t nominal = nominal_ms * PS_PER_MS;
    int64_t held = p->hold > 0 && p->hold < nominal ? p->hold : nominal;
    e->phonemes += count;
    e->ps += held * count;
    if (!e->holds) {
        e->uncut += (nominal - held) * count;
    }
    return check(p, at->line, at->column, e);
}

int hy_extent_statement(hy_parser *p, const hy_token *at, int64_t ps)
{
    hy_extent *e = &p->extent[p->depth];
    e->statements++;
    e->ps += ps;
    return check(p, at->line, at->column, e);
}

void hy_extent_hold(hy_parser *p, int64_t ps)
{
    p->hold = ps;
    p->extent[p->depth].holds = 1;
}

void hy_extent_open(hy_parser *p, size_t node)
{
    p->extent[++p->depth] = (hy_extent){.node = node};
}

/* value * times, or something beyond every limit. */
static int64_t times(int64_t value, int64_t rounds)
{
    return value > HY_DAY_PS / rounds ? HY_DAY_PS + 1 : value * rounds;
}

int hy_extent_close(hy_parser *p)
{
    hy_extent body = p->extent[p->depth];
    hy_extent *e = &p->extent[--p->depth];
    const hy_node *repeat = &p->score->nodes[body.node];
    /* From the second round on the phonemes ahead of the body's first `hold` meet the hold that its end left, not the one
     * they were counted with. Their nominal time is never too little. */
    if (body.holds) {
        body.ps += body.uncut;
        body.uncut = 0;
    }
    e->phonemes += times(body.phonemes, repeat->ps);
    e->statements += times(body.statements, repeat->ps);
    e->ps += times(body.ps, repeat->ps);
    if (!e->holds) {
        int64_t uncut = e->uncut + times(body.uncut, repeat->ps);
        e->uncut = uncut > HY_DAY_PS ? HY_DAY_PS + 1 : uncut;
    }
    e->holds |= body.holds;
    return check(p, repeat->line, repeat->column, e);
}
