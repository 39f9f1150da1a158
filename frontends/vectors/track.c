#include "track.h"

#include <stdlib.h>
#include <string.h>

#include "fixed.h"

#define STROBE_PS INT64_C(10000000) /* width of an implied strobe */
#define SLICE_PS HYOID_PS_PER_S     /* longest run between two looks at how many clocks there are */

enum { EDGE = 1u << 15, EDGE_CODE = 9, STROBE = 1u << 8, INFLECTION = 6 };

typedef struct player {
    hy_track *track;
    const hy_track_setup *setup;
    hy_diag *diag;
    hyoid_stream stream;
    uint64_t limit;
    int64_t *falls; /* when each implied strobe ends */
    size_t fall_count, next_fall;
    int64_t fall_ps;   /* of the one that is high, or -1 */
    unsigned pins;     /* as in a row, from here on */
    unsigned edge;     /* the same for the edge ahead of the coming clock, or 0 */
    uint64_t filled;   /* rows of stimulus that are written */
    uint64_t answered; /* rows of request */
    int request;
    size_t rows, level_room; /* room */
    int64_t end_ps;          /* of what is taken */
} player;

static int no_memory(hy_diag *diag)
{
    return hy_fail(diag, "out of memory");
}

/* ---- rows ---- */

static int reserve_rows(player *p, uint64_t wanted)
{
    if (wanted <= p->rows) {
        return 0;
    }
    size_t rows = p->rows < 65536 ? 65536 : p->rows;
    while (rows < wanted) {
        rows *= 2;
    }
    uint16_t *stimulus = realloc(p->track->stimulus, rows * sizeof *stimulus);
    p->track->stimulus = stimulus != NULL ? stimulus : p->track->stimulus;
    uint8_t *request = realloc(p->track->request, rows * sizeof *request);
    p->track->request = request != NULL ? request : p->track->request;
    if (stimulus == NULL || request == NULL) {
        return no_memory(p->diag);
    }
    p->rows = rows;
    return 0;
}

/* Rows up to and with `clock` have the pins that stand. */
static int fill(player *p, uint64_t clock)
{
    if (reserve_rows(p, clock + 1) != 0) {
        return -1;
    }
    while (p->filled <= clock) {
        p->track->stimulus[p->filled++] = (uint16_t)(p->pins | p->edge);
        p->edge = 0;
    }
    return 0;
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    player *p = user;
    (void)ps;
    if (cycle > p->limit) {
        return;
    }
    if (reserve_rows(p, cycle + 1) == 0) {
        while (p->answered < cycle) {
            p->track->request[p->answered++] = (uint8_t)p->request;
        }
        p->track->rises += level != 0;
    }
    p->request = level;
}

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    player *p = user;
    hy_track *track = p->track;
    (void)ps;
    (void)fraction;
    if (cycle > p->limit) {
        return;
    }
    if (track->levels + 1 >= p->level_room) {
        const size_t room = p->level_room * 2;
        int32_t *level = realloc(track->level, room * sizeof *level);
        if (level == NULL) {
            no_memory(p->diag);
            return;
        }
        track->level = level;
        p->level_room = room;
    }
    track->level[++track->levels] = hy_fixed(value, p->setup->bits, p->setup->fraction, &track->clipped);
}

/* ---- time ---- */

/* When the clock count reaches the limit, between the stream as it was and as it is. */
static int64_t reached(const player *p, const hyoid_stream *before)
{
    int64_t low = before->now, high = p->stream.now;
    while (high - low > 1) {
        const int64_t middle = low + (high - low) / 2;
        hyoid_stream trial = *before;
        trial.observer = (hyoid_observer){0};
        hyoid_stream_run(&trial, middle);
        *(trial.chip.cycle >= p->limit ? &high : &low) = middle;
    }
    return high;
}

/* Runs to `ps` or to the limit: 1 if that came first. */
static int run(player *p, int64_t ps)
{
    while (p->stream.now < ps) {
        const int64_t next = ps - p->stream.now > SLICE_PS ? p->stream.now + SLICE_PS : ps;
        const hyoid_stream before = p->stream;
        hyoid_status status = hyoid_stream_run(&p->stream, next);
        if (status != HYOID_OK || p->diag->text[0] != '\0') {
            return hy_fail(p->diag, "the input does not fit the chip: %s", hyoid_status_text(status));
        }
        if (p->stream.chip.cycle >= p->limit) {
            p->end_ps = reached(p, &before);
            return 1;
        }
    }
    return 0;
}

/* ---- events ---- */

/* Pins change now: ahead of the clock that comes next. */
static int set(player *p, unsigned mask, unsigned bits)
{
    if (fill(p, p->stream.chip.cycle) != 0) {
        return -1;
    }
    if (mask & bits & ~p->pins & STROBE) {
        p->track->strobes += p->edge == 0;
        p->edge = EDGE | (((p->pins & ~mask) | bits) & 63u) << EDGE_CODE;
    }
    p->pins = (p->pins & ~mask) | bits;
    return 0;
}

/* A write lets go of strobe first; it stays high until its fall. */
static int write_code(player *p, const hy_event *event)
{
    p->fall_ps = p->falls[p->next_fall++];
    hyoid_stream_write(&p->stream, event->ps, (unsigned)event->number);
    return set(p, STROBE, 0) != 0 ? -1 : set(p, STROBE | 63u, STROBE | (unsigned)event->number);
}

