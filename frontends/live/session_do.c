/* What commands do. */
#include "session.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HOLD_FIRST (120 * (HYOID_PS_PER_S / 1000))
#define HOLD_LEAST (10 * (HYOID_PS_PER_S / 1000))
#define HOLD_MOST (2 * HYOID_PS_PER_S)
#define VOLUME_LEAST (-60.0)

static int send(hy_live_session *s, const hy_command *command, hy_order order, hy_diag *diag)
{
    order.ps = command->at;
    s->quiet = s->fresh = 0;
    order.token = ++s->token;
    const int sounds = order.kind == HY_ORDER_SAY || order.kind == HY_ORDER_STEP || order.kind == HY_ORDER_LEVEL;
    if (s->options.time != NULL && sounds && s->key_token == 0 && command->at == HY_SOON) {
        s->key_token = order.token;
        s->key_time = s->options.time(s->options.time_user);
    }
    return hy_ring_put(s->player->rings.orders, &order, 1)
               ? 0
               : hy_fail(diag, "too many orders wait for their time; fewer `at` lines ahead would be right");
}

/* ---- score and text ---- */

static int again(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    const uint32_t generation = hy_feed_again(s->feed);
    s->playing = 1;
    return send(s, c, (hy_order){.kind = HY_ORDER_DROP, .number = HY_QUEUE_SCORE, .generation = generation}, diag) !=
                       0 ||
                   send(s, c, (hy_order){.kind = HY_ORDER_START, .value = s->options.clock_hz}, diag) != 0 ||
                   send(s, c, (hy_order){.kind = HY_ORDER_PLAY, .number = 1}, diag) != 0
               ? -1
               : 0;
}

static int play(hy_live_session *s, const hy_command *c, int on, hy_diag *diag)
{
    if (s->options.score == NULL) {
        return hy_fail(diag, "no score was loaded: hyoid live FILE.score");
    }
    const int over =
        hy_feed_at_end(s->feed) && hy_ring_space(s->player->rings.cues[HY_QUEUE_SCORE]) == HY_PLAYER_CUES;
    if (on && (over || c->kind == HY_CMD_AGAIN)) {
        return again(s, c, diag);
    }
    s->playing = on;
    return send(s, c, (hy_order){.kind = HY_ORDER_PLAY, .number = on}, diag);
}

static int say(hy_live_session *s, const char *text, size_t size, hy_diag *diag)
{
    s->quiet = 0;
    return hy_feed_text(s->feed, text, size, diag);
}

static int word(hy_live_session *s, const char *text, hy_diag *diag)
{
    char *score = NULL;
    size_t size = 0;
    if (s->speller == NULL && (s->speller = hy_speller_new(diag)) == NULL) {
        return -1;
    }
    FILE *out = open_memstream(&score, &size);
    if (out == NULL) {
        return hy_fail(diag, "not enough memory for this text");
    }
    const hy_spell_options how = {.level = s->status.level};
    int result = hy_spell(s->speller, text, strlen(text), &how, out, diag);
    fclose(out);
    result = result == 0 ? say(s, score, size, diag) : result;
    free(score);
    return result;
}

static int hush(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    const uint32_t generation = hy_feed_hush(s->feed);
    return send(s, c, (hy_order){.kind = HY_ORDER_DROP, .number = HY_QUEUE_TYPED, .generation = generation}, diag);
}

static int babble(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    const int on = c->on == HY_TOGGLED ? hy_feed_babbles(s->feed) == 0 : c->on;
    if (!on) {
        return hush(s, c, diag);
    }
    const uint32_t seed = c->number > 0 ? (uint32_t)c->number : s->next_seed;
    s->next_seed = seed + 1000;
    s->quiet = 0;
    hy_feed_babble(s->feed, seed);
    hy_live_session_note(s, 0, "babble from seed %lu", (unsigned long)seed);
    return 0;
}

/* ---- the clock ---- */

