/* Which signal of a capture is which pin. */
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "capture_private.h"
#include "text.h"

static const char *const keys[HY_WIRES] = {"p0", "p1", "p2",     "p3",      "p4",    "p5",
                                           "i0", "i1", "strobe", "request", "clock", "clock_hz"};

enum { CODE_PINS = HY_P5 + 1 };

typedef struct finder {
    const hy_waves *reader;
    const char *name; /* of the file */
    hy_diag *diag;
} finder;

typedef struct found {
    unsigned hits;          /* signals or bits of them */
    unsigned first, second; /* variables */
    int has_bit;
    unsigned bit; /* of the first */
} found;

/* ---- searching ---- */

/* "bus[3]": the length of "bus" and the 3; otherwise 0. */
static size_t split_bit(const char *text, size_t length, int32_t *bit)
{
    if (length < 4 || text[length - 1] != ']') {
        return 0;
    }
    size_t at = length - 1;
    int32_t sum = 0;
    int32_t unit = 1;
    while (at > 1 && text[at - 1] >= '0' && text[at - 1] <= '9' && unit < 1000000) {
        sum += unit * (text[--at] - '0');
        unit *= 10;
    }
    int negative = at > 1 && text[at - 1] == '-';
    at -= (size_t)negative;
    *bit = negative ? -sum : sum;
    return unit > 1 && at > 1 && text[at - 1] == '[' ? at - 1 : 0;
}

static int in_range(const hy_vcd_var *var, int32_t bit, unsigned *position)
{
    int falls = var->msb >= var->lsb;
    int32_t from_low = falls ? bit - var->lsb : var->lsb - bit;
    *position = (unsigned)from_low;
    return !var->is_real && !var->is_text && from_low >= 0 && (unsigned)from_low < var->width;
}

/* All variables that the text names, with at least so many of the scopes. */
static found search(const hy_waves *reader, const char *text, size_t length, int fold, int least)
{
    found f = {0};
    int32_t wanted = 0;
    size_t base = split_bit(text, length, &wanted);
    for (unsigned i = 0; i < hy_waves_vars(reader); i++) {
        hy_vcd_var var = hy_waves_var(reader, i);
        unsigned position = 0;
        int whole = hy_waves_matches(reader, i, text, length, fold) >= least;
        int part = !whole && base > 0 && in_range(&var, wanted, &position) &&
                   hy_waves_matches(reader, i, text, base, fold) >= least;
        if (!whole && !part) {
            continue;
        }
        if (f.hits == 0) {
            f = (found){.hits = 1, .first = i, .has_bit = part, .bit = position};
        } else if (f.hits == 1 &&
                   (hy_waves_var(reader, f.first).signal != var.signal || f.has_bit != part || f.bit != position)) {
            f.hits = 2;
            f.second = i;
        }
    }
    return f;
}

/* A full name goes before one without scopes, the right case before the other. */
static found lookup(const hy_waves *reader, const char *text, size_t length)
{
    found f = {0};
    for (int fold = 0; fold <= 1 && f.hits == 0; fold++) {
        for (int least = 2; least >= 1 && f.hits == 0; least--) {
            f = search(reader, text, length, fold, least);
        }
    }
    return f;
}

/* ---- messages ---- */

/* The names nearest to the one that is not there, or the first few that are. */
static void name_others(const finder *f, const char *text, size_t length, char *out, size_t size)
{
    unsigned count = hy_waves_vars(f->reader);
    hy_near near = {{0}};
    const char **names = malloc((count + 1) * sizeof *names);
    for (unsigned i = 0; names != NULL && i < count; i++) {
        names[i] = hy_waves_var(f->reader, i).name;
    }
    if (names != NULL) {
        near = hy_near_names(text, length, names, count);
        free(names);
    }
    size_t used = 0;
    if (near.text[0] != '\0') {
        snprintf(out, size, "nearest: %s", near.text);
        return;
    }
    for (unsigned i = 0; i <= count && used + 60 < size; i++) {
        const char *more = i == 0 ? (count == 0 ? "it has none" : "it has ") : ", ";
        hy_vcd_name full = {{0}};
        if (i < count) {
            full = hy_waves_name(f->reader, i);
        } else if (i > 0) {
            break;
        }
        if (i == 6) {
            snprintf(out + used, size - used, ", ... (%u in all)", count);
            break;
        }
        int added = snprintf(out + used, size - used, "%s%.50s", more, full.text);
        used += added > 0 ? (size_t)added : 0;
    }
}

