#include "player.h"

#include <math.h>
#include <stdlib.h>

static size_t power_of_two(size_t least)
{
    size_t n = 1;
    while (n < least) {
        n *= 2;
    }
    return n;
}

hy_player *hy_player_new(const hyoid_part *part, uint32_t rate, double hz, int level)
{
    hy_player *p = calloc(1, sizeof *p);
    if (p == NULL) {
        return NULL;
    }
    p->rings = (hy_engine_rings){.orders = hy_ring_new(sizeof(hy_order), HY_PLAYER_ORDERS),
                                 .reports = hy_ring_new(sizeof(hy_report), HY_PLAYER_REPORTS)};
    int whole = p->rings.orders != NULL && p->rings.reports != NULL;
    for (int q = 0; q < HY_QUEUES; q++) {
        p->rings.cues[q] = hy_ring_new(sizeof(hy_cue), HY_PLAYER_CUES);
        whole = whole && p->rings.cues[q] != NULL;
    }
    p->sound = hy_ring_new(sizeof(float), power_of_two((size_t)rate * HY_PLAYER_SOUND_S));
    if (!whole || p->sound == NULL || hy_engine_init(&p->engine, part, rate, hz, level, &p->rings) != HYOID_OK) {
        hy_player_free(p);
        return NULL;
    }
    hy_post_init(&p->post, rate);
    return p;
}

void hy_player_free(hy_player *p)
{
    if (p != NULL) {
        hy_ring_free(p->rings.orders);
        hy_ring_free(p->rings.reports);
        for (int q = 0; q < HY_QUEUES; q++) {
            hy_ring_free(p->rings.cues[q]);
        }
        hy_ring_free(p->sound);
        free(p);
    }
}

static void tell(hy_player *p, float raw)
{
    if (hy_ring_space(p->rings.reports) < HY_PLAYER_REPORTS / 2) {
        return; /* the room is for what a log needs */
    }
    hy_report report = {.kind = HY_REPORT_STATUS, .sample = p->engine.samples};
    hy_engine_status(&p->engine, &report.status);
    report.status.raw = raw;
    report.status.played = p->post.peak;
    report.status.reduction = p->post.least;
    report.status.heard = p->heard;
    report.status.lost = p->engine.lost + p->sound_lost;
    hy_ring_put(p->rings.reports, &report, 1);
}

static void render_chunk(hy_player *p, size_t count)
{
    float raw = 0.0F;
    p->heard += p->heard > 0.0 ? (double)count / p->post.rate : 0.0;
    hy_engine_render(&p->engine, p->chunk, count);
    for (size_t i = 0; i < count; i++) {
        raw = fabsf(p->chunk[i]) > raw ? fabsf(p->chunk[i]) : raw;
    }
    if (!hy_ring_put(p->sound, p->chunk, count)) {
        p->sound_lost += count;
        p->engine.samples -= count; /* reports count what is in the ring */
    }
    hy_post_run(&p->post, p->chunk, count, p->engine.gain, p->engine.limiter, p->engine.restart_wanted);
    if (p->engine.take_ends) {
        hy_engine_end_take(&p->engine);
    }
    if (p->engine.restart_wanted) { /* silent by now, so that power-up makes no click */
        hy_engine_restart(&p->engine);
        p->engine.taking = 1;
    }
    tell(p, raw);
}

void hy_player_render(hy_player *p, float *out, size_t frames, unsigned channels)
{
    while (frames > 0) {
        const size_t count = frames < HY_PLAYER_CHUNK ? frames : HY_PLAYER_CHUNK;
        render_chunk(p, count);
        for (size_t i = 0; i < count; i++) {
            for (unsigned c = 0; c < channels; c++) {
                *out++ = p->chunk[i];
            }
        }
        frames -= count;
    }
}
