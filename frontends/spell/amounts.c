/* Numbers, amounts of money, times of day, ordinals, fractions. */
#include <string.h>

#include "scan.h"

enum { DIGITS_MAX = 64 };

/* A number as it was written: 1,234.50 */
typedef struct amount {
    char whole[DIGITS_MAX];
    size_t count;         /* of whole; 0 for .5 */
    int grouped;          /* with commas */
    int goes_on;          /* a longer row of digits */
    size_t part, part_to; /* digits behind the point */
    size_t end;
} amount;

/* Of a longer row the rest is taken as a number of its own. */
static size_t digits_end(const hy_scan *scan, size_t i)
{
    size_t most = i + DIGITS_MAX;
    while (i < scan->end && i < most && hy_is_digit(scan->plain->bytes[i])) {
        i++;
    }
    return i;
}

/* Digits, or groups of three with commas. */
static amount read_amount(const hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    amount a = {.goes_on = i > scan->from && hy_is_digit(b[i - 1])};
    size_t start = i;
    size_t end = digits_end(scan, i);
    for (; i < end; i++) {
        a.whole[a.count++] = (char)b[i];
    }
    while (end - start >= 1 && (a.grouped || end - start <= 3) && end < scan->end && b[end] == ',' &&
           digits_end(scan, end + 1) == end + 4 && a.count + 3 <= DIGITS_MAX) {
        memcpy(a.whole + a.count, b + end + 1, 3);
        a.count += 3;
        a.grouped = 1;
        end += 4;
    }
    a.part = a.part_to = a.end = end;
    if (end + 1 < scan->end && b[end] == '.' && hy_is_digit(b[end + 1])) {
        size_t to = digits_end(scan, end + 1);
        int chained = start > scan->from && b[start - 1] == '.';
        if (!chained && (to == scan->end || b[to] != '.' || !hy_is_digit(b[to + 1]))) { /* 1.2.3 is no number */
            a.part = end + 1;
            a.part_to = a.end = to;
        }
    }
    return a;
}

static void say_part(hy_scan *scan, const amount *a)
{
    const hy_word_sink sink = hy_scan_sink(scan);
    if (a->part_to > a->part) {
        hy_scan_say(scan, "point");
        hy_say_digits(&sink, (const char *)scan->plain->bytes + a->part, a->part_to - a->part);
    }
}

static void say_amount(hy_scan *scan, const amount *a, int years)
{
    const hy_word_sink sink = hy_scan_sink(scan);
    if (a->goes_on) {
        hy_say_digits(&sink, a->whole, a->count);
    } else if (years && !a->grouped && a->part_to == a->part && hy_is_year(a->whole, a->count)) {
        hy_say_year(&sink, a->whole);
    } else if (a->count > 0) {
        hy_say_cardinal(&sink, a->whole, a->count);
    }
    say_part(scan, a);
    int is_one = a->count == 1 && a->whole[0] == '1' && a->part_to == a->part;
    scan->quantity = is_one ? 1 : 2;
}

static int is_scale(const hy_scan *scan)
{
    static const char *const names[] = {"hundred", "thousand", "million", "billion", "trillion"};
    const unsigned char *b = scan->plain->bytes;
    size_t i = scan->end;
    while (b[i] == ' ') {
        i++;
    }
    for (size_t k = 0; i > scan->end && k < sizeof names / sizeof names[0]; k++) {
        size_t n = strlen(names[k]);
        if (strncmp((const char *)b + i, names[k], n) == 0 && !hy_is_letter(b[i + n])) {
            return 1;
        }
    }
    return 0;
}

