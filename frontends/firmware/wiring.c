#include "wiring.h"

#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "csvrows.h"
#include "number.h"
#include "text.h"

/* What a statement can be about, in the order of `names`. */
enum { P, I, REQUEST = I + 1 + HY_PINS, CLOCK, MCU, FREQUENCY, UART, NAMES };
#define PIN(pin) (I + 1 + (pin))

static const char *const names[NAMES] = {
    [P] = "p",           [I] = "i",           [PIN(HY_P0)] = "p0",         [PIN(HY_P1)] = "p1",
    [PIN(HY_P2)] = "p2", [PIN(HY_P3)] = "p3", [PIN(HY_P4)] = "p4",         [PIN(HY_P5)] = "p5",
    [PIN(HY_I0)] = "i0", [PIN(HY_I1)] = "i1", [PIN(HY_STROBE)] = "strobe", [REQUEST] = "request",
    [CLOCK] = "clock",   [MCU] = "mcu",       [FREQUENCY] = "frequency",   [UART] = "uart",
};

typedef struct word {
    const char *text; /* at the end of the line: length 0 */
    size_t length;
    unsigned line, column;
} word;

typedef struct parser {
    hy_wiring *wiring;
    const char *name;
    const char *at, *end;
    unsigned line, column;
    word word;            /* the one under consideration */
    unsigned said[NAMES]; /* line of the statement about it, or 0 */
    hy_diag *diag;
} parser;

static int at_line_end(const parser *p)
{
    return p->at == p->end || *p->at == '\n' || (*p->at == '\r' && p->end - p->at > 1 && p->at[1] == '\n');
}

/* Steps over one character that may stand in a wiring file. */
static int step(parser *p)
{
    size_t length;
    const char *bad = hy_text_bad(p->at, (size_t)(p->end - p->at), &length);
    if (bad != NULL) {
        return hy_fail_at(p->diag, p->name, p->line, p->column, "found %s; a wiring file is plain UTF-8 text", bad);
    }
    p->at += length;
    p->column++;
    return 0;
}

static int ends_word(char c)
{
    return c == ' ' || c == '\t' || c == '#' || c == '=';
}

/* Takes the next word of the line; `=` is one of its own. */
static int next(parser *p)
{
    while (!at_line_end(p) && (*p->at == ' ' || *p->at == '\t')) {
        p->at++;
        p->column++;
    }
    if (!at_line_end(p) && *p->at == '#') {
        while (!at_line_end(p)) {
            if (step(p) != 0) {
                return -1;
            }
        }
    }
    p->word = (word){p->at, 0, p->line, p->column};
    if (!at_line_end(p) && *p->at == '=') {
        p->word.length = 1;
        return step(p);
    }
    while (!at_line_end(p) && !ends_word(*p->at)) {
        if (step(p) != 0) {
            return -1;
        }
    }
    p->word.length = (size_t)(p->at - p->word.text);
    return 0;
}

static void next_line(parser *p)
{
    if (p->at < p->end) {
        p->at += *p->at == '\r' ? 2 : 1;
        p->line++;
        p->column = 1;
    }
}

static int is(const word *w, const char *text)
{
    return hy_word_is(w->text, w->length, text);
}

static int expected(const parser *p, const word *found, const char *what)
{
    if (found->length == 0) {
        return hy_fail_at(p->diag, p->name, found->line, found->column, "found the end of the line; expected %s",
                          what);
    }
    return hy_fail_at(p->diag, p->name, found->line, found->column, "found %s; expected %s",
                      hy_show(found->text, found->length).text, what);
}

/* ---- where a lead goes ---- */

/* Reads a port's pin, of ports A to L without I, at s: 3 characters, or 0. */
static size_t port_pin(const char *s, size_t n, char *port, unsigned *bit)
{
    if (n < 3 || (s[0] != 'P' && s[0] != 'p') || s[2] < '0' || s[2] > '7') {
        return 0;
    }
    char letter = (char)(s[1] >= 'a' && s[1] <= 'z' ? s[1] - 'a' + 'A' : s[1]);
    if (letter < 'A' || letter > 'L' || letter == 'I') {
        return 0;
    }
    *port = letter;
    *bit = (unsigned)(s[2] - '0');
    return 3;
}

/* What stands behind the place: inverted, pull-up, pull-down. */
static int modifiers(parser *p, hy_lead *lead, int is_output)
{
    while (next(p) == 0 && p->word.length > 0) {
        const word *w = &p->word;
        int pull = is(w, "pull-up") ? 1 : is(w, "pull-down") ? -1 : 0;
        if (is(w, "inverted") && !lead->inverted) {
            lead->inverted = 1;
        } else if (pull != 0 && is_output) {
            return expected(p, w, "no pull on request, which the chip drives");
        } else if (pull != 0 && lead->pull == 0) {
            lead->pull = pull;
        } else {
            return expected(p, w,
                            is_output
                                ? "\"inverted\", once, or the end of the line"
                                : "\"inverted\", \"pull-up\" or \"pull-down\", each once, or the end of the line");
        }
    }
    return p->diag->text[0] != '\0' ? -1 : 0;
}

