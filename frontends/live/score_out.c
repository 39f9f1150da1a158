#include "score_out.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "../spell/rules.h"
#include "number.h"
#include "score_rows.h"

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

static int speaks(const hy_row *r)
{
    return r->event.signal != HY_CLOCK || r->changes || r->glide > 0;
}

static void rest_until(hy_rows *w, int64_t ps)
{
    if (ps > w->now) {
        fputs("rest ", w->out);
        put_time(w->out, ps - w->now);
        fputc('\n', w->out);
        w->now = ps;
    }
}

/* A phoneme, and ahead of it the hold with which the host comes to the next statement's instant, or rests until it. */
static void put_phoneme(hy_rows *w, const hy_row *r, const hy_row *next)
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

static void put_clock(hy_rows *w, const hy_row *r)
{
    if (r->changes) {
        fputs("clock ", w->out);
        put_hz(w->out, r->event.hz);
        fputc('\n', w->out);
    }
    if (r->glide > 0) {
        size_t last = (size_t)(r - w->rows);
        for (int k = 0; k < r->glide; k++) {
            last = hy_row_next_corner(w, last);
        }
        fputs("glide ", w->out);
        put_hz(w->out, w->rows[last].event.hz);
        fputs(" over ", w->out);
        put_time(w->out, w->rows[last].event.ps - r->event.ps);
        fputs(r->arc ? " exp\n" : "\n", w->out);
    }
}

static void put_rows(hy_rows *w)
{
    for (size_t i = 0; i < w->count; i++) {
        const hy_row *r = &w->rows[i];
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
    hy_rows w = {.log = log, .out = out, .diag = diag};
    const int result = hy_rows_read(&w, part);
    if (result == 0) {
        put_rows(&w);
    }
    free(w.rows);
    return result;
}
