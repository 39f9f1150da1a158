#include "command.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "number.h"
#include "score.h"
#include "text.h"
#include "wire.h"

const char hy_command_help[] =
    "play, pause, again         the loaded score\n"
    "say hh eh/71 l ow          a score's text; `strobe 0x1b` one code at once, cutting what sounds\n"
    "word high water            English\n"
    "babble on [SEED] | off     pseudo-random phonemes\n"
    "hush                       forget what was typed or babbled\n"
    "clock 650k | +1% | -2st    the clock, at once: hertz, percent or semitones; `nominal` resets it\n"
    "sweep 300k over 2s [exp]   the clock, gradually; `back` returns in the same time\n"
    "zero [over 2s]             the clock down to 0, or up again\n"
    "level 0..3                 inflection\n"
    "hold 80ms | off            cut each phoneme after that time\n"
    "sustain on | off           let the last phoneme sound on\n"
    "volume -12 | +3dB | -3dB   in dB (0 is the loudest; a sign and dB: a step)\n"
    "limiter on | off\n"
    "record FILE.wav | off      sound, write log and score; `record` alone finds a name\n"
    "wait 1.5s | wait           for a time, or until nothing is being said\n"
    "status, help, quit\n"
    "at 2.5s COMMAND            at that time of the stream, exactly\n";

typedef struct words {
    const char *rest; /* what follows the words taken so far */
    const char *word; /* the one taken last */
    size_t length;
    hy_diag *diag;
} words;

static int next(words *w)
{
    w->rest += strspn(w->rest, " \t");
    w->word = w->rest;
    w->length = strcspn(w->rest, " \t");
    w->rest += w->length;
    return w->length > 0;
}

static int is(const words *w, const char *name)
{
    return hy_word_is(w->word, w->length, name);
}

static int expected(words *w, const char *what)
{
    const hy_shown shown = hy_show(w->word, w->length);
    return w->length > 0 ? hy_fail(w->diag, "found %s; expected %s", shown.text, what)
                         : hy_fail(w->diag, "found the end of the line; expected %s", what);
}

static int end_of_line(words *w)
{
    return next(w) ? expected(w, "nothing more") : 0;
}

/* ---- values ---- */

static int read_span(words *w, int64_t least, int64_t *ps)
{
    static const struct {
        const char *unit;
        int shift;
    } units[] = {{"us", 6}, {"ms", 9}, {"s", 12}};
    hy_decimal decimal;
    const size_t used = next(w) ? hy_decimal_read(w->word, w->length, 0, &decimal) : 0;
    for (size_t i = 0; used > 0 && i < 3; i++) {
        if (w->length - used == strlen(units[i].unit) &&
            memcmp(w->word + used, units[i].unit, w->length - used) == 0 &&
            hy_decimal_whole(&decimal, units[i].shift, INT64_C(86400) * HYOID_PS_PER_S, ps) == HY_EXACT &&
            *ps >= least) {
            return 0;
        }
    }
    return expected(w, least > 0 ? "a time above 0, such as 80ms or 1.5s" : "a time, such as 80ms or 1.5s");
}

static int read_hz(words *w, double *hz)
{
    return next(w) && hy_hz_read(w->word, w->length, hz) == 0 && *hz <= HYOID_CLOCK_MAX
               ? 0
               : expected(w, "a frequency of 0 to 100M, such as 650k");
}

/* A signed decimal with a unit behind it. */
static int signed_with(const words *w, const char *unit, double *value)
{
    const int sign = w->length > 0 && (w->word[0] == '+' || w->word[0] == '-');
    hy_decimal decimal;
    const size_t used = hy_decimal_read(w->word + sign, w->length - (size_t)sign, 0, &decimal);
    const size_t left = w->length - (size_t)sign - used;
    if (used == 0 || left != strlen(unit) || memcmp(w->word + (size_t)sign + used, unit, left) != 0) {
        return 0;
    }
    *value = hy_decimal_double(&decimal, 0) * (w->word[0] == '-' ? -1.0 : 1.0);
    return 1;
}

static int read_switch(words *w, int *on)
{
    if (!next(w)) {
        *on = HY_TOGGLED;
        return 0;
    }
    *on = is(w, "on");
    return *on || is(w, "off") ? 0 : expected(w, "on or off");
}

static int read_over(words *w, int64_t *ps)
{
    return next(w) && is(w, "over") ? read_span(w, 1, ps) : expected(w, "over, and a time");
}

