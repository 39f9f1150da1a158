/* Reading: a recording, and what its input says it holds. */
#include "take.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct reader {
    hy_take *take;
    size_t count, room;
    int64_t *at; /* strobes, ps */
    int level;
} reader;

static int grow(reader *r)
{
    hy_take *t = r->take;
    if (r->count + 2 < r->room) {
        return 0;
    }
    size_t room = r->room > 0 ? 2 * r->room : 256;
    hy_said *said = realloc(t->said, room * sizeof *said);
    t->said = said != NULL ? said : t->said;
    double *seconds = realloc(t->seconds, room * sizeof *seconds);
    t->seconds = seconds != NULL ? seconds : t->seconds;
    unsigned char *uneven = realloc(t->uneven, room);
    t->uneven = uneven != NULL ? uneven : t->uneven;
    int64_t *at = realloc(r->at, room * sizeof *at);
    r->at = at != NULL ? at : r->at;
    if (said == NULL || seconds == NULL || uneven == NULL || at == NULL) {
        return -1;
    }
    r->room = room;
    return 0;
}

/* Walks the log up to the first change of clock. */
static int walk(reader *r, hy_log *log, int64_t *end, hy_diag *diag)
{
    hy_take *t = r->take;
    hy_event event;
    int got = hy_log_rewind(log, diag) == 0 ? 1 : -1;
    while (got > 0 && (got = hy_log_next(log, &event, diag)) > 0) {
        *end = event.ps;
        if (event.signal == HY_CLOCK) {
            if (event.to_ps > event.ps || (r->count > 0 && event.hz != t->stated_hz)) {
                snprintf(t->note, sizeof t->note,
                         "only what was said before the clock first changes (%.3f s) is used",
                         (double)event.ps * 1e-12);
                break;
            }
            t->stated_hz = event.hz;
        } else if (event.signal == HY_INFLECTION) {
            if (r->count > 0 && event.ps > r->at[r->count - 1] && event.number != r->level) {
                t->uneven[r->count - 1] = 1;
            }
            r->level = event.number;
        } else if (event.signal == HY_PHONEME) {
            if (grow(r) != 0) {
                return hy_fail(diag, "out of memory");
            }
            t->said[r->count] = (hy_said){(uint8_t)event.number, (uint8_t)r->level, 0, 0};
            t->uneven[r->count] = 0;
            r->at[r->count++] = event.ps;
        } else if (event.signal == HY_PIN) {
            return hy_fail(diag, "the input drives single pins; calibrate needs a score or a log of phoneme writes");
        }
    }
    /* inflection set in the instant of the next strobe belongs to that one */
    for (size_t i = 0; i + 1 < r->count; i++) {
        t->uneven[i] = t->uneven[i] && t->said[i].level == t->said[i + 1].level;
    }
    return got < 0 ? -1 : 0;
}

/* Which phonemes lasted until request, by the clock and the part with which the host played. */
static void lengths(reader *r, int from_score, const hyoid_part *prior, int64_t end)
{
    hy_take *t = r->take;
    for (size_t i = 0; i < t->items; i++) {
        double seconds = (double)((i + 1 < t->items ? r->at[i + 1] : end) - r->at[i]) * 1e-12;
        double own = (double)prior->phoneme[t->said[i].code].duration * prior->filter_clocks / t->stated_hz;
        t->said[i].waits = (uint8_t)(from_score && (seconds > own - 2e-6 || i + 1 == t->items));
        t->seconds[i] = t->said[i].waits ? fmax(seconds - own, 0) : seconds;
        if (t->seconds[i] < 3 / t->stated_hz) {
            t->seconds[i] = 0; /* the host's answer, a clock or two */
        }
    }
}

int hy_take_read(hy_take *t, const char *path, hy_input *input, const hyoid_part *prior, const hy_host_options *host,
                 double known_hz, hy_diag *diag)
{
    memset(t, 0, sizeof *t);
    reader r = {.take = t};
    int64_t end = 0;
    t->stated_hz = host->clock_hz;
    t->recording = hy_recording_read(path, 0, diag);
    int status = t->recording != NULL ? hy_recording_must_sound(t->recording, diag) : -1;
    status = status == 0 ? hy_hum_remove(t->recording, &t->hum, diag) : -1;
    if (status == 0) {
        status = walk(&r, input->log, &end, diag);
        t->items = r.count;
    }
    if (status == 0 && t->items < 2) {
        status = hy_fail(diag, "the input says fewer than two phonemes: nothing can be fitted to that");
    }
    if (status == 0 && t->stated_hz <= 0) {
        status = hy_fail(diag, "the input's clock stands still; calibrate needs one that runs");
    }
    if (status == 0) {
        lengths(&r, input->from_score, prior, end);
        t->clock_known = known_hz > 0;
        t->clock_hz = known_hz > 0 ? known_hz : t->stated_hz;
        t->onset_s = calloc(t->items + 1, sizeof *t->onset_s);
        t->onset = calloc(t->items + 1, sizeof *t->onset);
        status = t->onset_s != NULL && t->onset != NULL ? 0 : hy_fail(diag, "out of memory");
    }
    free(r.at);
    if (status != 0) {
        hy_take_free(t);
    }
    return status;
}

void hy_take_free(hy_take *t)
{
    hy_recording_free(t->recording);
    free(t->said);
    free(t->seconds);
    free(t->uneven);
    free(t->onset_s);
    free(t->onset);
    free(t->sound);
    memset(t, 0, sizeof *t);
}