static int ambiguous(const finder *f, const char *key, const found *hit)
{
    const hy_vcd_name first = hy_waves_name(f->reader, hit->first);
    const hy_vcd_name second = hy_waves_name(f->reader, hit->second);
    if (strcmp(first.text, second.text) == 0) {
        return hy_fail(f->diag, "%s: two signals are called %.150s; another name for one of them would be right",
                       f->name, first.text);
    }
    return hy_fail(f->diag, "%s: %s could be %.150s or %.150s; a name with its scopes would be right: --map %s=NAME",
                   f->name, key, first.text, second.text, key);
}

static int missing(const finder *f, const char *key)
{
    char others[260] = "";
    name_others(f, key, strlen(key), others, sizeof others);
    return hy_fail(f->diag, "%s: no signal is called %s; --map %s=NAME says which one it is (%s)", f->name, key, key,
                   others);
}

/* ---- one wire ---- */

static int take(const finder *f, int wire, const found *hit, hy_wire *taken)
{
    hy_vcd_var var = hy_waves_var(f->reader, hit->first);
    hy_vcd_name name = hy_waves_name(f->reader, hit->first);
    if (wire == HY_WIRE_HZ && !var.is_real) {
        return hy_fail(f->diag,
                       "%s: %s is no real; clock_hz is a frequency in Hz as a real, clock a pin that toggles",
                       f->name, name.text);
    }
    if (wire != HY_WIRE_HZ && (var.is_real || var.is_text)) {
        return hy_fail(f->diag, "%s: %s is no signal of bits; %s needs one", f->name, name.text, keys[wire]);
    }
    if (wire != HY_WIRE_HZ && !hit->has_bit && var.width != 1) {
        return hy_fail(f->diag, "%s: %s has %u bits; --map %s=%s[%d] or another bit would be right", f->name,
                       name.text, var.width, keys[wire], var.name, var.lsb);
    }
    *taken = (hy_wire){.mapped = 1, .var = hit->first, .signal = var.signal, .bit = hit->bit};
    return 0;
}

static int take_vector(const finder *f, const found *hit, hy_capture_map *map)
{
    hy_vcd_var var = hy_waves_var(f->reader, hit->first);
    if (hit->has_bit || var.is_real || var.is_text || var.width < CODE_PINS) {
        return hy_fail(f->diag,
                       "%s: %s is no vector of six bits or more, as --map p=NAME needs; p0=NAME,p1=... would do",
                       f->name, hy_waves_name(f->reader, hit->first).text);
    }
    for (unsigned i = 0; i < CODE_PINS; i++) {
        map->wire[i] = (hy_wire){.mapped = 1, .var = hit->first, .signal = var.signal, .bit = i};
    }
    return 0;
}

/* ---- the map's text ---- */

static int read_item(const finder *f, const char *item, size_t length, hy_capture_map *map)
{
    size_t key = 0;
    while (key < length && item[key] != '=') {
        key++;
    }
    int wire = 0;
    while (wire < HY_WIRES && !hy_word_is(item, key, keys[wire])) {
        wire++;
    }
    int vector = hy_word_is(item, key, "p");
    if (key + 1 < length && hy_word_is(item, key, "rate")) {
        return 0; /* hy_capture_map_text has taken it */
    }
    if (key + 1 >= length || (wire == HY_WIRES && !vector)) {
        return hy_fail(
            f->diag,
            "--map %s: KEY=NAME would be right, KEY one of p0..p5, p, i0, i1, strobe, request, clock, clock_hz, rate",
            hy_show(item, length).text);
    }
    for (int i = vector ? 0 : wire; i < (vector ? CODE_PINS : wire + 1); i++) {
        if (map->wire[i].mapped) {
            return hy_fail(f->diag, "--map %s: %s is mapped twice; one of the two must go",
                           hy_show(item, length).text, keys[i]);
        }
    }
    const char *text = item + key + 1;
    size_t left = length - key - 1;
    found hit = lookup(f->reader, text, left);
    int inverted = hit.hits == 0 && text[0] == '!' && wire != HY_WIRE_HZ;
    if (inverted) {
        hit = lookup(f->reader, ++text, --left);
    }
    if (hit.hits == 0) {
        char others[260] = "";
        name_others(f, text, left, others, sizeof others);
        return hy_fail(f->diag, "--map %s: %s has no such signal; %s", hy_show(item, length).text, f->name, others);
    }
    if (hit.hits > 1) {
        return ambiguous(f, vector ? "p" : keys[wire], &hit);
    }
    if ((vector ? take_vector(f, &hit, map) : take(f, wire, &hit, &map->wire[wire])) != 0) {
        return -1;
    }
    for (int i = vector ? 0 : wire; i < (vector ? CODE_PINS : wire + 1); i++) {
        map->wire[i].inverted = inverted;
    }
    return 0;
}

