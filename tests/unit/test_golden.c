/* The core against tests/golden: vectors that were worked out without it. Each file says why it is right. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../core/internal.h"
#include "core_bench.h"
#include "source_dir.h"

enum { FILTER = 36, FIELDS = 5 };

typedef struct table {
    FILE *file;
    char line[4096];
    char *field[FIELDS];
    size_t rows;
} table;

static void table_open(table *t, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/tests/golden/%s", source_dir(), name);
    memset(t, 0, sizeof *t);
    t->file = fopen(path, "r");
    cr_assert_not_null(t->file, "%s can't be opened", path);
    /* what makes it right stands in front; then the heading */
    int comments = 0;
    do {
        cr_assert_not_null(fgets(t->line, sizeof t->line, t->file), "%s has no heading", path);
        comments += t->line[0] == '#';
    } while (t->line[0] == '#');
    cr_assert_geq(comments, 2, "%s does not say why it is right", path);
}

/* The next row, cut into its fields; closes the file at its end. */
static bool table_next(table *t)
{
    if (fgets(t->line, sizeof t->line, t->file) == NULL) {
        fclose(t->file);
        return false;
    }
    t->line[strcspn(t->line, "\n")] = '\0';
    char *at = t->line;
    for (size_t i = 0; i < FIELDS; i++) {
        t->field[i] = at;
        at += strcspn(at, ",");
        if (*at == ',') {
            *at++ = '\0';
        }
    }
    t->rows++;
    return true;
}

static unsigned long whole(const char *text)
{
    char *end;
    unsigned long value = strtoul(text, &end, 0);
    cr_assert(end != text && (*end == '\0' || *end == ' '), "a number: %s", text);
    return value;
}

/* The next number of a list with spaces in between; false at its end. */
static bool next_of(char **list, unsigned long *value)
{
    if (**list == '\0') {
        return false;
    }
    *value = whole(*list);
    *list += strcspn(*list, " ");
    *list += **list == ' ';
    return true;
}

/* A part in which every phoneme lasts long and does nothing. */
static bench *blank_bench(void)
{
    bench *b = bench_new();
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        b->part.phoneme[code] = (hyoid_phoneme){.duration = 65535};
    }
    b->part.phoneme[63].pause = 1;
    return b;
}

static void run_to(bench *b, uint64_t cycle)
{
    hyoid_chip_step(&b->chip, cycle - b->chip.cycle);
}

Test(golden, request_clocks)
{
    table t;
    table_open(&t, "request_clocks.csv");
    while (table_next(&t)) {
        bench *b = bench_new();
        hyoid_chip_write(&b->chip, (unsigned)whole(t.field[0]));
        cr_expect_eq(bench_until_request(b, 0, 100), whole(t.field[1]), "%s: fall", t.field[0]);
        cr_expect_eq(hyoid_chip_request_cycle(&b->chip), whole(t.field[2]), "%s: rise foretold", t.field[0]);
        cr_expect_eq(bench_until_request(b, 1, 1000000), whole(t.field[2]), "%s: rise", t.field[0]);
        free(b);
    }
    cr_assert_eq(t.rows, HYOID_PHONEMES);
}

Test(golden, noise_bits)
{
    bench *b = bench_new();
    table t;
    table_open(&t, "noise_bits.csv");
    while (table_next(&t)) {
        run_to(b, FILTER * whole(t.field[0]));
        cr_assert_eq(b->chip.noise_reg & 1u, whole(t.field[1]), "filter cycle %s", t.field[0]);
    }
    cr_assert_eq(t.rows, 200);
    free(b);
}

/* One filter cycle of the tract without noise; n = 0 carries the impulse into the section. */
static double response(hyoid_chip *chip, unsigned section, unsigned n)
{
    const double none = 0.0;
    const double voice = section == 1 && n == 0 ? 1.0 : 0.0;
    double level;
    if (n == 0) { /* the section upstream gives out 1 for one filter cycle */
        switch (section) {
        case 2:
            chip->y1 = 1.0;
            chip->k1 = chip->q1 = 0.0;
            break;
        case 3:
            chip->y2 = 1.0;
            chip->k2 = chip->q2 = 0.0;
            break;
        case 4: /* which the fixed section sees come, too */
            chip->u3 = chip->k3 = chip->q3 = 1.0;
            break;
        default:
            break;
        }
    } else if (section == 4) {
        chip->k3 = chip->q3 = 0.0;
    }
    hyoid_tract(chip, 1, &voice, &none, &level);
    const double out[] = {0.0, chip->y1, chip->y2, chip->y3, chip->y4};
    return out[section];
}

