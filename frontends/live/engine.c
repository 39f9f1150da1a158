#include "engine.h"

#include <string.h>

#define HALF (HYOID_TAPS / 2)
#define PIECE_PS (HYOID_PS_PER_S / 200) /* of a glide at most: the hand can turn it so often */

/* ---- reports ---- */

void hy_engine_report(hy_engine *e, const hy_report *report)
{
    hy_report marked = *report;
    marked.token = e->token;
    e->lost += !hy_ring_put(e->rings.reports, &marked, 1);
}

void hy_engine_clock_row(hy_engine *e, double hz, int glides)
{
    const hy_report report = {.kind = HY_REPORT_EVENT,
                              .glides = glides,
                              .sample = e->samples,
                              .event = {.ps = e->stream.now, .signal = HY_CLOCK, .hz = hz}};
    hyoid_stream_set_clock(&e->stream, e->stream.now, hz); /* as whoever renders the log does */
    e->clock_row = e->stream.now;
    hy_engine_report(e, &report);
}

void hy_engine_status(const hy_engine *e, hy_status *s)
{
    const hyoid_chip *chip = &e->stream.chip;
    const int64_t now = e->stream.now;
    *s = (hy_status){.hz = hyoid_stream_clock_hz(&e->stream),
                     .score_hz = hy_curve_at(&e->score_clock, now),
                     .ps = now,
                     .hold = e->hand_hold > 0 ? e->hand_hold : e->score_hold,
                     .phoneme = chip->phoneme,
                     .request = hyoid_chip_request(chip),
                     .slot = (int32_t)hyoid_chip_slot(chip),
                     .level = chip->inflection,
                     .moving = hy_curve_moves(&e->score_clock, now) || hy_curve_moves(&e->hand, now),
                     .playing = e->playing};
    s->busy = hy_ring_waiting(e->rings.cues[HY_QUEUE_TYPED]) > 0 || e->ready > now ||
              (e->playing && hy_ring_waiting(e->rings.cues[HY_QUEUE_SCORE]) > 0) ||
              hy_curve_moves(&e->score_clock, now) || (e->waits && !s->request && chip->phoneme != e->silence);
}

/* ---- samples ---- */

static void on_frames(void *user, const float *frames, size_t count)
{
    hy_engine *e = user;
    /* time is moved exactly as far as `out` needs, so nothing is ever left over */
    const size_t n = count < e->out_left ? count : e->out_left;
    memcpy(e->out, frames, n * sizeof *frames);
    e->out += n;
    e->out_left -= n;
}

/* The instant at which sample number `last` of this take is final. */
static int64_t final_at(uint64_t last, uint32_t rate)
{
    const uint64_t second = (uint64_t)HYOID_PS_PER_S;
    const uint64_t samples = last + HALF;
    return (int64_t)(samples / rate * second + (samples % rate * second + rate - 1) / rate);
}

/* ---- time ---- */

