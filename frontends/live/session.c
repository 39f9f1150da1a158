/* What comes back: reports, samples, takes. */
#include "session.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define VOLUME_DB (-12.0) /* where every session starts */
#define QUIET_LOOKS 4
#define DRAIN 4096

void hy_live_session_note(hy_live_session *s, int is_error, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    vsnprintf(s->note, sizeof s->note, format, list);
    va_end(list);
    s->note_is_error = is_error;
    s->note_number++;
}

hy_live_session *hy_live_session_new(const hy_live_options *options, hy_diag *diag)
{
    hy_live_session *s = calloc(1, sizeof *s);
    if (s != NULL) {
        s->options = *options;
        s->player = hy_player_new(options->part, options->rate, options->clock_hz, options->level);
        s->feed = s->player != NULL ? hy_feed_new(s->player, options->score) : NULL;
        s->scope = hy_scope_new(options->rate);
    }
    if (s == NULL || s->feed == NULL || s->scope == NULL) {
        hy_live_session_free(s);
        hy_fail(diag, "not enough memory");
        return NULL;
    }
    s->volume_db = VOLUME_DB;
    s->limiter = 1;
    s->playing = options->score != NULL && !options->paused;
    s->up_hz = options->part->nominal_hz;
    s->next_seed = (uint32_t)time(NULL) % 100000 + 1;
    s->player->engine.gain = pow(10.0, VOLUME_DB / 20.0); /* nothing runs yet */
    s->player->engine.playing = s->playing;
    hy_engine_status(&s->player->engine, &s->status);
    hy_feed_pump(s->feed);
    hy_live_session_note(s, 0, "? lists the keys. Mind your ears: start quietly, with headphones above all.");
    return s;
}

void hy_live_session_free(hy_live_session *s)
{
    if (s != NULL) {
        hy_take_abandon(s->take);
        hy_feed_free(s->feed);
        hy_player_free(s->player);
        hy_scope_free(s->scope);
        hy_speller_free(s->speller);
        free(s);
    }
}

/* ---- reports ---- */

static void see_event(hy_live_session *s, const hy_report *report)
{
    if (report->event.signal == HY_PHONEME) {
        memmove(s->said + 1, s->said, sizeof s->said - sizeof s->said[0]);
        s->said[0] = report->event.number;
        s->said_count += s->said_count < HY_SAID;
    }
    if (s->key_token != 0 && report->token == s->key_token) {
        s->key_seen = 1;
        s->key_sample = report->sample;
    }
}

static int nothing_waits(const hy_live_session *s)
{
    const hy_engine_rings *r = &s->player->rings;
    return hy_ring_space(r->orders) == HY_PLAYER_ORDERS && hy_ring_space(r->cues[HY_QUEUE_TYPED]) == HY_PLAYER_CUES &&
           !hy_feed_waiting(s->feed, s->playing);
}

static void see_status(hy_live_session *s, const hy_report *report)
{
    const hy_status *now = &report->status;
    const float fall = 0.97F;
    s->peak = now->played > s->peak * fall ? now->played : s->peak * fall;
    s->peak_hold = now->played > s->peak_hold * 0.995F ? now->played : s->peak_hold * 0.995F;
    s->reduction = now->reduction < s->reduction ? now->reduction : 1.0F - (1.0F - s->reduction) * fall;
    const int stands = !(now->hz > 0.0) && !now->moving;
    s->quiet = nothing_waits(s) && (!now->busy || stands) ? s->quiet + 1 : 0;
    if (s->key_seen && now->heard > 0.0) {
        const double rate = s->options.rate;
        const uint32_t ahead = HYOID_TAPS / 2 + s->player->post.ahead;
        s->latency_s = now->heard - ((double)(report->sample - s->key_sample) - (double)ahead) / rate - s->key_time;
        s->key_token = 0;
        s->key_seen = 0;
    }
    s->fresh++;
    s->status = *now;
}

static int drain_reports(hy_live_session *s, hy_diag *diag)
{
    hy_report report;
    while (hy_ring_take(s->player->rings.reports, &report, 1) == 1) {
        if (report.kind == HY_REPORT_STATUS) {
            see_status(s, &report);
            continue;
        }
        if (report.kind == HY_REPORT_EVENT) {
            see_event(s, &report);
        }
        if (s->take != NULL && hy_take_report(s->take, &report, diag) != 0) {
            return -1;
        }
    }
    return 0;
}

static int drain_sound(hy_live_session *s, size_t waiting, hy_diag *diag)
{
    float samples[DRAIN];
    while (waiting > 0) {
        const size_t n = hy_ring_take(s->player->sound, samples, waiting < DRAIN ? waiting : DRAIN);
        hy_scope_feed(s->scope, samples, n);
        if (s->take != NULL && hy_take_sound(s->take, samples, n, s->samples_drained, diag) != 0) {
            return -1;
        }
        s->samples_drained += n;
        waiting -= n;
    }
    return 0;
}

/* ---- takes ---- */

static int finish_take(hy_live_session *s, hy_diag *diag)
{
    hy_take *take = s->take;
    const double seconds = hy_take_seconds(take);
    s->take = NULL;
    if (hy_take_close(take, diag) != 0) {
        return -1;
    }
    s->saved++;
    hy_live_session_note(s, 0, "recorded %s, with .csv and .score: %.3f s", s->take_name, seconds);
    return 0;
}

int hy_live_session_tick(hy_live_session *s, hy_diag *diag)
{
    const size_t waiting = hy_ring_waiting(s->player->sound); /* whose reports were put before them */
    int result = drain_reports(s, diag);
    result = result != 0 ? result : drain_sound(s, waiting, diag);
    if (result == 0 && s->take != NULL && s->status.lost > s->take_lost) {
        result = hy_fail(diag, "the recording has a hole: this program was held up for seconds; record again");
    }
    if (result == 0 && s->take != NULL && hy_take_complete(s->take)) {
        result = finish_take(s, diag);
    }
    if (result != 0) {
        hy_take_abandon(s->take);
        s->take = NULL;
    }
    hy_feed_pump(s->feed);
    return result;
}

int hy_live_session_quiet(const hy_live_session *s)
{
    return s->quiet >= QUIET_LOOKS;
}

int hy_live_session_fresh(const hy_live_session *s)
{
    return s->fresh >= 2 && hy_ring_space(s->player->rings.orders) == HY_PLAYER_ORDERS;
}

int hy_live_session_recording(const hy_live_session *s)
{
    return s->take != NULL && hy_take_seconds(s->take) > 0.0;
}