static size_t money(hy_scan *scan, const char *names, size_t i)
{
    const char *digits = (const char *)scan->plain->bytes;
    const hy_word_sink sink = hy_scan_sink(scan);
    amount a = read_amount(scan, i);
    const char *many = strchr(names, '|') != NULL ? strchr(names, '|') + 1 : names;
    char hundredths[60];
    int cents = a.part_to - a.part == 2 && a.count > 0;
    hy_scan_choice(names, memcmp(digits + a.part, "01", 2) == 0 ? 2 : 3, hundredths, sizeof hundredths);
    if (!cents || hundredths[0] == '\0') {
        say_amount(scan, &a, 0);
        if (a.end == scan->end && is_scale(scan)) {
            scan->owing = many;
        } else {
            hy_scan_say_all(scan, scan->quantity == 1 ? names : many);
        }
    } else {
        int none = a.count == 1 && a.whole[0] == '0';
        int even = memcmp(digits + a.part, "00", 2) == 0;
        if (!none || even) {
            hy_say_cardinal(&sink, a.whole, a.count);
            hy_scan_say_all(scan, a.count == 1 && a.whole[0] == '1' ? names : many);
        }
        if (!even) {
            int leading = digits[a.part] == '0';
            hy_say_cardinal(&sink, digits + a.part + leading, (size_t)(2 - leading));
            hy_scan_say_all(scan, hundredths);
        }
    }
    scan->quantity = 0;
    return a.end;
}

/* am, pm, a.m., p.m. */
static int is_half_day(const unsigned char *b)
{
    return ((b[0] | 0x20) == 'a' || (b[0] | 0x20) == 'p') &&
           ((b[1] | 0x20) == 'm' || (b[1] == '.' && (b[2] | 0x20) == 'm'));
}

/* 10:30, 7:05, 4:00pm: hours and minutes, perhaps seconds. `i` is behind the hours. */
static size_t clock_time(hy_scan *scan, const amount *a)
{
    const unsigned char *b = scan->plain->bytes;
    const hy_word_sink sink = hy_scan_sink(scan);
    size_t m = a->end + 1;
    if (a->grouped || a->count > 2 || a->part_to > a->part || a->end >= scan->end || b[a->end] != ':' ||
        digits_end(scan, m) != m + 2 || b[m] > '5') {
        return a->end;
    }
    hy_say_cardinal(&sink, a->whole, a->count);
    size_t end = m + 2;
    size_t seconds = end < scan->end && b[end] == ':' && digits_end(scan, end + 1) == end + 3 ? end + 1 : 0;
    if (b[m] == '0' && b[m + 1] == '0' && seconds == 0) {
        int half_day = hy_is_letter(b[end]) || (b[end] == ' ' && is_half_day(b + end + 1));
        int above_twelve = a->count == 2 && (a->whole[0] > '1' || (a->whole[0] == '1' && a->whole[1] > '2'));
        if (!half_day) {
            hy_scan_say(scan, above_twelve || a->whole[0] == '0' ? "hundred" : "o'clock");
        }
    } else if (b[m] == '0') {
        hy_scan_say(scan, "oh");
        hy_say_digits(&sink, (const char *)b + m + 1, 1);
    } else {
        hy_say_cardinal(&sink, (const char *)b + m, 2);
    }
    if (seconds != 0) {
        int leading = b[seconds] == '0';
        hy_scan_say(scan, "and");
        hy_say_cardinal(&sink, (const char *)b + seconds + leading, (size_t)(2 - leading));
        hy_scan_say(scan, "seconds");
        end = seconds + 2;
    }
    scan->quantity = 2;
    return end;
}

/* 1/2, 3/4: a small number over 2 to 10 at the end of the token. */
static size_t fraction(hy_scan *scan, const amount *a)
{
    const unsigned char *b = scan->plain->bytes;
    const hy_word_sink sink = hy_scan_sink(scan);
    size_t under = a->end + 1;
    size_t end = a->end < scan->end && b[a->end] == '/' ? digits_end(scan, under) : 0;
    if (end == 0 || end != scan->end || a->grouped || a->count != 1 || a->part_to > a->part || a->whole[0] == '0' ||
        !((end == under + 1 && b[under] >= '2') || (end == under + 2 && b[under] == '1' && b[under + 1] == '0'))) {
        return a->end;
    }
    int one = a->whole[0] == '1';
    if (scan->quantity != 0) {
        hy_scan_say(scan, "and");
    }
    hy_say_cardinal(&sink, a->whole, 1);
    if (b[under] == '2') {
        hy_scan_say(scan, one ? "half" : "halves");
    } else if (b[under] == '4') {
        hy_scan_say(scan, one ? "quarter" : "quarters");
    } else {
        static const char *const parts[] = {"thirds",   "",        "fifths", "sixths",
                                            "sevenths", "eighths", "ninths", "tenths"};
        const char *many = parts[(end == under + 2 ? 10 : b[under] - '0') - 3];
        char word[12] = "";
        memcpy(word, many, strlen(many) - (one ? 1 : 0));
        hy_scan_say(scan, word);
    }
    scan->quantity = 2;
    return end;
}

