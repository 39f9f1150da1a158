#include "score_out.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../spell/rules.h"
#include "number.h"
#include "score.h"

#define LINEAR_EXACT 1e-9 /* relative: corners of one linear glide */
#define ARC_EXACT 1e-4    /* relative: corners of one exponential glide, of which some lie on chords */
#define RUN_MAX 8192      /* pieces in one glide */

typedef struct row {
    hy_event event;
    int64_t reached; /* phoneme: when its request could be seen before the next row but one; -1: not */
    int glide;   /* clock: pieces of the glide that starts here; 0: none; -1: a corner within or at the end of one */
    int arc;     /* it is exponential */
    int changes; /* clock: it jumps here */
} row;

typedef struct writer {
    hy_log *log;
    row *rows;
    size_t count, room;
    hyoid_stream chip;
    int64_t now, hold;
    FILE *out;
    hy_diag *diag;
} writer;

/* ---- the rows, single pins put together ---- */

static int keep(writer *w, const hy_event *event)
{
    if (w->count == w->room) {
        const size_t room = w->room == 0 ? 1024 : 2 * w->room;
        row *rows = realloc(w->rows, room * sizeof *rows);
        if (rows == NULL) {
            return hy_fail(w->diag, "not enough memory for a score of this log");
        }
        w->rows = rows;
        w->room = room;
    }
    row *last = w->count > 0 ? &w->rows[w->count - 1] : NULL;
    const row new = {.event = *event, .reached = -1};
    if (last == NULL || last->event.signal != HY_PHONEME || last->event.ps != event->ps || event->signal == HY_END) {
        w->rows[w->count++] = new;
    } else if (event->signal == HY_PHONEME) { /* of two strobes at one instant the later one stands */
        *last = new;
    } else { /* in a score, what belongs to a strobe's instant stands ahead of it */
        w->rows[w->count++] = *last;
        w->rows[w->count - 2] = new;
    }
    return 0;
}

static int keep_pin(writer *w, const hy_event *event, unsigned *pins)
{
    const unsigned pin = (unsigned)event->number / 2, bit = 1U << pin, before = *pins;
    *pins = event->number % 2 != 0 ? before | bit : before & ~bit;
    hy_event whole = {.ps = event->ps};
    if (pin == HY_STROBE && (before & bit) == 0 && (*pins & bit) != 0) {
        whole.signal = HY_PHONEME;
        whole.number = (int32_t)(*pins & 63U);
        return keep(w, &whole);
    }
    if ((pin == HY_I0 || pin == HY_I1) && *pins != before) {
        whole.signal = HY_INFLECTION;
        whole.number = (int32_t)(*pins >> HY_I0 & 3U);
        return keep(w, &whole);
    }
    return 0;
}

static int read_rows(writer *w)
{
    hy_event event;
    unsigned pins = 0;
    int more = hy_log_rewind(w->log, w->diag);
    while (more >= 0 && (more = hy_log_next(w->log, &event, w->diag)) == 1) {
        if (event.signal == HY_INFLECTION) {
            pins = (pins & ~(3U << HY_I0)) | (unsigned)event.number << HY_I0;
        }
        if ((event.signal == HY_PIN ? keep_pin(w, &event, &pins) : keep(w, &event)) != 0) {
            return -1;
        }
    }
    return more;
}

/* ---- what the chip answers ---- */

static void answer(writer *w)
{
    row *said = NULL;
    for (size_t i = 0; i < w->count; i++) {
        row *r = &w->rows[i];
        const hy_event *e = &r->event;
        if (said != NULL && said->reached < 0) {
            int64_t reached;
            hyoid_stream_run_to_request(&w->chip, e->ps, &reached);
            said->reached = reached;
        }
        hyoid_stream_run(&w->chip, e->ps);
        switch ((hy_signal)e->signal) {
        case HY_PHONEME:
            hyoid_stream_write(&w->chip, e->ps, (unsigned)e->number);
            said = r;
            break;
        case HY_INFLECTION:
            hyoid_stream_set_inflection(&w->chip, e->ps, (unsigned)e->number);
            break;
        case HY_CLOCK:
            r->changes = e->ps == 0 || hyoid_stream_clock_hz(&w->chip) != e->hz;
            hyoid_stream_set_clock(&w->chip, e->ps, e->hz);
            if (e->to_ps > e->ps) {
                hyoid_stream_glide_clock(&w->chip, e->ps, e->to_ps, e->to_hz);
            }
            break;
        case HY_PIN:
        case HY_MARK:
        case HY_END:
            break;
        }
    }
}

