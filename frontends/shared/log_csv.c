/* The write log as CSV, read in a stream: what its rows mean. */
#include "log.h"

#include <string.h>

#include <hyoid/hyoid.h>

#include "log_csv_private.h"
#include "number.h"
#include "text.h"

#define ROWS_MAX 50000000u
#define NAME_MAX_COLUMNS 64

typedef enum row_kind {
    ROW_PHONEME,
    ROW_INFLECTION,
    ROW_CLOCK,
    ROW_CLOCK_TO,
    ROW_PIN,
    ROW_REQUEST,
    ROW_MARK,
    ROW_END
} row_kind;

static const char *const signals[] = {"phoneme", "inflection", "clock_hz", "clock_to", "p0", "p1",
                                      "p2",      "p3",         "p4",       "p5",       "i0", "i1",
                                      "strobe",  "request",    "mark",     "end"};
#define SIGNALS (sizeof signals / sizeof signals[0])

/* signals[] has the pins in the order of hy_pin, from here on */
#define FIRST_PIN 4

/* ---- values ---- */

static int read_time(hy_log_reader *r, const hy_log_field *f, int64_t *ps)
{
    hy_decimal number;
    if (f->text[0] == '-') {
        return hy_log_wrong_field(r, f, "a time from 0 on, in seconds");
    }
    if (f->length == 0 || hy_decimal_read(f->text, f->length, 1, &number) != f->length) {
        return hy_log_wrong_field(r, f, "a time in seconds, such as 0.012345678901");
    }
    switch (hy_decimal_whole(&number, 12, HY_LOG_TIME_MAX, ps)) {
    case HY_TOO_FINE:
        return hy_log_wrong_field(r, f, "at most 12 decimals (whole picoseconds)");
    case HY_TOO_LARGE:
        return hy_log_wrong_field(r, f, "at most 4000000 seconds");
    case HY_EXACT:
        break;
    }
    if (*ps < r->last_ps) {
        char expected[80];
        snprintf(expected, sizeof expected, "at least %s, the time of the row before", hy_ps_text(r->last_ps).text);
        return hy_log_wrong_field(r, f, expected);
    }
    return 0;
}

static int read_integer(hy_log_reader *r, const hy_log_field *f, const char *what, int most, int32_t *value)
{
    int32_t sum = 0;
    size_t i = 0;
    while (i < f->length && i < 4 && f->text[i] >= '0' && f->text[i] <= '9') {
        sum = sum * 10 + (f->text[i++] - '0');
    }
    if (i == 0 || i != f->length || sum > most) {
        char expected[60];
        snprintf(expected, sizeof expected, "%s, 0 to %d", what, most);
        return hy_log_wrong_field(r, f, expected);
    }
    *value = sum;
    return 0;
}

static int read_hz(hy_log_reader *r, const hy_log_field *f, double *hz)
{
    hy_decimal number;
    if (f->length > 0 && hy_decimal_read(f->text, f->length, 1, &number) == f->length) {
        *hz = hy_decimal_double(&number, 0);
        if (*hz <= HYOID_CLOCK_MAX) {
            return 0;
        }
    }
    return hy_log_wrong_field(r, f, "a frequency in Hz, 0 to 100000000");
}

static int read_clock(hy_log_reader *r, int64_t ps, int glides, double *hz)
{
    const hy_log_field *value = &r->fields[2];
    if (read_hz(r, value, hz) != 0) {
        return -1;
    }
    if (glides && !r->has_clock) {
        return hy_log_wrong_field(r, &r->fields[1], "clock_hz; the first clock row has nothing to glide from");
    }
    if (glides && ps == r->clock_ps && *hz != r->clock_hz) {
        return hy_log_wrong_field(
            r, value, "a later time: the clock can't glide to another frequency at the instant of its start");
    }
    r->has_clock = 1;
    r->clock_ps = ps;
    r->clock_hz = *hz;
    return 0;
}

static int read_mark(hy_log_reader *r, int32_t *index)
{
    const hy_log_field *f = &r->fields[2];
    if (f->length == 0 || hy_text_columns(f->text, f->length) > NAME_MAX_COLUMNS) {
        return hy_log_wrong_field(r, f, "a mark's name of 1 to 64 characters");
    }
    *index = hy_log_add_mark(r->log, f->text, r->diag);
    return *index < 0 ? -1 : 0;
}

static size_t find_signal(const char *name)
{
    size_t i = 0;
    while (i < SIGNALS && strcmp(name, signals[i]) != 0) {
        i++;
    }
    return i;
}

static row_kind kind_of(size_t signal)
{
    if (signal >= FIRST_PIN && signal < FIRST_PIN + HY_PINS) {
        return ROW_PIN;
    }
    return signal < FIRST_PIN ? (row_kind)signal : (row_kind)(signal - FIRST_PIN - HY_PINS + ROW_REQUEST);
}