Test(golden, impulse_responses)
{
    enum { COUNT = 120, CASES = 4 + 4 * 3 + 4 + 1 };
    bench *b = bench_new();
    table t;
    table_open(&t, "impulse_responses.csv");
    double got[COUNT];
    double wanted[COUNT];
    double worst = 0.0;
    while (table_next(&t)) {
        const unsigned section = (unsigned)whole(t.field[0]);
        const uint8_t reg = (uint8_t)whole(t.field[1]);
        const unsigned long n = whole(t.field[3]);
        cr_assert_eq(n, (t.rows - 1) % COUNT);
        if (n == 0) {
            bench_power_up(b);
            b->chip.r_f1 = b->chip.r_f2 = b->chip.r_f3 = reg;
            b->chip.bw2 = (uint8_t)whole(t.field[2]);
            hyoid_transitions_refresh(&b->chip);
        }
        got[n] = response(&b->chip, section, (unsigned)n);
        wanted[n] = strtod(t.field[4], NULL);
        if (n + 1 < COUNT) {
            continue;
        }
        double peak = 0.0;
        for (size_t i = 0; i < COUNT; i++) {
            peak = fmax(peak, fabs(wanted[i]));
        }
        cr_assert_gt(peak, 1e-3);
        for (size_t i = 0; i < COUNT; i++) {
            worst = fmax(worst, fabs(got[i] - wanted[i]) / peak);
            cr_expect_leq(fabs(got[i] - wanted[i]), 1e-12 * peak,
                          "section %u register %u cycle %zu: %.17g, expected %.17g", section, reg, i, got[i],
                          wanted[i]);
        }
    }
    cr_assert_eq(t.rows, CASES * COUNT);
    fprintf(stderr, "impulse responses: at most %.1e of the peak from the textbook's\n", worst);
    free(b);
}

static hyoid_phoneme walker(unsigned long bits, unsigned code)
{
    const uint8_t c = (uint8_t)code;
    hyoid_phoneme word = {.duration = 65535};
    switch (bits) {
    case 4:
        word.f1 = word.f3 = word.fc = word.va = word.fa = c;
        break;
    case 5:
        word.f2 = c;
        break;
    default:
        word.fc = c;
        word.closure = 1;
        break;
    }
    return word;
}

static void check_registers(const hyoid_chip *chip, unsigned long bits, unsigned long value, const char *what)
{
    const uint8_t four[] = {chip->r_f1, chip->r_f3, chip->r_fc, chip->r_va, chip->r_fa};
    const uint8_t five[] = {chip->r_f2};
    const uint8_t spectrum[] = {chip->r_fc};
    const uint8_t *at = bits == 4 ? four : bits == 5 ? five : spectrum;
    const size_t count = bits == 4 ? sizeof four : 1;
    for (size_t i = 0; i < count; i++) {
        cr_assert_eq(at[i], value, "%s: register %zu is %u, expected %lu", what, i, at[i], value);
    }
}

/* Walks through a list of values, one every 64 filter cycles; between the moves and after the last nothing changes. */
static void check_walk(bench *b, unsigned long bits, char *values, unsigned long start, const char *what)
{
    enum { MOVE = FILTER * 64 };
    unsigned long value = start;
    const uint64_t first = b->chip.cycle / MOVE * MOVE;
    for (uint64_t move = 1; next_of(&values, &value); move++) {
        run_to(b, first + move * MOVE - 1);
        cr_assert_eq(b->chip.request, 0);
        run_to(b, first + move * MOVE);
        check_registers(&b->chip, bits, value, what);
    }
    hyoid_chip_step(&b->chip, 2 * MOVE);
    check_registers(&b->chip, bits, value, what);
}

Test(golden, register_walks)
{
    bench *b = blank_bench();
    b->part.formant_cycles = b->part.amplitude_cycles; /* all registers then move at once */
    table t;
    table_open(&t, "register_walks.csv");
    while (table_next(&t)) {
        const unsigned long bits = whole(t.field[0]);
        const unsigned code = (unsigned)whole(t.field[1]);
        char what[64];
        snprintf(what, sizeof what, "%lu bits, code %u, %s", bits, code, t.field[2]);
        if (strcmp(t.field[2], "up") == 0) {
            b->part.phoneme[0] = walker(bits, code);
            b->part.phoneme[1] = walker(bits, 0);
            bench_power_up(b);
            hyoid_chip_write(&b->chip, 0);
            hyoid_chip_step(&b->chip, 2);
            check_walk(b, bits, t.field[3], 0, what);
        } else { /* from where the row before has arrived */
            hyoid_chip_write(&b->chip, 1);
            hyoid_chip_step(&b->chip, 2);
            check_walk(b, bits, t.field[3], bits == 5 ? 8 * code + code / 4 : 17 * code, what);
        }
    }
    cr_assert_eq(t.rows, 2 * (16 + 32 + 16));
    free(b);
}