/* ---- pieces put together to glides ---- */

/* The clock row that continues the piece of row i without a jump, or 0. */
static size_t next_corner(const writer *w, size_t i)
{
    const hy_event *e = &w->rows[i].event;
    for (size_t k = i + 1; e->to_ps > e->ps && k < w->count && w->rows[k].event.ps <= e->to_ps; k++) {
        if (w->rows[k].event.signal == HY_CLOCK) {
            return w->rows[k].event.ps == e->to_ps && w->rows[k].event.hz == e->to_hz ? k : 0;
        }
    }
    return 0;
}

static int fits(const writer *w, const size_t *corners, size_t n, int arc)
{
    const hy_event *a = &w->rows[corners[0]].event, *z = &w->rows[corners[n]].event;
    if (arc && !(a->hz > 0.0 && z->hz > 0.0)) {
        return 0;
    }
    for (size_t i = 1; i < n; i++) {
        const hy_event *e = &w->rows[corners[i]].event;
        const double share = (double)(e->ps - a->ps) / (double)(z->ps - a->ps);
        const double hz = arc ? a->hz * pow(z->hz / a->hz, share) : a->hz + (z->hz - a->hz) * share;
        if (!(fabs(e->hz - hz) <= (arc ? ARC_EXACT : LINEAR_EXACT) * fmax(a->hz, z->hz))) {
            return 0;
        }
    }
    return 1;
}

/* The most pieces from the first corner on that make one glide. The search doubles, then halves. */
static size_t longest(const writer *w, const size_t *corners, size_t n, int arc)
{
    size_t good = 1, bad = n + 1;
    for (size_t k = 2; k <= n; k *= 2) {
        if (!fits(w, corners, k, arc)) {
            bad = k;
            break;
        }
        good = k;
    }
    while (bad - good > 1) {
        const size_t k = good + (bad - good) / 2;
        if (fits(w, corners, k, arc)) {
            good = k;
        } else {
            bad = k;
        }
    }
    return good;
}

static int join_glides(writer *w)
{
    size_t *corners = calloc(RUN_MAX + 1, sizeof *corners);
    if (corners == NULL) {
        return hy_fail(w->diag, "not enough memory for a score of this log");
    }
    for (size_t i = 0; i < w->count; i++) {
        const hy_event *e = &w->rows[i].event;
        if (e->signal != HY_CLOCK || w->rows[i].glide < 0 || e->to_ps <= e->ps) {
            continue;
        }
        size_t n = 0, next;
        corners[0] = i;
        while (n < RUN_MAX && (next = next_corner(w, corners[n])) != 0) {
            corners[++n] = next;
        }
        if (n == 0) {
            continue;
        }
        const size_t line = longest(w, corners, n, 0), arc = longest(w, corners, n, 1);
        const size_t pieces = arc > line ? arc : line;
        w->rows[i].arc = arc > line;
        w->rows[i].glide = (int)pieces;
        for (size_t k = 1; k < pieces; k++) {
            w->rows[corners[k]].glide = -1;
        }
    }
    free(corners);
    return 0;
}

/* ---- text ---- */

static void put_time(FILE *out, int64_t ps)
{
    char text[40];
    int n = snprintf(text, sizeof text, "%" PRId64 ".%09" PRId64, ps / 1000000000, ps % 1000000000);
    while (text[n - 1] == '0') {
        n--;
    }
    n -= text[n - 1] == '.';
    fprintf(out, "%.*sms", n, text);
}