static int set_pin(player *p, const hy_event *event)
{
    const unsigned pin = (unsigned)event->number / 2, high = (unsigned)event->number % 2;
    const unsigned bit = pin == HY_STROBE ? STROBE : 1u << pin; /* i0 and i1 follow p5 in a row, as in hy_pin */
    if (pin == HY_STROBE) {
        p->fall_ps = -1;
    }
    if (set(p, bit, high ? bit : 0) != 0) {
        return -1;
    }
    hyoid_stream_set_code(&p->stream, event->ps, p->pins & 63u);
    hyoid_stream_set_inflection(&p->stream, event->ps, p->pins >> INFLECTION & 3u);
    if (pin == HY_STROBE) {
        hyoid_stream_set_strobe(&p->stream, event->ps, high);
    }
    return 0;
}

static int take(player *p, const hy_event *event)
{
    switch ((hy_signal)event->signal) {
    case HY_PHONEME:
        return write_code(p, event);
    case HY_INFLECTION:
        hyoid_stream_set_inflection(&p->stream, event->ps, (unsigned)event->number);
        return set(p, 3u << INFLECTION, (unsigned)event->number << INFLECTION);
    case HY_CLOCK:
        hyoid_stream_set_clock(&p->stream, event->ps, event->hz);
        if (event->to_ps > event->ps) {
            hyoid_stream_glide_clock(&p->stream, event->ps, event->to_ps, event->to_hz);
        }
        p->track->first_hz = event->ps == 0 ? event->hz : p->track->first_hz;
        p->track->clock_moved |= event->to_ps > event->ps || event->hz != p->track->first_hz;
        return 0;
    case HY_PIN:
        return set_pin(p, event);
    case HY_MARK:
    case HY_END:
        break;
    }
    return 0;
}

/* Ends of implied strobes: known from the time of the next edge. */
static int find_falls(player *p, hy_log *log)
{
    hy_event event;
    int more = hy_log_rewind(log, p->diag) == 0 ? 1 : -1;
    int open = 0;
    size_t room = 0;
    while (more == 1 && (more = hy_log_next(log, &event, p->diag)) == 1) {
        const int pin = event.signal == HY_PIN && event.number / 2 == HY_STROBE;
        if (event.signal != HY_PHONEME && !pin) {
            continue;
        }
        if (open) {
            int64_t *fall = &p->falls[p->fall_count - 1];
            const int64_t half = *fall - STROBE_PS + (event.ps - (*fall - STROBE_PS)) / 2;
            *fall = half < *fall ? half : *fall;
        }
        open = event.signal == HY_PHONEME;
        if (open && p->fall_count == room) {
            room = room == 0 ? 256 : room * 2;
            int64_t *falls = realloc(p->falls, room * sizeof *falls);
            if (falls == NULL) {
                return no_memory(p->diag);
            }
            p->falls = falls;
        }
        if (open) {
            p->falls[p->fall_count++] = event.ps + STROBE_PS;
        }
    }
    return more;
}

/* An implied strobe ends on the way to `ps`. */
static int run_and_fall(player *p, int64_t ps)
{
    if (p->fall_ps >= 0 && p->fall_ps <= ps) {
        const int over = run(p, p->fall_ps);
        if (over != 0 || set(p, STROBE, 0) != 0) {
            return over != 0 ? over : -1;
        }
        p->fall_ps = -1;
    }
    return run(p, ps);
}

static int play(player *p, hy_log *log)
{
    hy_event event;
    if (hy_log_rewind(log, p->diag) != 0) {
        return -1;
    }
    for (;;) {
        const int more = hy_log_next(log, &event, p->diag);
        if (more < 0) {
            return -1;
        }
        if (more == 0 || event.signal == HY_END) {
            return run_and_fall(p, p->setup->end_ps);
        }
        const int over = run_and_fall(p, event.ps);
        if (over != 0) {
            return over;
        }
        if (take(p, &event) != 0) {
            return -1;
        }
    }
}

static int finish(player *p, int over)
{
    hy_track *track = p->track;
    if (over && p->setup->most == 0) {
        return hy_fail(
            p->diag,
            "the input lasts longer than %llu clocks, %.1f s at %.6g kHz; a shorter one or --clocks N, which "
            "takes the first N, would be right",
            (unsigned long long)HY_TRACK_MOST, (double)p->end_ps * 1e-12, track->first_hz * 1e-3);
    }
    track->clocks = over ? p->limit : p->stream.chip.cycle;
    if (fill(p, track->clocks) != 0) {
        return -1;
    }
    while (p->answered <= track->clocks) {
        track->request[p->answered++] = (uint8_t)p->request;
    }
    return 0;
}

int hy_track_play(hy_track *track, hy_log *log, hy_track_setup *setup, hy_diag *diag)
{
    memset(track, 0, sizeof *track);
    player *p = calloc(1, sizeof *p);
    track->level = calloc(1024, sizeof *track->level);
    int over = -1;
    if (p == NULL || track->level == NULL) {
        no_memory(diag);
    } else {
        *p = (player){.track = track,
                      .setup = setup,
                      .diag = diag,
                      .limit = setup->most != 0 ? setup->most : HY_TRACK_MOST + 1,
                      .fall_ps = -1,
                      .request = 1,
                      .level_room = 1024,
                      .end_ps = setup->end_ps};
        const hyoid_observer observer = {.user = p, .level = on_level, .request = on_request};
        const hyoid_status status = hyoid_stream_init(&p->stream, setup->part, 0, &observer);
        if (status != HYOID_OK) {
            hy_fail(diag, "cannot start the chip: %s", hyoid_status_text(status));
        } else if (find_falls(p, log) == 0) {
            over = play(p, log);
        }
        if (over >= 0) {
            over = finish(p, over);
            setup->end_ps = p->end_ps;
        }
        free(p->falls);
    }
    free(p);
    if (over != 0) {
        hy_track_free(track);
    }
    return over;
}

void hy_track_free(hy_track *track)
{
    free(track->stimulus);
    free(track->request);
    free(track->level);
    memset(track, 0, sizeof *track);
}
