#include "command.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "number.h"
#include "score.h"
#include "text.h"
#include "wire.h"
#include "words.h"

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

static int read_clock(hy_words *w, hy_command *c)
{
    double amount;
    c->kind = HY_CMD_STEP;
    if (hy_words_next(w) && hy_words_signed(w, "%", &amount) && amount > -100.0 && amount <= 10000.0) {
        c->value = 1.0 + amount / 100.0;
    } else if (w->length > 0 && hy_words_signed(w, "st", &amount) && fabs(amount) <= 120.0) {
        c->value = exp2(amount / 12.0);
    } else {
        c->kind = HY_CMD_CLOCK;
        if (hy_hz_read(w->word, w->length, &c->value) != 0 || !(c->value <= HYOID_CLOCK_MAX)) {
            return hy_words_expected(w, "a frequency such as 650k, or a step such as +1% or -2st");
        }
    }
    return hy_words_end(w);
}

static int read_sweep(hy_words *w, hy_command *c)
{
    if (hy_words_hz(w, &c->value) != 0 || hy_words_over(w, &c->span) != 0) {
        return -1;
    }
    if (hy_words_next(w)) {
        c->exponential = 1;
        return hy_words_is(w, "exp") && c->value > 0.0
                   ? hy_words_end(w)
                   : hy_words_expected(w, "nothing more, or exp to a clock above 0");
    }
    return 0;
}

static int read_zero(hy_words *w, hy_command *c)
{
    c->span = 2 * HYOID_PS_PER_S;
    if (hy_words_next(w)) {
        return hy_words_is(w, "over") && hy_words_span(w, 1, &c->span) == 0
                   ? hy_words_end(w)
                   : hy_words_expected(w, "over, and a time");
    }
    return 0;
}

static int read_hold(hy_words *w, hy_command *c)
{
    double amount;
    const hy_words before = *w;
    if (hy_words_next(w) && hy_words_is(w, "off")) {
        return hy_words_end(w);
    }
    if (hy_words_signed(w, "%", &amount) && amount > -100.0 && amount <= 1000.0) {
        c->kind = HY_CMD_HOLD_STEP;
        c->value = 1.0 + amount / 100.0;
        return hy_words_end(w);
    }
    *w = before;
    return hy_words_span(w, HYOID_PS_PER_S / 1000, &c->span) == 0
               ? hy_words_end(w)
               : hy_words_expected(w, "a time of 1ms or more, or off");
}

static int read_volume(hy_words *w, hy_command *c)
{
    if (hy_words_next(w) && hy_words_signed(w, "dB", &c->value) && (w->word[0] == '+' || w->word[0] == '-') &&
        fabs(c->value) < 100.0) {
        c->kind = HY_CMD_VOLUME_STEP;
        return hy_words_end(w);
    }
    return hy_words_signed(w, "", &c->value) && c->value <= 0.0 && c->value >= -60.0
               ? hy_words_end(w)
               : hy_words_expected(w, "-60 to 0 (dB), or a step such as +3dB");
}

static int read_level(hy_words *w, hy_command *c)
{
    if (!hy_words_next(w) || w->length != 1 || w->word[0] < '0' || w->word[0] > '3') {
        return hy_words_expected(w, "0, 1, 2 or 3");
    }
    c->number = w->word[0] - '0';
    return hy_words_end(w);
}

static int read_strobe(hy_words *w, hy_command *c)
{
    char word[16] = "";
    if (hy_words_next(w) && w->length < sizeof word) {
        memcpy(word, w->word, w->length);
    }
    c->number = hy_command_code(word);
    return c->number >= 0 ? hy_words_end(w) : hy_words_expected(w, "a phoneme such as ah, ah/103 or 0x33");
}

static int read_babble(hy_words *w, hy_command *c)
{
    if (hy_words_switch(w, &c->on) != 0) {
        return -1;
    }
    if (c->on != 1 || !hy_words_next(w)) {
        return hy_words_end(w);
    }
    hy_decimal decimal;
    int64_t seed = 0;
    if (hy_decimal_read(w->word, w->length, 0, &decimal) != w->length ||
        hy_decimal_whole(&decimal, 0, INT32_MAX, &seed) != HY_EXACT || seed < 1) {
        return hy_words_expected(w, "a seed of 1 to 2147483647");
    }
    c->number = (int)seed;
    return hy_words_end(w);
}

static int read_text(hy_words *w, hy_command *c, const char *what)
{
    w->rest += strspn(w->rest, " \t");
    w->word = w->rest;
    w->length = strlen(w->rest);
    if (w->length >= sizeof c->text) {
        return hy_fail(w->diag, "the line is too long; at most %zu bytes would be right", sizeof c->text - 1);
    }
    memcpy(c->text, w->rest, w->length + 1);
    return w->length > 0 || what == NULL ? 0 : hy_words_expected(w, what);
}

static int read_record(hy_words *w, hy_command *c)
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

static int read_wait(hy_words *w, hy_command *c)
{
    const hy_words before = *w;
    if (!hy_words_next(w)) {
        return 0;
    }
    *w = before;
    return hy_words_span(w, 1, &c->span) == 0 ? hy_words_end(w) : -1;
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

static int unknown(hy_words *w)
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
    return hy_words_expected(w, what);
}

static int read_arguments(hy_words *w, hy_command *c)
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
        return hy_words_switch(w, &c->on) == 0 ? hy_words_end(w) : -1;
    case HY_CMD_RECORD:
        return read_record(w, c);
    case HY_CMD_WAIT:
        return read_wait(w, c);
    default:
        return hy_words_end(w);
    }
}

int hy_command_read(const char *line, hy_command *c, hy_diag *diag)
{
    hy_words w = {.rest = line, .diag = diag};
    memset(c, 0, sizeof *c);
    c->at = HY_SOON;
    if (!hy_words_next(&w) || w.word[0] == '#') {
        return 0;
    }
    if (hy_words_is(&w, "at")) {
        if (hy_words_span(&w, 0, &c->at) != 0) {
            return -1;
        }
        if (!hy_words_next(&w)) {
            return hy_words_expected(&w, "a command");
        }
    }
    for (size_t i = 0; i < NAMES; i++) {
        if (hy_words_is(&w, names[i].name)) {
            c->kind = names[i].kind;
            return read_arguments(&w, c);
        }
    }
    return unknown(&w);
}