double hy_engine_hz(const hy_engine *e, int64_t ps)
{
    const double hz = hy_curve_at(&e->score_clock, ps) * hy_curve_at(&e->hand, ps);
    return hz < HYOID_CLOCK_MAX ? (hz > 0.0 ? hz : 0.0) : HYOID_CLOCK_MAX;
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* The instant `stop`, or one before it at which the way of the clock from here on has to be looked at again. */
static int64_t piece_end(const hy_engine *e, int64_t stop)
{
    const int64_t now = e->stream.now;
    const hy_curve *curves[] = {&e->score_clock, &e->hand};
    int64_t length = earlier(stop - now, PIECE_PS);
    for (int i = 0; i < 2; i++) {
        length = earlier(length, hy_curve_step(curves[i], now));
        length = hy_curve_moves(curves[i], now) ? earlier(length, curves[i]->to - now) : length;
    }
    return now + length;
}

/* Glides to `hz` at `stop`, which nothing cuts. */
static void glide(hy_engine *e, int64_t stop, double hz)
{
    if (e->clock_row < e->stream.now) {
        hy_engine_clock_row(e, hyoid_stream_clock_hz(&e->stream), 0);
    }
    hyoid_stream_glide_clock(&e->stream, e->stream.now, stop, hz);
    hyoid_stream_run(&e->stream, stop);
    hy_engine_clock_row(e, hz, 1);
}

/* Goes on to the next instant at which something happens, at most to `end`. */
static void go(hy_engine *e, int64_t end)
{
    const int64_t now = e->stream.now;
    const int moves = hy_curve_moves(&e->score_clock, now) || hy_curve_moves(&e->hand, now);
    int64_t stop = earlier(end, hy_engine_next_order(e));
    stop = moves ? piece_end(e, stop) : stop;
    double hz = hy_engine_hz(e, stop);
    hyoid_stream ahead = e->stream;
    ahead.observer = (hyoid_observer){0};
    ahead.output.rate = 0;
    if (moves) {
        hyoid_stream_glide_clock(&ahead, now, stop, hz);
    }
    const int64_t act = hy_engine_next(e, &ahead, stop);
    if (!moves) {
        hyoid_stream_run(&e->stream, act);
        return;
    }
    if (act < stop) { /* on the chord, so that what was foreseen holds */
        const double from = hyoid_stream_clock_hz(&e->stream);
        hz = from + (hz - from) * ((double)(act - now) / (double)(stop - now));
    }
    glide(e, act, hz);
}

void hy_engine_render(hy_engine *e, float *out, size_t count)
{
    if (count == 0) {
        return;
    }
    const int64_t first = e->stream.output.first > 0 ? e->stream.output.first : 0;
    const int64_t end = final_at((uint64_t)first + count - 1, e->stream.output.rate);
    e->stream.observer = (hyoid_observer){.user = e, .frames = on_frames};
    e->out = out;
    e->out_left = count;
    hy_engine_act(e);
    while (e->stream.now < end) {
        go(e, end);
        if (e->stream.now < end) { /* what is due at the end has to wait: the hand may come first */
            hy_engine_act(e);
        }
    }
    e->samples += count;
}

/* ---- power ---- */

static void strobe_again(hy_engine *e, unsigned code)
{
    const hy_report said = {
        .kind = HY_REPORT_EVENT, .sample = e->samples, .event = {.signal = HY_PHONEME, .number = (int32_t)code}};
    hyoid_stream_write(&e->stream, 0, code);
    hy_engine_report(e, &said);
    e->waits = 1;
    e->strobe = 0;
    e->reached = -1;
}

void hy_engine_restart(hy_engine *e)
{
    const int64_t now = e->stream.now;
    const int level = e->stream.chip.inflection;
    const unsigned code = e->stream.chip.phoneme;
    e->sounds = e->stream.chip.latch_cycle > 0 && e->stream.chip.part->phoneme[code].pause == 0;
    hy_curve_shift(&e->score_clock, now);
    hy_curve_shift(&e->hand, now);
    e->ready = e->ready > now ? e->ready - now : 0;
    e->waits = 0;
    e->restart_wanted = 0;
    hyoid_stream_reset(&e->stream);

    const hy_report begin = {.kind = HY_REPORT_TAKE, .sample = e->samples};
    const hy_report inflection = {
        .kind = HY_REPORT_EVENT, .sample = e->samples, .event = {.signal = HY_INFLECTION, .number = level}};
    hy_engine_report(e, &begin);
    hy_engine_clock_row(e, hy_engine_hz(e, 0), 0);
    hyoid_stream_set_inflection(&e->stream, 0, (unsigned)level);
    hy_engine_report(e, &inflection);
    if (e->sounds) {
        strobe_again(e, code);
    }
}

void hy_engine_end_take(hy_engine *e)
{
    const hy_report end = {
        .kind = HY_REPORT_TAKE_END, .sample = e->samples, .event = {.ps = e->stream.now, .signal = HY_END}};
    e->take_ends = e->taking = 0;
    hy_engine_report(e, &end);
}

/* The pause of least code: power-up stands in it too. */
static int32_t find_silence(const hyoid_part *part)
{
    for (int32_t code = 0; code < HYOID_PHONEMES; code++) {
        if (part->phoneme[code].pause) {
            return code;
        }
    }
    return -1;
}

hyoid_status hy_engine_init(hy_engine *e, const hyoid_part *part, uint32_t rate, double hz, int level,
                            const hy_engine_rings *rings)
{
    memset(e, 0, sizeof *e);
    const hyoid_status status = hyoid_stream_init(&e->stream, part, rate, NULL);
    if (status != HYOID_OK) {
        return status;
    }
    e->rings = *rings;
    e->score_clock = hy_curve_still(hz);
    e->hand = hy_curve_still(1.0);
    e->reached = -1;
    e->silence = find_silence(part);
    e->gain = 1.0;
    e->limiter = 1;
    hy_engine_clock_row(e, hy_engine_hz(e, 0), 0);
    const hy_report inflection = {.kind = HY_REPORT_EVENT, .event = {.signal = HY_INFLECTION, .number = level}};
    hyoid_stream_set_inflection(&e->stream, 0, (unsigned)level);
    hy_engine_report(e, &inflection);
    return HYOID_OK;
}
