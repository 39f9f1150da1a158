/* What the host will say, on its way into the engine's queues: the loaded score, and before it whatever was typed or is
 * babbled. Runs in the control thread. */
#ifndef HY_FEED_H
#define HY_FEED_H

#include "player.h"
#include "score.h"

typedef struct hy_feed hy_feed;

/* score: may be null; it stays the caller's and must outlive feed and player. Null without memory. */
hy_feed *hy_feed_new(hy_player *player, hy_score *score);
void hy_feed_free(hy_feed *feed);

/* Fills the queues up. Call it often: they hold a few seconds. */
void hy_feed_pump(hy_feed *feed);

/* The score from its beginning; the order that tells the engine to forget what it had is to be sent: its generation. */
uint32_t hy_feed_again(hy_feed *feed);

/* Says a score's text next, behind what was typed before. 0, or -1 with what is wrong in it. */
int hy_feed_text(hy_feed *feed, const char *text, size_t size, hy_diag *diag);

/* Babbles, from a seed above 0, until 0 is given. */
void hy_feed_babble(hy_feed *feed, uint32_t seed);
uint32_t hy_feed_babbles(const hy_feed *feed);

/* Forgets what was typed and not yet said, and ends the babble: the generation for the engine. */
uint32_t hy_feed_hush(hy_feed *feed);

/* Something waits that the engine does not know yet. */
int hy_feed_waiting(const hy_feed *feed, int playing);

/* The score has been handed over to its end. */
int hy_feed_at_end(const hy_feed *feed);

#endif
