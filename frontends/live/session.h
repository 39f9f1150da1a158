/* A session: what the control thread knows and does. Commands go in as they were read; what comes back from the callback
 * is gathered here for whoever shows it. */
#ifndef HY_LIVE_SESSION_H
#define HY_LIVE_SESSION_H

#include <hyoid/hyoid.h>

#include "../spell/spell.h"
#include "command.h"
#include "feed.h"
#include "player.h"
#include "scope.h"
#include "take.h"

enum { HY_SAID = 24 }; /* phonemes that are remembered */

typedef struct hy_live_options {
    const hyoid_part *part; /* outlives the session */
    hy_score *score;        /* or null; outlives the session */
    const char *score_name;
    uint32_t rate;
    int bits; /* of recordings */
    double clock_hz;
    int level, paused;
    double (*time)(void *user); /* the sound device's, s; or null */
    void *time_user;
} hy_live_options;

typedef struct hy_live_session {
    hy_live_options options;
    hy_player *player;
    hy_feed *feed;
    hy_scope *scope;
    hy_take *take;       /* under way, or null */
    hy_speller *speller; /* once it was needed */
    char take_name[1024];
    uint64_t take_lost; /* what had been lost when it began */

    hy_status status;
    uint64_t samples_drained;
    int32_t said[HY_SAID]; /* codes, newest first */
    unsigned said_count;
    float peak, peak_hold; /* played: falling slowly, for a meter */
    float reduction;
    double latency_s; /* of the last key: from being read to being heard; 0: not known */

    double volume_db;
    int limiter, sustain, playing;
    int64_t hold; /* by hand; 0: off */
    double back_hz, up_hz;
    int64_t back_span;
    int back_exponential, is_down;
    uint32_t next_seed;

    uint32_t token, key_token; /* of the last order; of the one whose report is awaited, or 0 */
    double key_time;           /* when it was given */
    uint64_t key_sample;
    int key_seen;
    unsigned fresh; /* statuses since the last order */
    unsigned quiet; /* looks at which nothing was being said or waiting */
    int saved;      /* takes that were written */
    int quit, help;
    char note[256]; /* the last thing to tell */
    int note_is_error;
    unsigned note_number; /* counts notes */
} hy_live_session;

/* Null on error. */
hy_live_session *hy_live_session_new(const hy_live_options *options, hy_diag *diag);
/* A take under way is lost: stop it first. */
void hy_live_session_free(hy_live_session *session);

/* Does what the command says, or says why not: -1. HY_CMD_WAIT and HY_CMD_STATUS are the caller's. */
int hy_live_session_do(hy_live_session *session, const hy_command *command, hy_diag *diag);

/* Reads and does one line. Errors become the note, too. */
int hy_live_session_line(hy_live_session *session, const char *line, hy_diag *diag);

/* Takes what the callback has reported, fills the queues; to be called at least ten times a second. -1: a recording failed
 * (and is gone). */
int hy_live_session_tick(hy_live_session *session, hy_diag *diag);

/* Nothing is being said or waits to be, and every order has acted. */
int hy_live_session_quiet(const hy_live_session *session);

/* What is known of clock, level and hold is what the last order made of them. */
int hy_live_session_fresh(const hy_live_session *session);

/* The take is under way and its time counts. */
int hy_live_session_recording(const hy_live_session *session);

void hy_live_session_note(hy_live_session *session, int is_error, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
