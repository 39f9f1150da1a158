#include "held.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How long is waited at most: filter cycles (200 s at the usual clock) and host time. */
enum { MOST_CYCLES = 4000000 };
#define MOST_PS (200 * HYOID_PS_PER_S)

typedef struct recorder {
    hy_held *held;
    size_t room;
    int on;
} recorder;

static void collect(void *user, const float *frames, size_t count)
{
    recorder *r = user;
    if (r->on) {
        size_t free_room = r->room - r->held->count;
        size_t n = count < free_room ? count : free_room;
        memcpy(r->held->frames + r->held->count, frames, n * sizeof *frames);
        r->held->count += n;
    }
}

/* The gate of a stop opens when the burst comes, which is within the phoneme's time. */
static int at_rest(const hyoid_chip *c)
{
    return !c->timing && !c->caught && c->r_f1 == c->t_f1 && c->r_f2 == c->t_f2 && c->r_f3 == c->t_f3 &&
           c->r_fc == c->t_fc && c->r_va == c->t_va && c->r_fa == c->t_fa && (!c->gate_closing || c->gate == 0);
}

static hyoid_status advance(hyoid_stream *stream, double cycles)
{
    double ps = cycles * stream->chip.part->filter_clocks * 1e12 / stream->chip.part->nominal_hz;
    double most = (double)(HYOID_TIME_MAX - stream->now) / 2;
    return hyoid_stream_run(stream, stream->now + (int64_t)fmin(ps, most) + 1);
}

static hyoid_status record(hyoid_stream *stream, recorder *r, unsigned code, const hy_hold_how *how)
{
    hyoid_status status = hyoid_stream_set_inflection(stream, 0, how->level);
    if (status == HYOID_OK && how->without_voice) {
        status = hyoid_chip_set_fault(&stream->chip, HYOID_FAULT_NO_VOICE, 1);
    }
    if (status == HYOID_OK) {
        status = hyoid_stream_write(stream, 0, code);
    }
    int64_t more = (int64_t)(how->ms * 1e9) + (HYOID_TAPS + 1) * (HYOID_PS_PER_S / r->held->rate);
    if (how->from_start) {
        r->on = 1;
        return status == HYOID_OK ? hyoid_stream_run(stream, more) : status;
    }
    double waited = 2;
    if (status == HYOID_OK) {
        status = advance(stream, 2);
    }
    for (double step = 256; status == HYOID_OK && !at_rest(&stream->chip); waited += step) {
        if (waited > MOST_CYCLES || stream->now > MOST_PS) {
            return HYOID_OK; /* not settled */
        }
        status = advance(stream, step);
    }
    r->held->settled = at_rest(&stream->chip);
    if (status == HYOID_OK) {
        status = advance(stream, HY_HELD_RING);
    }
    r->on = 1;
    return status == HYOID_OK ? hyoid_stream_run(stream, stream->now + more) : status;
}

int hy_hold(hy_held *held, const hyoid_part *part, unsigned code, const hy_hold_how *how, hy_diag *diag)
{
    *held = (hy_held){.rate = how->rate};
    recorder r = {.held = held, .room = (size_t)(how->ms * 1e-3 * how->rate)};
    const hyoid_observer observer = {.user = &r, .frames = collect};
    hyoid_stream *stream = malloc(sizeof *stream);
    held->frames = calloc(r.room + 1, sizeof *held->frames);
    if (stream == NULL || held->frames == NULL) {
        free(stream);
        hy_held_free(held);
        return hy_fail(diag, "out of memory");
    }
    hyoid_status status = hyoid_stream_init(stream, part, how->rate, &observer);
    if (status == HYOID_OK) {
        status = record(stream, &r, code, how);
    }
    held->voiced = status == HYOID_OK && stream->chip.r_va > 0;
    held->noisy = status == HYOID_OK && stream->chip.r_fa > 0;
    held->silent = status == HYOID_OK && ((!held->voiced && !held->noisy) || stream->chip.gate == 0);
    free(stream);
    if (status != HYOID_OK) {
        hy_held_free(held);
        return hy_fail(diag, "phoneme 0x%02x can't be held: %s", code, hyoid_status_text(status));
    }
    return 0;
}

double hy_held_power(const hy_held *held)
{
    double power = 0;
    for (size_t i = 0; i < held->count; i++) {
        power += (double)held->frames[i] * (double)held->frames[i];
    }
    return held->count > 0 ? power / (double)held->count : 0;
}

void hy_held_free(hy_held *held)
{
    free(held->frames);
    held->frames = NULL;
    held->count = 0;
}