int hy_command_code(const char *word)
{
    const char *slash = strchr(word, '/');
    const size_t n = slash != NULL ? (size_t)(slash - word) : strlen(word);
    int best = -1;
    if (strncmp(word, "0x", 2) == 0) {
        char *end;
        const unsigned long code = strtoul(word + 2, &end, 16);
        return word[2] != '\0' && *end == '\0' && code < 64 ? (int)code : -1;
    }
    for (int code = 0; code < 64; code++) {
        const hy_symbol *s = &hy_symbols[code];
        if (hy_word_is(word, n, s->symbol) && (slash == NULL || atoi(slash + 1) == s->nominal_ms) &&
            (best < 0 || s->nominal_ms > hy_symbols[best].nominal_ms)) {
            best = code;
        }
    }
    return best;
}

/* ---- commands ---- */

static int read_clock(words *w, hy_command *c)
{
    double amount;
    c->kind = HY_CMD_STEP;
    if (next(w) && signed_with(w, "%", &amount) && amount > -100.0 && amount <= 10000.0) {
        c->value = 1.0 + amount / 100.0;
    } else if (w->length > 0 && signed_with(w, "st", &amount) && fabs(amount) <= 120.0) {
        c->value = exp2(amount / 12.0);
    } else {
        c->kind = HY_CMD_CLOCK;
        if (hy_hz_read(w->word, w->length, &c->value) != 0 || !(c->value <= HYOID_CLOCK_MAX)) {
            return expected(w, "a frequency such as 650k, or a step such as +1% or -2st");
        }
    }
    return end_of_line(w);
}

static int read_sweep(words *w, hy_command *c)
{
    if (read_hz(w, &c->value) != 0 || read_over(w, &c->span) != 0) {
        return -1;
    }
    if (next(w)) {
        c->exponential = 1;
        return is(w, "exp") && c->value > 0.0 ? end_of_line(w)
                                              : expected(w, "nothing more, or exp to a clock above 0");
    }
    return 0;
}

static int read_zero(words *w, hy_command *c)
{
    c->span = 2 * HYOID_PS_PER_S;
    if (next(w)) {
        return is(w, "over") && read_span(w, 1, &c->span) == 0 ? end_of_line(w) : expected(w, "over, and a time");
    }
    return 0;
}

static int read_hold(words *w, hy_command *c)
{
    double amount;
    const words before = *w;
    if (next(w) && is(w, "off")) {
        return end_of_line(w);
    }
    if (signed_with(w, "%", &amount) && amount > -100.0 && amount <= 1000.0) {
        c->kind = HY_CMD_HOLD_STEP;
        c->value = 1.0 + amount / 100.0;
        return end_of_line(w);
    }
    *w = before;
    return read_span(w, HYOID_PS_PER_S / 1000, &c->span) == 0 ? end_of_line(w)
                                                              : expected(w, "a time of 1ms or more, or off");
}

static int read_volume(words *w, hy_command *c)
{
    if (next(w) && signed_with(w, "dB", &c->value) && (w->word[0] == '+' || w->word[0] == '-') &&
        fabs(c->value) < 100.0) {
        c->kind = HY_CMD_VOLUME_STEP;
        return end_of_line(w);
    }
    return signed_with(w, "", &c->value) && c->value <= 0.0 && c->value >= -60.0
               ? end_of_line(w)
               : expected(w, "-60 to 0 (dB), or a step such as +3dB");
}

static int read_level(words *w, hy_command *c)
{
    if (!next(w) || w->length != 1 || w->word[0] < '0' || w->word[0] > '3') {
        return expected(w, "0, 1, 2 or 3");
    }
    c->number = w->word[0] - '0';
    return end_of_line(w);
}

static int read_strobe(words *w, hy_command *c)
{
    char word[16] = "";
    if (next(w) && w->length < sizeof word) {
        memcpy(word, w->word, w->length);
    }
    c->number = hy_command_code(word);
    return c->number >= 0 ? end_of_line(w) : expected(w, "a phoneme such as ah, ah/103 or 0x33");
}

static int read_babble(words *w, hy_command *c)
{
    if (read_switch(w, &c->on) != 0) {
        return -1;
    }
    if (c->on != 1 || !next(w)) {
        return end_of_line(w);
    }
    hy_decimal decimal;
    int64_t seed = 0;
    if (hy_decimal_read(w->word, w->length, 0, &decimal) != w->length ||
        hy_decimal_whole(&decimal, 0, INT32_MAX, &seed) != HY_EXACT || seed < 1) {
        return expected(w, "a seed of 1 to 2147483647");
    }
    c->number = (int)seed;
    return end_of_line(w);
}