static int read_map(const finder *f, const char *text, hy_capture_map *map)
{
    for (;;) {
        text += strspn(text, " ");
        size_t length = strcspn(text, ",");
        size_t end = length;
        while (end > 0 && text[end - 1] == ' ') {
            end--;
        }
        if (read_item(f, text, end, map) != 0) {
            return -1;
        }
        if (text[length] == '\0') {
            return 0;
        }
        text += length + 1;
    }
}

/* ---- by name ---- */

static int guess(const finder *f, int wire, hy_capture_map *map)
{
    static const struct {
        int wire;
        const char *name;
    } others[] = {{HY_STROBE, "stb"}, {HY_WIRE_REQUEST, "req"}, {HY_WIRE_REQUEST, "a/r"}, {HY_WIRE_CLOCK, "clk"}};
    const char *key = keys[wire];
    found hit = lookup(f->reader, key, strlen(key));
    for (size_t i = 0; i < sizeof others / sizeof others[0] && hit.hits == 0; i++) {
        if (others[i].wire == wire) {
            hit = lookup(f->reader, others[i].name, strlen(others[i].name));
        }
    }
    if (wire == HY_WIRE_CLOCK && (hit.hits != 1 || hit.has_bit || hy_waves_var(f->reader, hit.first).width != 1 ||
                                  hy_waves_var(f->reader, hit.first).is_real)) {
        return 0; /* some other clock, or one of many: it can be done without */
    }
    if (hit.hits > 1 && wire != HY_WIRE_REQUEST) { /* without request a capture can be played as well */
        return ambiguous(f, key, &hit);
    }
    if (hit.hits == 1) {
        map->guessed = 1;
        return take(f, wire, &hit, &map->wire[wire]);
    }
    return 0;
}

/* The vector p, or bits p[5] to p[0] of their own, or pins p0 to p5. */
static int guess_code(const finder *f, hy_capture_map *map)
{
    found hit = lookup(f->reader, "p", 1);
    if (hit.hits == 1 && hy_waves_var(f->reader, hit.first).width == CODE_PINS) {
        map->guessed = 1;
        return take_vector(f, &hit, map);
    }
    for (int i = 0; i < CODE_PINS; i++) {
        char bit[8];
        snprintf(bit, sizeof bit, "p[%d]", i);
        if (guess(f, i, map) != 0) {
            return -1;
        }
        hit = lookup(f->reader, bit, strlen(bit));
        if (!map->wire[i].mapped && hit.hits == 1) {
            map->guessed = 1;
            if (take(f, i, &hit, &map->wire[i]) != 0) {
                return -1;
            }
        }
    }
    return 0;
}

