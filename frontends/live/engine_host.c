/* The host's half of the engine: what to do next, and when. The rules are those of shared/host.c. */
#include "engine.h"

#define AT_ONCE 256 /* orders and actions in one instant; more have to wait for the next block */

static void report_event(hy_engine *e, hy_signal signal, int number, const char *name)
{
    const hy_report report = {.kind = HY_REPORT_EVENT,
                              .sample = e->samples,
                              .name = name,
                              .event = {.ps = e->stream.now, .signal = (int32_t)signal, .number = number}};
    hy_engine_report(e, &report);
}

static void say(hy_engine *e, int code)
{
    hyoid_stream_write(&e->stream, e->stream.now, (unsigned)code);
    report_event(e, HY_PHONEME, code, NULL);
    e->waits = 1;
    e->sounds = e->stream.chip.part->phoneme[code].pause == 0;
    e->strobe = e->stream.now;
    e->reached = -1;
}

static void set_level(hy_engine *e, int level)
{
    hyoid_stream_set_inflection(&e->stream, e->stream.now, (unsigned)level);
    report_event(e, HY_INFLECTION, level, NULL);
}

/* ---- the clock ---- */

static void jump(hy_engine *e)
{
    hy_engine_clock_row(e, hy_engine_hz(e, e->stream.now), 0);
}

/* The score's clock stays; the hand's factor makes the difference. Where the score's is 0 there is none. */
static void hand_clock(hy_engine *e, double hz, int64_t span, int exponential)
{
    const int64_t now = e->stream.now;
    const double score_hz = hy_curve_at(&e->score_clock, now);
    double factor = 1.0;
    if (score_hz > 0.0) {
        factor = hz / score_hz;
    } else if (hz > 0.0) {
        e->score_clock = hy_curve_still(hz);
        e->hand = hy_curve_still(0.0);
    }
    hy_curve_go(&e->hand, now, span, factor, exponential);
    if (!hy_curve_moves(&e->hand, now)) {
        jump(e);
    }
}

static void hand_step(hy_engine *e, double factor)
{
    const int64_t now = e->stream.now;
    const double present = hy_curve_at(&e->hand, now);
    const double hz = hy_curve_at(&e->score_clock, now) * present * factor;
    const double fit = hz > HYOID_CLOCK_MAX ? HYOID_CLOCK_MAX / hz : 1.0;
    e->hand = hy_curve_still(present * factor * fit);
    jump(e);
}

/* ---- orders ---- */

static void drop(hy_engine *e, const hy_order *order)
{
    e->generation[order->number] = order->generation;
    e->ready = e->stream.now;
    if (order->number == HY_QUEUE_SCORE) { /* it begins again as every score does */
        e->score_hold = e->answer = 0;
    }
}

static void obey(hy_engine *e, const hy_order *order)
{
    switch ((hy_order_kind)order->kind) {
    case HY_ORDER_SAY:
        say(e, order->number);
        break;
    case HY_ORDER_CLOCK:
        hand_clock(e, order->value, order->span, order->exponential);
        break;
    case HY_ORDER_STEP:
        hand_step(e, order->value);
        break;
    case HY_ORDER_START:
        e->score_clock = hy_curve_still(order->value);
        jump(e);
        break;
    case HY_ORDER_LEVEL:
        set_level(e, order->number);
        break;
    case HY_ORDER_HOLD:
        e->hand_hold = order->span;
        break;
    case HY_ORDER_PLAY:
        e->playing = order->number;
        break;
    case HY_ORDER_DROP:
        drop(e, order);
        break;
    case HY_ORDER_SUSTAIN:
        e->sustain = order->number;
        break;
    case HY_ORDER_TAKE:
        e->restart_wanted = order->number;
        e->take_ends = !order->number && e->taking;
        break;
    case HY_ORDER_GAIN:
        e->gain = order->value;
        break;
    case HY_ORDER_LIMITER:
        e->limiter = order->number;
        break;
    }
}