/* 10-20 is a range; 555-1234 and 555-123-4567 are telephone numbers, digit by digit. 0 if it is something else. */
static size_t dashed(hy_scan *scan, const amount *a)
{
    const unsigned char *b = scan->plain->bytes;
    const hy_word_sink sink = hy_scan_sink(scan);
    size_t starts[3] = {a->end - a->count, 0, 0};
    size_t ends[3] = {a->end, 0, 0};
    size_t parts = 1;
    if (a->grouped || a->part_to > a->part || a->count == 0) {
        return 0;
    }
    while (ends[parts - 1] < scan->end && b[ends[parts - 1]] == '-' && parts < 3) {
        starts[parts] = ends[parts - 1] + 1;
        ends[parts] = digits_end(scan, starts[parts]);
        if (ends[parts] == starts[parts]) {
            break;
        }
        parts++;
    }
    size_t last = ends[parts - 1];
    if (parts < 2 || last != scan->end) {
        return 0;
    }
    int telephone = last - starts[parts - 1] == 4 && a->count == 3 && (parts == 2 || ends[1] - starts[1] == 3);
    if (telephone) {
        for (size_t i = 0; i < parts; i++) {
            hy_say_digits(&sink, (const char *)b + starts[i], ends[i] - starts[i]);
            if (i + 1 < parts) {
                hy_scan_mark(scan, ',');
            }
        }
        scan->quantity = 0;
        return last;
    }
    if (parts != 2) {
        return 0;
    }
    say_amount(scan, a, 1);
    hy_scan_say(scan, "to");
    amount second = read_amount(scan, starts[1]);
    say_amount(scan, &second, 1);
    return second.end;
}

static size_t number(hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    const hy_word_sink sink = hy_scan_sink(scan);
    amount a = read_amount(scan, i);
    size_t end = dashed(scan, &a);
    if (end == 0) {
        end = clock_time(scan, &a);
    }
    if (end == a.end || end == 0) {
        end = fraction(scan, &a);
    }
    if (end > a.end) {
        return end;
    }
    int plain = a.part_to == a.part && a.count > 0;
    size_t letters = a.end;
    while (letters < scan->end && hy_is_letter(b[letters])) {
        letters++;
    }
    const char *suffix = (const char *)b + a.end;
    if (plain && letters - a.end == 2 && a.count <= 15 && (a.count == 1 || a.whole[0] != '0') &&
        (strncmp(suffix, "st", 2) == 0 || strncmp(suffix, "nd", 2) == 0 || strncmp(suffix, "rd", 2) == 0 ||
         strncmp(suffix, "th", 2) == 0)) {
        hy_say_ordinal(&sink, a.whole, a.count);
        scan->quantity = 0;
        return letters;
    }
    if (plain && a.count > 1 && letters - a.end == 1 && *suffix == 's' && a.whole[a.count - 1] == '0') {
        hy_say_plural(&sink, a.whole, a.count);
        scan->quantity = 0;
        return letters;
    }
    say_amount(scan, &a, letters == a.end);
    return a.end;
}

size_t hy_amount(hy_scan *scan, size_t i)
{
    const unsigned char *b = scan->plain->bytes;
    size_t start = i;
    if ((b[i] == '-' || b[i] == '+') && i == scan->from) {
        start++;
    }
    uint32_t point = b[start] < 0x80 ? b[start] : scan->tables->symbols[b[start] - 0x80].point;
    const hy_symbol_row *currency = hy_spell_symbol(scan->tables, point, HY_CURRENCY);
    size_t digits = start + (currency != NULL);
    int fits = digits < scan->end &&
               (hy_is_digit(b[digits]) || (b[digits] == '.' && digits + 1 < scan->end && hy_is_digit(b[digits + 1]) &&
                                           (digits == scan->from || !hy_is_digit(b[digits - 1])) &&
                                           (digits == scan->from || !hy_is_letter(b[digits - 1]))));
    if (!fits) {
        return i;
    }
    if (start > i) {
        hy_scan_say(scan, b[i] == '-' ? "minus" : "plus");
    }
    return currency != NULL ? money(scan, currency->words, digits) : number(scan, digits);
}