/* pin = PB0 ..., pin = low, and for p and i, which are `count` pins: PC0..PC5. */
static int leads(parser *p, hy_lead *first, unsigned count, int may_tie, int is_output)
{
    const word w = p->word;
    const char *what = count == 6   ? "six pins of a port such as PC0..PC5, or low or high"
                       : count == 2 ? "two pins of a port such as PD5..PD6, or low or high"
                       : may_tie    ? "a port's pin such as PB0, or low or high"
                                    : "a port's pin such as PB0";
    hy_lead lead = {.kind = HY_TO_PORT, .line = w.line, .column = w.column};
    if (may_tie && (is(&w, "low") || is(&w, "high"))) {
        lead.kind = is(&w, "low") ? HY_TIED_LOW : HY_TIED_HIGH;
        for (unsigned i = 0; i < count; i++) {
            first[i] = lead;
        }
        return next(p) != 0 ? -1 : p->word.length > 0 ? expected(p, &p->word, "the end of the line") : 0;
    }
    size_t used = port_pin(w.text, w.length, &lead.port, &lead.bit);
    if (count > 1 && used > 0) {
        char port;
        unsigned last;
        if (w.length != 8 || w.text[3] != '.' || w.text[4] != '.' || port_pin(w.text + 5, 3, &port, &last) == 0 ||
            port != lead.port || last != lead.bit + count - 1) {
            return expected(p, &w, what);
        }
        used = 8;
    }
    if (used == 0 || used != w.length) {
        return expected(p, &w, what);
    }
    if (modifiers(p, &lead, is_output) != 0) {
        return -1;
    }
    for (unsigned i = 0; i < count; i++, lead.bit++) {
        first[i] = lead;
    }
    return 0;
}

static int clock_source(parser *p)
{
    hy_wiring *w = p->wiring;
    char port;
    unsigned bit;
    if (port_pin(p->word.text, p->word.length, &port, &bit) > 0) {
        return leads(p, &w->clock, 1, 0, 0);
    }
    if (hy_hz_read(p->word.text, p->word.length, &w->clock_hz) != 0 || !(w->clock_hz <= HYOID_CLOCK_MAX)) {
        return expected(p, &p->word, "a port's pin such as PB3, or a frequency of 0 to 100M such as 720k");
    }
    return next(p) != 0 ? -1 : p->word.length > 0 ? expected(p, &p->word, "the end of the line") : 0;
}

/* ---- statements without = ---- */

static int name_mcu(parser *p)
{
    const word *w = &p->word;
    if (w->length == 0 || w->length > HY_MCU_NAME_MAX || *w->text == '=') {
        return expected(p, w, "a microcontroller's type such as atmega328p");
    }
    for (size_t i = 0; i < w->length; i++) {
        char c = w->text[i];
        p->wiring->mcu[i] = (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c); /* as the simulator writes them */
    }
    p->wiring->mcu[w->length] = '\0';
    p->wiring->mcu_line = w->line;
    p->wiring->mcu_column = w->column;
    return 0;
}

static int frequency(parser *p)
{
    double hz;
    if (hy_hz_read(p->word.text, p->word.length, &hz) != 0 || !(hz >= 1000.0 && hz <= HY_MCU_HZ_MAX) ||
        hz != (double)(uint32_t)hz) {
        return expected(p, &p->word,
                        "the microcontroller's clock, a whole number of hertz from 1k to 25M, such as 16M");
    }
    p->wiring->mcu_hz = (uint32_t)hz;
    return 0;
}

static int uart(parser *p)
{
    const word *w = &p->word;
    if (!is(w, "off") && (w->length != 1 || *w->text < '0' || *w->text > '9')) {
        return expected(p, w, "the number of a UART, 0 to 9, or off");
    }
    p->wiring->uart = is(w, "off") ? -1 : *w->text - '0';
    p->wiring->uart_line = w->line;
    p->wiring->uart_column = w->column;
    return 0;
}

/* ---- lines ---- */

static int about_pin(parser *p, int what)
{
    hy_wiring *w = p->wiring;
    if (p->word.length != 1 || *p->word.text != '=') {
        return expected(p, &p->word, "\"=\"");
    }
    if (next(p) != 0) {
        return -1;
    }
    switch (what) {
    case P:
        return leads(p, &w->pin[HY_P0], 6, 1, 0);
    case I:
        return leads(p, &w->pin[HY_I0], 2, 1, 0);
    case REQUEST:
        return leads(p, &w->request, 1, 0, 1);
    case CLOCK:
        return clock_source(p);
    default:
        return leads(p, &w->pin[what - PIN(0)], 1, what != PIN(HY_STROBE), 0);
    }
}

