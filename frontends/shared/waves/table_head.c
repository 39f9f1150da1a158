/* What stands above a table's rows: comments that say the sample rate and the channels' names, and the heading. */
#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "waves/table_private.h"

static const char *const units[] = {"s", "ms", "us", "ns", "\xc2\xb5s", "\xce\xbcs", "sec", "seconds"};
static const int exponents[] = {0, -3, -6, -9, -6, -6, 0, 0};
enum { UNITS = sizeof units / sizeof units[0] };

static const char *const spelled[] = {"seconds",     "milliseconds", "microseconds", "nanoseconds",
                                      "picoseconds", "femtoseconds", "attoseconds"};
static const char samples[] = "samples";

int hy_table_spelled(const char *text, size_t length, int *exponent)
{
    for (int i = 0; i < (int)(sizeof spelled / sizeof spelled[0]); i++) {
        if (hy_word_is(text, length, spelled[i])) {
            *exponent = -3 * i;
            return 1;
        }
    }
    if (hy_word_is(text, length, samples)) {
        *exponent = 0;
        return 1;
    }
    return 0;
}

/* Behind KEY (in small letters here), spaces and a colon; null: the text says something else. */
static const char *value_of(const char *text, size_t length, const char *key, size_t *left)
{
    size_t n = strlen(key);
    size_t i = 0;
    while (i < length && text[i] == ' ') {
        i++;
    }
    if (length - i < n || !hy_word_is(text + i, n, key)) {
        return NULL;
    }
    const char *colon = memchr(text + i + n, ':', length - i - n);
    if (colon == NULL) {
        return NULL;
    }
    const char *value = colon + 1;
    while (value < text + length && *value == ' ') {
        value++;
    }
    *left = (size_t)(text + length - value);
    return value;
}

int hy_table_comment(hy_table *t, const char *text, size_t length)
{
    size_t left;
    const char *value = value_of(text, length, "samplerate", &left);
    if (value != NULL) {
        if (hy_rate_read(value, left, &t->rate) != 0) {
            return hy_fail_at(t->diag, t->name, t->number, 1,
                              "found a sample rate of %s; expected 1 Hz to 100 GHz, such as 1 MHz",
                              hy_show(value, left).text);
        }
        t->stated = 1;
        return 0;
    }
    value = value_of(text, length, "channels", &left);
    if (value != NULL && t->names == NULL) {
        t->names = strndup(value, left);
        return t->names != NULL ? 0 : hy_fail(t->diag, "not enough memory to read %s", t->name);
    }
    return 0;
}

/* ---- the heading ---- */

static int is_level(const hy_table_field *f)
{
    return f->length == 1 && strchr("01xXzZ", f->text[0]) != NULL;
}

static int is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* A time's heading: "Time", "time_s", "Time [ms]", "Time (us)", "Timestamp", "nanoseconds". The unit's exponent; 1: it names
 * none. */
static int is_time(const hy_table_field *f, int *exponent)
{
    if (hy_table_spelled(f->text, f->length, exponent)) {
        return 1;
    }
    if (f->length < 4 || !hy_word_is(f->text, 4, "time")) {
        return 0;
    }
    *exponent = 1;
    size_t end = f->length;
    while (end > 4 && strchr(" ])", f->text[end - 1]) != NULL) {
        end--;
    }
    size_t start = end;
    for (; start > 4 && strchr(" [(_-", f->text[start - 1]) == NULL;) {
        start--;
    }
    for (int i = 0; start > 4 && i < UNITS; i++) {
        if (hy_word_is(f->text + start, end - start, units[i])) {
            *exponent = exponents[i];
        }
    }
    return 1;
}

static char separator_of(const char *line, size_t length)
{
    static const char marks[] = {',', '\t', ';'};
    for (size_t i = 0; i < sizeof marks; i++) {
        if (memchr(line, marks[i], length) != NULL) {
            return marks[i];
        }
    }
    return ',';
}

static unsigned names_listed(const hy_table *t)
{
    unsigned count = t->names != NULL && t->names[0] != '\0';
    for (const char *at = t->names; count > 0 && *at != '\0'; at++) {
        count += *at == ',';
    }
    return count;
}

/* Names in the order of a comment's list; the heading may repeat one word for all. Behind them a trigger's column may stand. */
static int name_by_comment(hy_table *t, const char *at, unsigned first)
{
    const unsigned listed = names_listed(t), channels = t->columns - first;
    const int trigger = channels == listed + 1 && t->trigger;
    if (channels != listed + (unsigned)trigger) {
        return hy_fail_at(t->diag, t->name, t->number, 1,
                          "%u columns, but the comment above names %u channels; as many of both would be right",
                          channels, listed);
    }
    for (unsigned column = first; column < t->columns; column++) {
        size_t length = strcspn(at, ",");
        int named = column - first < listed;
        if (hy_channels_add(&t->channels, named ? at : "Trigger", named ? length : strlen("Trigger"), column, t->name,
                            t->diag) != 0) {
            return -1;
        }
        at += length;
        at += *at == ',';
        at += strspn(at, " ");
    }
    return 0;
}