static int take_order(hy_engine *e, hy_order *order)
{
    return hy_ring_peek(e->rings.orders, order) && order->ps <= e->stream.now &&
           hy_ring_take(e->rings.orders, order, 1) == 1;
}

int64_t hy_engine_next_order(const hy_engine *e)
{
    hy_order order;
    return hy_ring_peek(e->rings.orders, &order) && order.ps > e->stream.now ? order.ps : INT64_MAX;
}

/* ---- actions ---- */

/* The queue whose first action is the next one, or -1. */
static int next_cue(hy_engine *e, hy_cue *cue)
{
    for (int q = 0; q < HY_QUEUES; q++) {
        while (hy_ring_peek(e->rings.cues[q], cue)) {
            if (cue->generation == e->generation[q]) {
                if (q == HY_QUEUE_SCORE && !e->playing) {
                    break;
                }
                return q;
            }
            hy_ring_take(e->rings.cues[q], cue, 1);
        }
    }
    return -1;
}

/* Nothing more to say, and a phoneme that would sound on: the host ends with a pause, as polite programs do, once a glide
 * of the score has arrived. */
static int silence_due(const hy_engine *e)
{
    return e->sounds && !e->sustain && e->silence >= 0 && !hy_curve_moves(&e->score_clock, e->stream.now);
}

/* The instant of the next action, as far as it is known: INT64_MAX while request is waited for. */
static int64_t due(const hy_engine *e)
{
    int64_t at = INT64_MAX;
    if (!e->waits) {
        return e->ready;
    }
    if (e->reached >= 0) {
        at = e->reached + 1 + e->answer;
    }
    const int64_t hold = e->hand_hold > 0 ? e->hand_hold : e->score_hold;
    if (hold > 0 && e->strobe + hold < at) {
        at = e->strobe + hold;
    }
    return at > e->ready ? at : e->ready;
}

static void perform(hy_engine *e, const hy_action *action)
{
    const int64_t now = e->stream.now;
    e->waits = 0;
    switch (action->kind) {
    case HY_SAY:
        say(e, action->number);
        break;
    case HY_SET_CLOCK:
        e->score_clock = hy_curve_still(action->hz);
        jump(e);
        break;
    case HY_GLIDE:
        hy_curve_go(&e->score_clock, now, action->ps, action->hz, action->exponential);
        break;
    case HY_SET_LEVEL:
        set_level(e, action->number);
        break;
    case HY_SET_HOLD:
        e->score_hold = action->ps;
        break;
    case HY_SET_ANSWER:
        e->answer = action->ps;
        break;
    case HY_REST:
        e->ready = now + action->ps;
        break;
    case HY_SET_MARK:
        report_event(e, HY_MARK, 0, action->name);
        break;
    }
}

static int act_once(hy_engine *e)
{
    hy_order order;
    hy_cue cue;
    if (take_order(e, &order)) {
        e->token = order.token;
        obey(e, &order);
        e->token = 0;
        return 1;
    }
    if (due(e) > e->stream.now) {
        return 0;
    }
    const int queue = next_cue(e, &cue);
    if (queue >= 0) {
        hy_ring_take(e->rings.cues[queue], &cue, 1);
        perform(e, &cue.action);
        return 1;
    }
    if (silence_due(e)) {
        say(e, e->silence);
    }
    return 0;
}

void hy_engine_act(hy_engine *e)
{
    for (int i = 0; i < AT_ONCE && act_once(e); i++) {
    }
}

int64_t hy_engine_next(hy_engine *e, hyoid_stream *ahead, int64_t stop)
{
    hy_cue cue;
    if (next_cue(e, &cue) < 0 && !silence_due(e)) {
        return stop;
    }
    if (e->waits && e->reached < 0) {
        hyoid_stream_run_to_request(ahead, stop, &e->reached);
    }
    const int64_t at = due(e);
    return at < stop ? at : stop;
}