static int unknown_name(parser *p)
{
    const word *w = &p->word;
    hy_near near = hy_near_names(w->text, w->length, names, NAMES);
    hy_shown shown = hy_show(w->text, w->length);
    if (near.text[0] != '\0') {
        return hy_fail_at(p->diag, p->name, w->line, w->column, "found %s; did you mean %s?", shown.text, near.text);
    }
    return hy_fail_at(p->diag, p->name, w->line, w->column,
                      "found %s; expected p, p0..p5, i, i0, i1, strobe, request, clock, mcu, frequency or uart",
                      shown.text);
}

/* p says p0 to p5, i says i0 and i1: neither may be said twice. */
static unsigned said_before(const parser *p, int what)
{
    for (int pin = HY_P0; pin <= HY_I1; pin++) {
        int group = pin < HY_I0 ? P : I;
        if (what == group && p->said[PIN(pin)] != 0) {
            return p->said[PIN(pin)];
        }
        if (what == PIN(pin) && p->said[group] != 0) {
            return p->said[group];
        }
    }
    return p->said[what];
}

static int statement(parser *p)
{
    const word w = p->word;
    int what = 0;
    while (what < NAMES && !is(&w, names[what])) {
        what++;
    }
    if (what == NAMES) {
        return unknown_name(p);
    }
    unsigned before = said_before(p, what);
    if (before != 0) {
        return hy_fail_at(p->diag, p->name, w.line, w.column, "found %s again; line %u has said it", names[what],
                          before);
    }
    p->said[what] = w.line;
    if (next(p) != 0) {
        return -1;
    }
    if (what < MCU) {
        return about_pin(p, what);
    }
    int result = what == MCU ? name_mcu(p) : what == FREQUENCY ? frequency(p) : uart(p);
    if (result == 0 && next(p) == 0 && p->word.length > 0) {
        result = expected(p, &p->word, "the end of the line");
    }
    return p->diag->text[0] != '\0' ? -1 : result;
}

/* ---- the whole ---- */

static int missing(const parser *p, const char *what)
{
    return hy_fail(p->diag, "%s: found no line for %s", p->name, what);
}

static int complete(const parser *p)
{
    const hy_wiring *w = p->wiring;
    if (w->mcu[0] == '\0') {
        return missing(p, "mcu; expected one such as: mcu atmega328p");
    }
    if (w->mcu_hz == 0) {
        return missing(p, "frequency; expected one such as: frequency 16M");
    }
    for (int pin = 0; pin < HY_PINS; pin++) {
        if (w->pin[pin].kind == HY_UNWIRED) {
            const char *name = names[PIN(pin)];
            return hy_fail(p->diag,
                           "%s: found no line for %s, and an input must not float; expected one such as: %s = %s",
                           p->name, name, name, pin == HY_STROBE ? "PD4" : "PC0, or a tie: = low");
        }
    }
    if (p->said[CLOCK] == 0) {
        return missing(p, "clock; expected one such as: clock = 720k, or a timer's output: clock = PB3");
    }
    if (w->request.kind != HY_TO_PORT) {
        return 0;
    }
    for (int pin = 0; pin <= HY_PINS; pin++) {
        const hy_lead *lead = pin < HY_PINS ? &w->pin[pin] : &w->clock;
        if (lead->kind == HY_TO_PORT && lead->port == w->request.port && lead->bit == w->request.bit) {
            return hy_fail_at(p->diag, p->name, w->request.line, w->request.column,
                              "found P%c%u, which line %u gives to %s: two outputs would fight; expected another pin",
                              lead->port, lead->bit, lead->line, pin < HY_PINS ? names[PIN(pin)] : names[CLOCK]);
        }
    }
    return 0;
}

int hy_wiring_parse(hy_wiring *wiring, const char *name, const char *text, size_t size, hy_diag *diag)
{
    memset(wiring, 0, sizeof *wiring);
    size_t mark = size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    parser p = {
        .wiring = wiring, .name = name, .at = text + mark, .end = text + size, .line = 1, .column = 1, .diag = diag};
    for (;;) {
        if (next(&p) != 0 || (p.word.length > 0 && statement(&p) != 0)) {
            return -1;
        }
        if (p.at == p.end) {
            return complete(&p);
        }
        next_line(&p);
    }
}

int hy_wiring_read(hy_wiring *wiring, const char *path, hy_diag *diag)
{
    size_t size;
    char *text = hy_csv_load(path, &size, diag);
    if (text == NULL) {
        return -1;
    }
    int result = hy_wiring_parse(wiring, path, text, size, diag);
    free(text);
    return result;
}