/* Scores know no exponents. */
static void put_hz(FILE *out, double hz)
{
    const hy_number_text shortest = hy_double_text(hz);
    if (strpbrk(shortest.text, "eE") == NULL) {
        fputs(shortest.text, out);
    } else {
        fprintf(out, "%.30f", hz);
    }
}

/* ---- statements ---- */

static int speaks(const row *r)
{
    return r->event.signal != HY_CLOCK || r->changes || r->glide > 0;
}

static void rest_until(writer *w, int64_t ps)
{
    if (ps > w->now) {
        fputs("rest ", w->out);
        put_time(w->out, ps - w->now);
        fputc('\n', w->out);
        w->now = ps;
    }
}

/* A phoneme, and ahead of it the hold with which the host comes to the next statement's instant, or rests until it. */
static void put_phoneme(writer *w, const row *r, const row *next)
{
    const int64_t strobe = r->event.ps;
    const int64_t to = next->event.ps;
    const int64_t by_request = r->reached >= 0 ? r->reached + 1 : INT64_MAX;
    int64_t hold = w->hold;
    if (next->event.signal == HY_END && to < by_request) {
        hold = w->hold;           /* nothing cuts it */
    } else if (to < by_request) { /* a hold cuts it, or the host only looks up in its midst */
        hold = to - strobe;
    } else if (w->hold > 0 && w->hold < by_request - strobe) {
        hold = 0;
    }
    if (hold != w->hold) {
        fputs("hold ", w->out);
        if (hold > 0) {
            put_time(w->out, hold);
        } else {
            fputs("off", w->out);
        }
        fputc('\n', w->out);
        w->hold = hold;
    }
    fprintf(w->out, "%s\n", hy_code_name((unsigned)r->event.number).text);
    w->now = to < by_request ? to : by_request;
}

static void put_clock(writer *w, const row *r)
{
    if (r->changes) {
        fputs("clock ", w->out);
        put_hz(w->out, r->event.hz);
        fputc('\n', w->out);
    }
    if (r->glide > 0) {
        size_t last = (size_t)(r - w->rows);
        for (int k = 0; k < r->glide; k++) {
            last = next_corner(w, last);
        }
        fputs("glide ", w->out);
        put_hz(w->out, w->rows[last].event.hz);
        fputs(" over ", w->out);
        put_time(w->out, w->rows[last].event.ps - r->event.ps);
        fputs(r->arc ? " exp\n" : "\n", w->out);
    }
}

static void put_rows(writer *w)
{
    for (size_t i = 0; i < w->count; i++) {
        const row *r = &w->rows[i];
        if (!speaks(r)) {
            continue;
        }
        size_t next = i + 1;
        while (next + 1 < w->count && !speaks(&w->rows[next])) {
            next++;
        }
        rest_until(w, r->event.ps);
        switch ((hy_signal)r->event.signal) {
        case HY_PHONEME:
            if (next < w->count) {
                put_phoneme(w, r, &w->rows[next]);
            }
            break;
        case HY_INFLECTION:
            fprintf(w->out, "level %d\n", (int)r->event.number);
            break;
        case HY_CLOCK:
            put_clock(w, r);
            break;
        case HY_MARK: {
            const char *name = hy_log_mark_name(w->log, r->event.number);
            if (name[strcspn(name, " \t{}#")] == '\0') { /* a score's marks are words */
                fprintf(w->out, "mark %s\n", name);
            }
            break;
        }
        case HY_PIN:
        case HY_END:
            break;
        }
    }
}

int hy_score_write(hy_log *log, const hyoid_part *part, FILE *out, hy_diag *diag)
{
    writer w = {.log = log, .out = out, .diag = diag};
    int result = read_rows(&w);
    if (result == 0 && hyoid_stream_init(&w.chip, part, 0, NULL) != HYOID_OK) {
        result = hy_fail(diag, "the part is damaged");
    }
    if (result == 0) {
        answer(&w);
        result = join_glides(&w);
    }
    if (result == 0) {
        put_rows(&w);
    }
    free(w.rows);
    return result;
}
