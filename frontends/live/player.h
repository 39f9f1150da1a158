/* The audio callback, apart from any sound library: orders and cues in, samples and reports out, through rings. */
#ifndef HY_PLAYER_H
#define HY_PLAYER_H

#include "engine.h"
#include "post.h"

enum {
    HY_PLAYER_ORDERS = 1024,
    HY_PLAYER_CUES = 64,
    HY_PLAYER_REPORTS = 8192,
    HY_PLAYER_SOUND_S = 4, /* seconds of sound that may wait for the control thread */
    HY_PLAYER_CHUNK = 256  /* samples after which orders are looked at again */
};

typedef struct hy_player {
    hy_engine engine;
    hy_post post;
    hy_engine_rings rings;
    hy_ring *sound;      /* float: samples of the audio pin, before volume and limiter */
    uint64_t sound_lost; /* samples for which there was no room */
    double heard;        /* set by the caller: device's time at which the next sample is heard, s; 0: not known */
    float chunk[HY_PLAYER_CHUNK];
} hy_player;

/* Null without memory, or if the part or rate won't do. */
hy_player *hy_player_new(const hyoid_part *part, uint32_t rate, double hz, int level);
void hy_player_free(hy_player *player);

/* Fills `frames` frames of `channels` equal samples. Nothing here allocates, locks or calls the system. */
void hy_player_render(hy_player *player, float *out, size_t frames, unsigned channels);

#endif
