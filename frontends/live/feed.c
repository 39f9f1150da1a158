#include "feed.h"

#include <stdlib.h>
#include <string.h>

typedef struct typed {
    struct typed *next;
    hy_score *score;
} typed;

struct hy_feed {
    hy_player *player;
    hy_score *score;
    typed *first, *last;
    uint32_t generation[HY_QUEUES];
    uint32_t seed;
    int at_end;
};

hy_feed *hy_feed_new(hy_player *player, hy_score *score)
{
    hy_feed *f = calloc(1, sizeof *f);
    if (f != NULL) {
        f->player = player;
        f->score = score;
        f->at_end = score == NULL;
    }
    return f;
}

static void forget_first(hy_feed *f)
{
    typed *t = f->first;
    f->first = t->next;
    f->last = f->first == NULL ? NULL : f->last;
    hy_score_free(t->score);
    free(t);
}

void hy_feed_free(hy_feed *f)
{
    if (f != NULL) {
        while (f->first != NULL) {
            forget_first(f);
        }
        free(f);
    }
}

static void hand_over(hy_feed *f, int queue, const hy_action *action)
{
    const hy_cue cue = {.action = *action, .generation = f->generation[queue]};
    hy_ring_put(f->player->rings.cues[queue], &cue, 1);
}

static void pump_typed(hy_feed *f)
{
    hy_action action;
    while (hy_ring_space(f->player->rings.cues[HY_QUEUE_TYPED]) > 0) {
        if (f->first == NULL && f->seed > 0) {
            char text[100];
            const int n = snprintf(text, sizeof text, "babble seed %lu phonemes 8..16 from all except end pau\npau",
                                   (unsigned long)f->seed);
            hy_diag ignored = {""};
            f->seed = f->seed == UINT32_MAX ? 1 : f->seed + 1;
            if (hy_feed_text(f, text, (size_t)n, &ignored) != 0) {
                f->seed = 0;
            }
        }
        if (f->first == NULL) {
            return;
        }
        if (!hy_score_next(f->first->score, &action)) {
            forget_first(f);
        } else if (action.kind != HY_SET_MARK) { /* its name would not live as long as the take */
            hand_over(f, HY_QUEUE_TYPED, &action);
        }
    }
}

void hy_feed_pump(hy_feed *f)
{
    hy_action action;
    pump_typed(f);
    while (!f->at_end && hy_ring_space(f->player->rings.cues[HY_QUEUE_SCORE]) > 0) {
        if (hy_score_next(f->score, &action)) {
            hand_over(f, HY_QUEUE_SCORE, &action);
        } else {
            f->at_end = 1;
        }
    }
}

uint32_t hy_feed_again(hy_feed *f)
{
    if (f->score != NULL) {
        hy_score_rewind(f->score);
        f->at_end = 0;
    }
    return ++f->generation[HY_QUEUE_SCORE];
}

int hy_feed_text(hy_feed *f, const char *text, size_t size, hy_diag *diag)
{
    FILE *in = size > 0 ? fmemopen((void *)text, size, "r") : NULL;
    typed *t = in != NULL ? calloc(1, sizeof *t) : NULL;
    if (t == NULL) {
        if (in != NULL) {
            fclose(in);
        }
        return hy_fail(diag, size > 0 ? "not enough memory for this text" : "nothing to say");
    }
    t->score = hy_score_read(in, "typed", diag);
    fclose(in);
    if (t->score == NULL) {
        free(t);
        return -1;
    }
    hy_score_rewind(t->score);
    if (f->last != NULL) {
        f->last->next = t;
    } else {
        f->first = t;
    }
    f->last = t;
    return 0;
}

void hy_feed_babble(hy_feed *f, uint32_t seed)
{
    f->seed = seed;
}

uint32_t hy_feed_babbles(const hy_feed *f)
{
    return f->seed;
}

uint32_t hy_feed_hush(hy_feed *f)
{
    while (f->first != NULL) {
        forget_first(f);
    }
    f->seed = 0;
    return ++f->generation[HY_QUEUE_TYPED];
}

int hy_feed_waiting(const hy_feed *f, int playing)
{
    return f->first != NULL || f->seed > 0 || (playing && !f->at_end);
}

int hy_feed_at_end(const hy_feed *f)
{
    return f->at_end;
}
