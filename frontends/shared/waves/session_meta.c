/* The metadata of a session: sections of key=value; the first device that has samples is the one. */
#include <string.h>

#include "text.h"
#include "waves/session_private.h"

typedef struct place {
    const char *name; /* of the session */
    hy_diag *diag;
    unsigned line;
} place;

static int wrong(const place *p, const char *value, size_t length, const char *expected)
{
    return hy_fail(p->diag, "%s: metadata, line %u: found %s; expected %s", p->name, p->line,
                   length == 0 ? "nothing" : hy_show(value, length).text, expected);
}

/* Digits only. 0, or -1. */
static int whole(const char *s, size_t n, unsigned most, unsigned *value)
{
    *value = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned digit = (unsigned)(unsigned char)s[i] - '0';
        if (digit > 9 || *value > most / 10) {
            return -1;
        }
        *value = *value * 10 + digit;
    }
    return n > 0 && *value <= most ? 0 : -1;
}

static int take_probe(hy_session_meta *m, const place *p, const char *number, size_t digits, const char *value,
                      size_t length)
{
    unsigned n;
    if (whole(number, digits, HY_SESSION_UNIT_MAX * 8, &n) != 0 || n == 0) {
        return 0; /* some other key */
    }
    for (unsigned i = 0; i < m->channels.count; i++) {
        if (m->channels.all[i].place == n - 1) {
            return wrong(p, value, length, "one name for each probe");
        }
    }
    return hy_channels_add(&m->channels, value, length, n - 1, p->name, p->diag);
}

static int take(hy_session_meta *m, const place *p, const char *key, size_t key_length, const char *value,
                size_t length)
{
    if (hy_word_is(key, key_length, "capturefile")) {
        if (length == 0 || length > HY_SESSION_FILE_MAX || memchr(value, '/', length) != NULL) {
            return wrong(p, value, length, "the name of the samples' files, such as logic-1");
        }
        memcpy(m->file, value, length);
        m->file[length] = '\0';
    } else if (hy_word_is(key, key_length, "samplerate")) {
        if (hy_rate_read(value, length, &m->rate) != 0) {
            return wrong(p, value, length, "a sample rate of 1 Hz to 100 GHz, such as 1 MHz");
        }
    } else if (hy_word_is(key, key_length, "unitsize")) {
        if (whole(value, length, HY_SESSION_UNIT_MAX, &m->unit) != 0 || m->unit == 0) {
            return wrong(p, value, length, "the bytes of a sample, 1 to 64");
        }
    } else if (key_length > 5 && memcmp(key, "probe", 5) == 0) {
        return take_probe(m, p, key + 5, key_length - 5, value, length);
    }
    return 0;
}

static size_t trimmed(const char **s, size_t n)
{
    while (n > 0 && (**s == ' ' || **s == '\t')) {
        (*s)++;
        n--;
    }
    while (n > 0 && ((*s)[n - 1] == ' ' || (*s)[n - 1] == '\t' || (*s)[n - 1] == '\r')) {
        n--;
    }
    return n;
}

static int check(const hy_session_meta *m, const place *p)
{
    if (m->file[0] == '\0') {
        return hy_fail(p->diag, "%s: its metadata name no capturefile: there are no logic samples in it", p->name);
    }
    if (m->rate <= 0.0) {
        return hy_fail(p->diag, "%s: its metadata have no samplerate, so its samples have no times", p->name);
    }
    if (m->unit == 0) {
        return hy_fail(p->diag, "%s: its metadata have no unitsize, so its samples can't be told apart", p->name);
    }
    for (unsigned i = 0; i < m->channels.count; i++) {
        if (m->channels.all[i].place >= m->unit * 8) {
            return hy_fail(p->diag, "%s: its metadata name probe %u, but a sample has %u bits", p->name,
                           m->channels.all[i].place + 1, m->unit * 8);
        }
    }
    return 0;
}

int hy_session_meta_read(hy_session_meta *m, const char *text, size_t length, const char *name, hy_diag *diag)
{
    place p = {name, diag, 0};
    int device = 0;
    for (const char *end = text + length; text < end;) {
        const char *line = text;
        const char *stop = memchr(text, '\n', (size_t)(end - text));
        size_t n = (size_t)((stop != NULL ? stop : end) - text);
        text += n + (stop != NULL);
        p.line++;
        n = trimmed(&line, n);
        if (n > 0 && line[0] == '[') {
            if (device && m->file[0] != '\0') {
                break; /* further devices */
            }
            hy_channels_free(&m->channels); /* of a device without logic samples */
            *m = (hy_session_meta){0};
            device = n > 8 && memcmp(line, "[device ", 8) == 0;
            continue;
        }
        const char *equals = n > 0 ? memchr(line, '=', n) : NULL;
        if (!device || equals == NULL) {
            continue;
        }
        const char *key = line;
        const char *value = equals + 1;
        size_t value_length = trimmed(&value, n - (size_t)(value - line));
        if (take(m, &p, key, trimmed(&key, (size_t)(equals - line)), value, value_length) != 0) {
            return -1;
        }
    }
    return check(m, &p);
}