static int unknown_signal(hy_log_reader *r, const hy_log_field *f)
{
    char expected[200];
    hy_near near = hy_near_names(f->text, f->length, signals, SIGNALS);
    if (near.text[0] != '\0') {
        snprintf(expected, sizeof expected, "a signal; nearest: %s", near.text);
    } else {
        snprintf(expected, sizeof expected,
                 "phoneme, inflection, clock_hz, clock_to, p0..p5, i0, i1, strobe, request, mark or end");
    }
    return hy_log_wrong_field(r, f, expected);
}

static int read_row(hy_log_reader *r)
{
    const hy_log_field *value = &r->fields[2];
    hy_event event = {0};
    size_t signal = find_signal(r->fields[1].text);
    if (r->ended) {
        return hy_log_wrong_field(r, &r->fields[0], "nothing after the end row");
    }
    if (read_time(r, &r->fields[0], &event.ps) != 0) {
        return -1;
    }
    if (signal == SIGNALS) {
        return unknown_signal(r, &r->fields[1]);
    }
    r->last_ps = event.ps;
    row_kind kind = kind_of(signal);
    int status = 0;
    switch (kind) {
    case ROW_PHONEME:
        event.signal = HY_PHONEME;
        status = read_integer(r, value, "a phoneme code", 63, &event.number);
        break;
    case ROW_INFLECTION:
        event.signal = HY_INFLECTION;
        status = read_integer(r, value, "an inflection level", 3, &event.number);
        break;
    case ROW_CLOCK:
    case ROW_CLOCK_TO:
        event.signal = HY_CLOCK;
        status = read_clock(r, event.ps, kind == ROW_CLOCK_TO, &event.hz);
        break;
    case ROW_PIN:
        event.signal = HY_PIN;
        status = read_integer(r, value, "a pin level", 1, &event.number);
        event.number += 2 * (int32_t)(signal - FIRST_PIN);
        break;
    case ROW_REQUEST:
        return 0; /* the chip's answer, which the model gives anew */
    case ROW_MARK:
        event.signal = HY_MARK;
        status = read_mark(r, &event.number);
        break;
    case ROW_END:
        event.signal = HY_END;
        r->ended = 1;
        status = strcmp(value->text, "0") == 0 ? 0 : hy_log_wrong_field(r, value, "0, the value of every end row");
        break;
    }
    return status != 0 ? -1 : hy_log_append(r->log, &event, kind == ROW_CLOCK_TO, r->diag);
}

static int check_row(hy_log_reader *r)
{
    static const char *const names[HY_LOG_FIELDS] = {"time_s", "signal", "value"};
    if (r->count > HY_LOG_FIELDS) {
        char found[40];
        snprintf(found, sizeof found, "%u columns", r->count);
        return hy_log_wrong(r, r->extra, found, "3: time_s,signal,value");
    }
    for (unsigned i = 0; !r->header_seen && i < r->count; i++) {
        if (strcmp(r->fields[i].text, names[i]) != 0) {
            return hy_log_wrong_field(r, &r->fields[i], "the header time_s,signal,value");
        }
    }
    if (r->count < HY_LOG_FIELDS) {
        char found[40];
        snprintf(found, sizeof found, "%u column%s", r->count, r->count == 1 ? "" : "s");
        return hy_log_wrong(r, (unsigned)hy_text_columns(r->line, r->length) + 1, found, "3: time_s,signal,value");
    }
    if (!r->header_seen) {
        r->header_seen = 1;
        return 0;
    }
    if (++r->rows > ROWS_MAX) {
        return hy_log_wrong(r, 1, "more than 50000000 rows", "a shorter log");
    }
    return read_row(r);
}

static int read_all(hy_log_reader *r)
{
    int more;
    while ((more = hy_log_line(r)) > 0) {
        int row = hy_log_split(r);
        if (row < 0 || (row > 0 && check_row(r) != 0)) {
            return -1;
        }
    }
    if (more < 0) {
        return -1;
    }
    if (!r->header_seen) {
        return hy_log_wrong(r, 1, "the end of the file", "the header time_s,signal,value");
    }
    hy_event end = {.ps = r->last_ps, .signal = HY_END};
    return r->ended ? 0 : hy_log_append(r->log, &end, 0, r->diag);
}

hy_log *hy_log_read_csv(FILE *in, const char *name, hy_diag *diag)
{
    hy_log_reader r = {.in = in, .name = name, .diag = diag};
    if (csv_init(&r.csv, CSV_STRICT) != 0) {
        hy_fail(diag, "%s: the CSV reader can't start", name);
        return NULL;
    }
    r.log = hy_log_new(diag);
    if (r.log != NULL && read_all(&r) != 0) {
        hy_log_free(r.log);
        r.log = NULL;
    }
    csv_free(&r.csv);
    return r.log;
}