int hy_capture_map_find(hy_capture_map *map, const char *text, int clock_too, const hy_waves *reader,
                        const char *name, hy_diag *diag)
{
    const finder f = {reader, name, diag};
    *map = (hy_capture_map){0};
    if (text != NULL && read_map(&f, text, map) != 0) {
        return -1;
    }
    hy_wire *wire = map->wire;
    if (wire[HY_WIRE_CLOCK].mapped && wire[HY_WIRE_HZ].mapped) {
        return hy_fail(diag, "--map has both clock and clock_hz; one of the two would be right");
    }
    int some = 0;
    for (int i = 0; i < CODE_PINS; i++) {
        some = some || wire[i].mapped;
    }
    if (!some && guess_code(&f, map) != 0) {
        return -1;
    }
    for (int i = 0; i < CODE_PINS && !some; i++) {
        if (!wire[i].mapped) {
            return missing(&f, keys[i]);
        }
    }
    for (int i = HY_I0; i <= HY_WIRE_REQUEST; i++) {
        if (!wire[i].mapped && guess(&f, i, map) != 0) {
            return -1;
        }
    }
    if (!wire[HY_WIRE_CLOCK].mapped && !wire[HY_WIRE_HZ].mapped && guess(&f, HY_WIRE_HZ, map) != 0) {
        return -1;
    }
    /* a clock that is stated goes before a pin that may be any clock */
    if (clock_too && !wire[HY_WIRE_CLOCK].mapped && !wire[HY_WIRE_HZ].mapped && guess(&f, HY_WIRE_CLOCK, map) != 0) {
        return -1;
    }
    return wire[HY_STROBE].mapped ? 0 : missing(&f, keys[HY_STROBE]);
}

char hy_wire_level(const hy_wire *wire, const hy_vcd_change *change)
{
    char digit = hy_vcd_digit(change, wire->bit);
    return (char)(wire->inverted && digit <= '1' ? '0' + '1' - digit : digit);
}

/* ---- telling ---- */

void hy_capture_say(hy_capture_note *note, const char *format, ...)
{
    size_t used = strlen(note->text);
    va_list args;
    va_start(args, format);
    int more = vsnprintf(note->text + used, sizeof note->text - used, format, args);
    va_end(args);
    if (more >= 0 && (size_t)more >= sizeof note->text - used) {
        note->text[sizeof note->text - 2] = '\n'; /* cut, but a line */
    }
}

/* "key = NAME", with bit numbers as declared when there are more bits than these. */
static void say_wire(const hy_wire *low, const hy_wire *high, const hy_waves *reader, const char *key,
                     hy_capture_note *note)
{
    hy_vcd_name name = hy_waves_name(reader, low->var);
    hy_vcd_var var = hy_waves_var(reader, low->var);
    if (var.is_real || var.width == 1) {
        hy_capture_say(note, "%s = %s%s", key, low->inverted ? "!" : "", name.text);
        return;
    }
    char *bracket = var.ranged ? strrchr(name.text, '[') : NULL;
    if (bracket != NULL) {
        *bracket = '\0';
    }
    int32_t sign = var.msb >= var.lsb ? 1 : -1;
    hy_capture_say(note, "%s = %s%s[%d", key, low->inverted ? "!" : "", name.text,
                   var.lsb + sign * (int32_t)high->bit);
    if (high->bit != low->bit) {
        hy_capture_say(note, ":%d", var.lsb + sign * (int32_t)low->bit);
    }
    hy_capture_say(note, "]");
}

void hy_capture_map_tell(const hy_capture_map *map, const hy_waves *reader, const char *name, const char *no_clock,
                         hy_capture_note *note)
{
    const hy_wire *wire = map->wire;
    int vector = wire[0].mapped;
    for (unsigned i = 0; i < CODE_PINS; i++) {
        vector = vector && wire[i].mapped && wire[i].var == wire[0].var && wire[i].bit == wire[0].bit + i &&
                 wire[i].inverted == wire[0].inverted;
    }
    hy_capture_say(note, "note: %s: ", name);
    if (vector) {
        say_wire(&wire[0], &wire[CODE_PINS - 1], reader, "p", note);
    }
    int said = vector;
    for (int i = vector ? CODE_PINS : 0; i < HY_WIRES; i++) {
        if (wire[i].mapped) {
            hy_capture_say(note, "%s", said ? ", " : "");
            say_wire(&wire[i], &wire[i], reader, keys[i], note);
            said = 1;
        } else if (i < HY_STROBE) {
            hy_capture_say(note, "%s%s %s", said ? ", " : "", keys[i], i < CODE_PINS ? "low" : "by --level");
            said = 1;
        }
    }
    int clock = wire[HY_WIRE_CLOCK].mapped || wire[HY_WIRE_HZ].mapped;
    hy_capture_say(note, "%s%s\n", clock ? "" : no_clock,
                   map->guessed ? " (guessed by name; --map says otherwise)" : "");
}
