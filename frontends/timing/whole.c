/* A timer's end, and so request's rise, lies on a filter cycle, and request falls with a clock. So from one rise to the next are whole
 * filter cycles, and from a rise to a fall whole clocks, on one and the same pin; what lies between them is the host's wait, which must
 * only be known to a filter cycle, or a clock. A host that answers at once strobes in the first clock of a cycle each time: by the
 * interval from its strobe alone, one cycle more or less would fit as well. */
#include "whole.h"

#include <math.h>

/* Holds least..most as what all measurements allow; empty (least above most) if they contradict each other. */
static void narrow(hy_whole *w, double least, double most)
{
    if (!(least >= 0.0 && least <= most && most <= 1e6)) {
        return;
    }
    const int first = w->n++ == 0;
    w->least = first || (long)least > w->least ? (long)least : w->least;
    w->most = first || (long)most < w->most ? (long)most : w->most;
}

/* Whether the strobe answers the rise of request before it; then the host's wait, which is not below 0, to how much it is known. */
static int wait_of(const hy_shake *before, const hy_shake_clocks *b, const hy_shake *s, double *least, double *most)
{
    if (before == NULL || before->rise < 0 || (s->flags & HY_SHAKE_HIGH) == 0 || isnan(b->rise) || isnan(b->end)) {
        return 0;
    }
    const double wait = b->end - b->rise, off = b->cross + fabs(wait) * b->doubt;
    *least = fmax(wait - off, 0.0);
    *most = fmax(wait + off, 0.0);
    return 1;
}

static void duration(hy_timing *t, const hyoid_part *part, const hy_shake *before, const hy_shake_clocks *b,
                     const hy_shake *s, const hy_shake_clocks *c)
{
    const double cycle = part->filter_clocks, off = c->cross + fabs(c->rise) * c->doubt;
    hy_whole *w = &t->cycles[s->code];
    narrow(w, fmax(ceil((c->rise - off - 1.0) / cycle), 0.0), floor((c->rise + off) / cycle + 1.0));
    double least, most;
    if (!wait_of(before, b, s, &least, &most)) {
        return;
    }
    const double whole = b->end - b->rise + c->rise, apart = c->same + fabs(whole) * fmax(b->doubt, c->doubt);
    const double cycles = round(whole / cycle);
    const int fits = fabs(whole - cycles * cycle) <= apart;
    if (apart < cycle / 4.0) { /* by chance no more than half of them would fit */
        t->spans++;
        t->spans_off += !fits;
    }
    if (apart < cycle / 2.0 && fits) {
        narrow(w, cycles - floor((most + 1.0) / cycle), cycles - floor(least / cycle));
    }
}

static void delay(hy_timing *t, const hy_shake *before, const hy_shake_clocks *b, const hy_shake *s,
                  const hy_shake_clocks *c)
{
    const double off = c->cross + fabs(c->fall) * c->doubt;
    narrow(&t->delay, fmax(ceil(c->fall - off - 1.0), 0.0), floor(c->fall + off));
    double least, most;
    if (!wait_of(before, b, s, &least, &most)) {
        return;
    }
    const double whole = b->end - b->rise + c->fall, apart = c->same + fabs(whole) * fmax(b->doubt, c->doubt);
    if (apart < 0.5 && fabs(whole - round(whole)) <= apart) {
        narrow(&t->delay, round(whole) - (floor(most) + 1.0), round(whole) - fmax(ceil(least), 1.0));
    }
}

void hy_whole_add(hy_timing *t, const hyoid_part *part, const hy_shake *before, const hy_shake_clocks *before_clocks,
                  const hy_shake *s, const hy_shake_clocks *c)
{
    const int answered = (s->flags & HY_SHAKE_HIGH) != 0 && s->fall >= 0;
    const int known = (s->flags & HY_SHAKE_DOUBT) == 0;
    if (answered && !isnan(c->fall)) {
        delay(t, before, before_clocks, s, c);
    }
    /* one that cuts another lasts its full time, too, but the timer's first cycle may have been the other's */
    if (answered && known && s->rise >= 0 && !isnan(c->rise)) {
        duration(t, part, before, before_clocks, s, c);
    }
}