static int name_by_heading(hy_table *t, unsigned first, int titled)
{
    size_t at = 0;
    hy_table_field field;
    for (unsigned column = 0; column < t->columns && hy_table_field_next(t, &at, &field); column++) {
        char name[24];
        snprintf(name, sizeof name, "D%u", column - first);
        int given = titled && field.length > 0;
        if (column >= first && hy_channels_add(&t->channels, given ? field.text : name,
                                               given ? field.length : strlen(name), column, t->name, t->diag) != 0) {
            return -1;
        }
    }
    return 0;
}

/* How a row without headings is to be taken: sigrok-cli's, whose comment lists the channels, may have a time ahead of them and a
 * trigger behind. */
static int is_untitled_time(hy_table *t)
{
    const unsigned listed = names_listed(t);
    t->trigger = listed > 0 && t->columns == listed + 2;
    return listed > 0 && (t->columns == listed + 1 || t->trigger);
}

static int settle_time(hy_table *t, const hy_table_field *first, int timed, int exponent)
{
    int power;
    t->spelled = timed && hy_table_spelled(first->text, first->length, &power);
    const int numbered = timed && hy_word_is(first->text, first->length, samples);
    if ((!timed || numbered) && t->rate <= 0.0) {
        return hy_fail_at(t->diag, t->name, t->number, 1,
                          "no column of times and no sample rate; --map rate=1M (or what it was) says it");
    }
    t->time = !timed                      ? HY_TABLE_SAMPLES
              : numbered                  ? HY_TABLE_NUMBERED
              : exponent > 0 && t->stated ? HY_TABLE_COUNTED
                                          : HY_TABLE_STAMPED;
    t->exponent = exponent > 0 ? 0 : exponent;
    return 0;
}

/* What the first line that is no comment looks like. */
typedef struct heading {
    hy_table_field first, last;
    int titled, timed, exponent;
    int same; /* one word for all channels, such as sigrok-cli's "logic" */
} heading;

static heading look(hy_table *t)
{
    heading h = {.exponent = 1};
    hy_table_field field, channel = {.text = ""};
    unsigned others = 0;
    size_t at = 0;
    for (; hy_table_field_next(t, &at, &field); t->columns++) {
        if (t->columns == 0) {
            h.first = field;
            h.timed = is_time(&field, &h.exponent);
        }
        if (t->columns == (unsigned)h.timed) {
            channel = field;
        } else if (t->columns > (unsigned)h.timed) {
            others += field.length != channel.length || memcmp(field.text, channel.text, field.length) != 0;
        }
        h.titled = h.titled || !is_level(&field);
        h.last = field;
    }
    t->trigger = hy_word_is(h.last.text, h.last.length, "trigger");
    h.same = others == (unsigned)t->trigger;
    return h;
}

/* Looks at the first line that is no comment: a heading, or a row already. */
int hy_table_head(hy_table *t)
{
    if (t->length == 0) {
        return hy_fail(t->diag, "%s: there is no row in it", t->name);
    }
    t->separator = separator_of(t->line, t->length);
    heading h = look(t);
    const int levels_named = !h.titled || (is_digit(t->line[0]) && !h.timed);
    if (levels_named && is_untitled_time(t)) { /* 125,0,1 under `; Channels (2/2): strobe, request` */
        h.timed = 1;
        h.titled = 0;
        t->stated = 1;
    } else if (h.titled && !h.timed && is_digit(t->line[0])) {
        return hy_table_wrong(t, &h.last,
                              "a heading above the rows of a time and levels, such as Time [s],strobe,...");
    }
    t->waiting = !h.titled;
    if (settle_time(t, &h.first, h.timed, h.exponent) != 0) {
        return -1;
    }
    if (t->columns == (unsigned)h.timed) {
        return hy_fail_at(t->diag, t->name, t->number, 1,
                          "no channel beside the time; one column each would be right");
    }
    const unsigned first = (unsigned)h.timed, channels = t->columns - first - (unsigned)t->trigger;
    const int named = h.titled && !(h.same && channels > 1); /* one word for all names none */
    return t->names != NULL && !named ? name_by_comment(t, t->names, first) : name_by_heading(t, first, named);
}