Test(golden, pitch_periods)
{
    bench *b = bench_new();
    table t;
    table_open(&t, "pitch_periods.csv");
    while (table_next(&t)) {
        bench_power_up(b);
        hyoid_chip_set_inflection(&b->chip, (unsigned)whole(t.field[1]));
        hyoid_chip_write(&b->chip, (unsigned)whole(t.field[0]));
        hyoid_chip_step(&b->chip, FILTER * 64 * 60); /* F1 has arrived */
        cr_assert_eq(b->chip.r_f1, b->chip.t_f1);
        uint64_t starts[3];
        const uint64_t limit = b->chip.cycle + FILTER * 4 * 512;
        for (size_t i = 0; i < 3;) {
            cr_assert_lt(b->chip.cycle, limit, "code %s level %s", t.field[0], t.field[1]);
            hyoid_chip_step(&b->chip, FILTER);
            if (b->chip.pitch_count == 0) {
                starts[i++] = b->chip.cycle / FILTER;
            }
        }
        cr_expect_eq(starts[1] - starts[0], whole(t.field[2]), "code %s level %s", t.field[0], t.field[1]);
        cr_expect_eq(starts[2] - starts[1], whole(t.field[2]), "code %s level %s", t.field[0], t.field[1]);
    }
    cr_assert_eq(t.rows, HYOID_PHONEMES * HYOID_LEVELS);
    free(b);
}

Test(golden, slots)
{
    bench *b = blank_bench();
    b->part.request_delay = 0; /* a phoneme of one filter cycle may be over in the next clock */
    table t;
    table_open(&t, "slots.csv");
    while (table_next(&t)) {
        const unsigned slot = (unsigned)whole(t.field[1]);
        const uint64_t first = whole(t.field[2]);
        /* a voice and a noise that begin in this sixteenth: at the first counted filter cycle if not later */
        const uint8_t delay = (uint8_t)(slot < HYOID_SLOTS ? slot : 0);
        const uint64_t loads = slot < HYOID_SLOTS && first > 0 ? first : 1;
        b->part.phoneme[0] =
            (hyoid_phoneme){.va = 15, .fa = 15, .vd = delay, .cld = delay, .duration = (uint16_t)whole(t.field[0])};
        bench_power_up(b);
        hyoid_chip_write(&b->chip, 0);
        if (first > 0) {
            run_to(b, FILTER * first - 1);
            cr_assert_lt(hyoid_chip_slot(&b->chip), slot, "duration %s slot %u", t.field[0], slot);
            run_to(b, FILTER * first);
        }
        cr_assert_geq(hyoid_chip_slot(&b->chip), slot, "duration %s slot %u", t.field[0], slot);
        cr_assert_eq(hyoid_chip_request(&b->chip), slot == HYOID_SLOTS || first == whole(t.field[0]) || first == 0);

        bench_power_up(b);
        hyoid_chip_write(&b->chip, 0);
        run_to(b, FILTER * loads - 1);
        cr_assert(b->chip.t_va == 0 && b->chip.t_fa == 0, "duration %s delay %u", t.field[0], slot);
        run_to(b, FILTER * loads);
        cr_assert(b->chip.t_va == 255 && b->chip.t_fa == 255, "duration %s delay %u", t.field[0], slot);
    }
    cr_assert_eq(t.rows, 12 * (HYOID_SLOTS + 1));
    free(b);
}

Test(golden, gate)
{
    bench *b = blank_bench();
    b->part.phoneme[0].closure = 1;
    table t;
    table_open(&t, "gate.csv");
    while (table_next(&t)) {
        b->part.gate_shift = (uint32_t)whole(t.field[0]);
        bench_power_up(b);
        hyoid_chip_write(&b->chip, 0);
        unsigned long value = 255;
        char *values = t.field[1];
        for (uint64_t move = 1;; move++) {
            run_to(b, FILTER * 64 * move - 1);
            cr_assert_eq(b->chip.gate, value, "shift %s before move %llu", t.field[0], (unsigned long long)move);
            if (!next_of(&values, &value)) {
                break;
            }
            run_to(b, FILTER * 64 * move);
            cr_assert_eq(b->chip.gate, value, "shift %s move %llu", t.field[0], (unsigned long long)move);
        }
        cr_assert_eq(value, 0);
    }
    cr_assert_eq(t.rows, 8);
    free(b);
}