static int clock_to(hy_live_session *s, const hy_command *c, double hz, int64_t span, int exponential, hy_diag *diag)
{
    const hy_order order = {.kind = HY_ORDER_CLOCK, .value = hz, .span = span, .exponential = exponential};
    return send(s, c, order, diag);
}

static int sweep(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    s->back_hz = s->status.hz;
    s->back_span = c->span;
    s->back_exponential = c->exponential;
    s->is_down = 0;
    return clock_to(s, c, c->value, c->span, c->exponential, diag);
}

static int back(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    if (s->back_span == 0) {
        return hy_fail(diag, "nothing to go back from: sweep first");
    }
    const double to = s->back_hz;
    s->back_hz = s->status.hz;
    s->is_down = 0;
    return clock_to(s, c, to, s->back_span, s->back_exponential, diag);
}

static int zero(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    const int down = !s->is_down && s->status.hz > 0.0;
    s->up_hz = down ? s->status.hz : s->up_hz;
    s->is_down = down;
    return clock_to(s, c, down ? 0.0 : s->up_hz, c->span, 0, diag);
}

static int step(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    if (!(s->status.hz > 0.0)) {
        return hy_fail(diag, "the clock stands at 0, of which any part is 0; nominal, zero or sweep bring it up");
    }
    s->is_down = 0;
    return send(s, c, (hy_order){.kind = HY_ORDER_STEP, .value = c->value}, diag);
}

/* ---- settings ---- */

static int hold(hy_live_session *s, const hy_command *c, int64_t ps, hy_diag *diag)
{
    s->hold = ps;
    return send(s, c, (hy_order){.kind = HY_ORDER_HOLD, .span = ps}, diag);
}

static int hold_step(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    const double from = (double)(s->hold > 0 ? s->hold : s->status.hold > 0 ? s->status.hold : HOLD_FIRST);
    double to = floor(from * c->value / 1e9 + 0.5) * 1e9; /* whole milliseconds */
    to = to == from ? from + (c->value > 1.0 ? 1e9 : -1e9) : to;
    to = to < (double)HOLD_LEAST ? (double)HOLD_LEAST : to > (double)HOLD_MOST ? (double)HOLD_MOST : to;
    return hold(s, c, (int64_t)to, diag);
}

static int volume(hy_live_session *s, const hy_command *c, double db, hy_diag *diag)
{
    s->volume_db = db > 0.0 ? 0.0 : db < VOLUME_LEAST ? VOLUME_LEAST : db;
    return send(s, c, (hy_order){.kind = HY_ORDER_GAIN, .value = pow(10.0, s->volume_db / 20.0)}, diag);
}

static int set_switch(hy_live_session *s, const hy_command *c, int *now, hy_order_kind kind, hy_diag *diag)
{
    *now = c->on == HY_TOGGLED ? !*now : c->on;
    return send(s, c, (hy_order){.kind = (int32_t)kind, .number = *now}, diag);
}

static int record(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    const int on = c->on == HY_TOGGLED ? s->take == NULL : c->on;
    if (!on) {
        return s->take != NULL ? send(s, c, (hy_order){.kind = HY_ORDER_TAKE, .number = 0}, diag)
                               : hy_fail(diag, "nothing is being recorded");
    }
    if (s->take != NULL) {
        return hy_fail(diag, "%s is being recorded; `record off` ends it", s->take_name);
    }
    if (c->text[0] != '\0') {
        snprintf(s->take_name, sizeof s->take_name, "%s", c->text);
    } else {
        hy_take_free_name(s->take_name, sizeof s->take_name);
    }
    s->take = hy_take_open(s->take_name, s->options.part, s->options.rate, s->options.bits, diag);
    if (s->take == NULL) {
        return -1;
    }
    s->take_lost = s->status.lost;
    hy_live_session_note(s, 0, "recording %s; the chip was powered up afresh", s->take_name);
    return send(s, c, (hy_order){.kind = HY_ORDER_TAKE, .number = 1}, diag);
}