static int read_text(words *w, hy_command *c, const char *what)
{
    w->rest += strspn(w->rest, " \t");
    w->word = w->rest;
    w->length = strlen(w->rest);
    if (w->length >= sizeof c->text) {
        return hy_fail(w->diag, "the line is too long; at most %zu bytes would be right", sizeof c->text - 1);
    }
    memcpy(c->text, w->rest, w->length + 1);
    return w->length > 0 || what == NULL ? 0 : expected(w, what);
}

static int read_record(words *w, hy_command *c)
{
    c->on = 1;
    if (read_text(w, c, NULL) != 0) {
        return -1;
    }
    if (c->text[0] == '\0') {
        c->on = HY_TOGGLED;
    } else if (strcmp(c->text, "off") == 0) {
        c->on = 0;
        c->text[0] = '\0';
    }
    return 0;
}

static int read_wait(words *w, hy_command *c)
{
    const words before = *w;
    if (!next(w)) {
        return 0;
    }
    *w = before;
    return read_span(w, 1, &c->span) == 0 ? end_of_line(w) : -1;
}

static const struct {
    const char *name;
    hy_command_kind kind;
} names[] = {
    {"play", HY_CMD_PLAY},       {"pause", HY_CMD_PAUSE},   {"toggle", HY_CMD_TOGGLE},   {"again", HY_CMD_AGAIN},
    {"say", HY_CMD_SAY},         {"strobe", HY_CMD_STROBE}, {"word", HY_CMD_WORD},       {"hush", HY_CMD_HUSH},
    {"babble", HY_CMD_BABBLE},   {"clock", HY_CMD_CLOCK},   {"nominal", HY_CMD_NOMINAL}, {"sweep", HY_CMD_SWEEP},
    {"back", HY_CMD_BACK},       {"zero", HY_CMD_ZERO},     {"level", HY_CMD_LEVEL},     {"hold", HY_CMD_HOLD},
    {"sustain", HY_CMD_SUSTAIN}, {"volume", HY_CMD_VOLUME}, {"limiter", HY_CMD_LIMITER}, {"record", HY_CMD_RECORD},
    {"wait", HY_CMD_WAIT},       {"status", HY_CMD_STATUS}, {"help", HY_CMD_HELP},       {"quit", HY_CMD_QUIT}};
#define NAMES (sizeof names / sizeof names[0])

static int unknown(words *w)
{
    const char *list[NAMES];
    for (size_t i = 0; i < NAMES; i++) {
        list[i] = names[i].name;
    }
    const hy_near near = hy_near_names(w->word, w->length, list, NAMES);
    char what[160] = "a command; `help` lists them";
    if (near.text[0] != '\0') {
        snprintf(what, sizeof what, "a command; nearest: %s", near.text);
    }
    return expected(w, what);
}

static int read_arguments(words *w, hy_command *c)
{
    switch (c->kind) {
    case HY_CMD_SAY:
        return read_text(w, c, "phonemes, such as hh eh l ow");
    case HY_CMD_WORD:
        return read_text(w, c, "English");
    case HY_CMD_STROBE:
        return read_strobe(w, c);
    case HY_CMD_BABBLE:
        return read_babble(w, c);
    case HY_CMD_CLOCK:
        return read_clock(w, c);
    case HY_CMD_SWEEP:
        return read_sweep(w, c);
    case HY_CMD_ZERO:
        return read_zero(w, c);
    case HY_CMD_LEVEL:
        return read_level(w, c);
    case HY_CMD_HOLD:
        return read_hold(w, c);
    case HY_CMD_VOLUME:
        return read_volume(w, c);
    case HY_CMD_SUSTAIN:
    case HY_CMD_LIMITER:
        return read_switch(w, &c->on) == 0 ? end_of_line(w) : -1;
    case HY_CMD_RECORD:
        return read_record(w, c);
    case HY_CMD_WAIT:
        return read_wait(w, c);
    default:
        return end_of_line(w);
    }
}

int hy_command_read(const char *line, hy_command *c, hy_diag *diag)
{
    words w = {.rest = line, .diag = diag};
    memset(c, 0, sizeof *c);
    c->at = HY_SOON;
    if (!next(&w) || w.word[0] == '#') {
        return 0;
    }
    if (is(&w, "at")) {
        if (read_span(&w, 0, &c->at) != 0) {
            return -1;
        }
        if (!next(&w)) {
            return expected(&w, "a command");
        }
    }
    for (size_t i = 0; i < NAMES; i++) {
        if (is(&w, names[i].name)) {
            c->kind = names[i].kind;
            return read_arguments(&w, c);
        }
    }
    return unknown(&w);
}