/* ---- audio levels ---- */

typedef struct pin_event {
    uint64_t clock;
    bool strobe;
    unsigned value;
} pin_event;

enum { LEVELS = 10000, EVENTS = 64 };

typedef struct recording {
    pin_event events[EVENTS];
    size_t event_count, count;
    double levels[LEVELS];
} recording;

static void record(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    recording *r = user;
    (void)ps, (void)fraction;
    if (r->count < LEVELS) {
        cr_assert_eq(cycle, FILTER * (r->count + 1) + FILTER / 2);
        r->levels[r->count++] = value;
    }
}

static void by_pins(recording *r)
{
    static hyoid_level levels[LEVELS + 1];
    bench *b = bench_new();
    for (size_t i = 0; i <= r->event_count; i++) {
        const uint64_t until = i < r->event_count ? r->events[i].clock : FILTER * LEVELS + FILTER / 2;
        const size_t count = hyoid_chip_run(&b->chip, until - b->chip.cycle, levels, LEVELS + 1);
        for (size_t k = 0; k < count; k++) {
            record(r, levels[k].cycle, 0, 0.0, levels[k].value);
        }
        if (i < r->event_count && r->events[i].strobe) {
            hyoid_chip_write(&b->chip, r->events[i].value);
        } else if (i < r->event_count) {
            hyoid_chip_set_inflection(&b->chip, r->events[i].value);
        }
    }
    free(b);
}

static void by_stream(recording *r)
{
    const hyoid_observer observer = {.user = r, .level = record};
    hyoid_stream *stream = calloc(1, sizeof *stream);
    cr_assert_not_null(stream);
    cr_assert_eq(hyoid_stream_init(stream, hyoid_part_default(), 0, &observer), HYOID_OK);
    for (size_t i = 0; i < r->event_count; i++) {
        /* between this clock's edge and the next, at 720 kHz */
        const int64_t ps = (int64_t)r->events[i].clock * 12500000 / 9 + 694444;
        cr_assert_eq(r->events[i].strobe ? hyoid_stream_write(stream, ps, r->events[i].value)
                                         : hyoid_stream_set_inflection(stream, ps, r->events[i].value),
                     HYOID_OK);
    }
    cr_assert_eq(hyoid_stream_run(stream, HYOID_PS_PER_S), HYOID_OK);
    free(stream);
}

static uint64_t hash_more(uint64_t hash, double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    for (int i = 0; i < 8; i++) {
        hash = (hash ^ (bits >> 8 * i & 255)) * UINT64_C(0x100000001b3);
    }
    return hash;
}

static void check_levels(void (*perform)(recording *))
{
    recording *r = calloc(1, sizeof *r);
    cr_assert_not_null(r);
    table t;
    table_open(&t, "audio_levels.csv");
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    size_t hashed = 0, compared = 0, sounding = 0;
    while (table_next(&t)) {
        const unsigned long index = whole(t.field[1]);
        if (strcmp(t.field[0], "audio") != 0) {
            cr_assert(r->event_count < EVENTS && r->count == 0);
            r->events[r->event_count++] =
                (pin_event){index, strcmp(t.field[0], "strobe") == 0, (unsigned)whole(t.field[2])};
            continue;
        }
        if (r->count == 0) {
            perform(r);
            cr_assert_eq(r->count, LEVELS);
        }
        cr_assert(index > hashed && index <= LEVELS);
        while (hashed < index) {
            hash = hash_more(hash, r->levels[hashed++]);
        }
        const double wanted = strtod(t.field[2], NULL);
        cr_assert(memcmp(&r->levels[index - 1], &wanted, sizeof wanted) == 0, "level %lu is %a, expected %s", index,
                  r->levels[index - 1], t.field[2]);
        cr_assert_eq(hash, strtoull(t.field[3], NULL, 16), "the levels up to %lu", index);
        compared++;
        sounding += fabs(wanted) > 1e-6;
    }
    cr_assert_eq(compared, 300 + (LEVELS - 300) / 50);
    cr_assert_gt(sounding, compared / 2);
    free(r);
}

Test(golden, audio_levels_by_the_pins)
{
    check_levels(by_pins);
}

Test(golden, audio_levels_on_the_hosts_time_line)
{
    check_levels(by_stream);
}