/* What takes effect in the queues, or here, can't be done at a time of the stream. */
static int may_wait(hy_command_kind kind)
{
    switch (kind) {
    case HY_CMD_STROBE:
    case HY_CMD_CLOCK:
    case HY_CMD_STEP:
    case HY_CMD_NOMINAL:
    case HY_CMD_SWEEP:
    case HY_CMD_LEVEL:
    case HY_CMD_HOLD:
    case HY_CMD_SUSTAIN:
    case HY_CMD_VOLUME:
    case HY_CMD_LIMITER:
    case HY_CMD_PLAY:
    case HY_CMD_PAUSE:
        return 1;
    default:
        return 0;
    }
}

int hy_live_session_do(hy_live_session *s, const hy_command *c, hy_diag *diag)
{
    if (c->at != HY_SOON && !may_wait(c->kind)) {
        return hy_fail(diag,
                       "`at` works with strobe, clock, nominal, sweep, level, hold, sustain, volume, limiter, play "
                       "and pause");
    }
    switch (c->kind) {
    case HY_CMD_PLAY:
    case HY_CMD_AGAIN:
        return play(s, c, 1, diag);
    case HY_CMD_PAUSE:
        return play(s, c, 0, diag);
    case HY_CMD_TOGGLE:
        return play(s, c, !s->playing || hy_live_session_quiet(s), diag);
    case HY_CMD_SAY:
        return say(s, c->text, strlen(c->text), diag);
    case HY_CMD_STROBE:
        return send(s, c, (hy_order){.kind = HY_ORDER_SAY, .number = c->number}, diag);
    case HY_CMD_WORD:
        return word(s, c->text, diag);
    case HY_CMD_HUSH:
        return hush(s, c, diag);
    case HY_CMD_BABBLE:
        return babble(s, c, diag);
    case HY_CMD_CLOCK:
        s->is_down = 0;
        return clock_to(s, c, c->value, 0, 0, diag);
    case HY_CMD_NOMINAL:
        s->is_down = 0;
        return clock_to(s, c, s->options.part->nominal_hz, 0, 0, diag);
    case HY_CMD_STEP:
        return step(s, c, diag);
    case HY_CMD_SWEEP:
        return sweep(s, c, diag);
    case HY_CMD_BACK:
        return back(s, c, diag);
    case HY_CMD_ZERO:
        return zero(s, c, diag);
    case HY_CMD_LEVEL:
        return send(s, c, (hy_order){.kind = HY_ORDER_LEVEL, .number = c->number}, diag);
    case HY_CMD_HOLD:
        return hold(s, c, c->span, diag);
    case HY_CMD_HOLD_STEP:
        return hold_step(s, c, diag);
    case HY_CMD_SUSTAIN:
        return set_switch(s, c, &s->sustain, HY_ORDER_SUSTAIN, diag);
    case HY_CMD_VOLUME:
        return volume(s, c, c->value, diag);
    case HY_CMD_VOLUME_STEP:
        return volume(s, c, s->volume_db + c->value, diag);
    case HY_CMD_LIMITER:
        return set_switch(s, c, &s->limiter, HY_ORDER_LIMITER, diag);
    case HY_CMD_RECORD:
        return record(s, c, diag);
    case HY_CMD_HELP:
        s->help = !s->help;
        return 0;
    case HY_CMD_QUIT:
        s->quit = 1;
        return 0;
    case HY_CMD_NONE:
    case HY_CMD_WAIT:
    case HY_CMD_STATUS:
        break;
    }
    return 0;
}

int hy_live_session_line(hy_live_session *s, const char *line, hy_diag *diag)
{
    hy_command command;
    hy_diag why = {""};
    if (hy_command_read(line, &command, &why) == 0 && hy_live_session_do(s, &command, &why) == 0) {
        return 0;
    }
    hy_live_session_note(s, 1, "%s", why.text);
    return hy_fail(diag, "%s", why.text);
}
