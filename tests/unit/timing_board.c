#include "timing_board.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double time_of(const board *b, double clocks)
{
    if (b->slope == 0.0) {
        return clocks / b->hz;
    }
    /* hz (s + slope s^2 / 2) = clocks */
    return (sqrt(1.0 + 2.0 * b->slope * clocks / b->hz) - 1.0) / b->slope;
}

unsigned board_random(board *b, unsigned below)
{
    b->seed ^= b->seed >> 12;
    b->seed ^= b->seed << 25;
    b->seed ^= b->seed >> 27;
    return (unsigned)((b->seed * UINT64_C(2685821657736338717)) >> 33) % below;
}

void board_edge_add(board *b, double s, int pin, char level)
{
    if (b->count == b->room) {
        b->room = b->room == 0 ? 1024 : b->room * 2;
        b->edge = realloc(b->edge, b->room * sizeof *b->edge);
        if (b->edge == NULL) {
            abort();
        }
    }
    b->edge[b->count] = (board_edge){s, pin, level, b->count};
    b->count++;
    b->end = s > b->end ? s : b->end;
}

static void pin_to(board *b, double clocks, int pin, unsigned level)
{
    if ((b->levels >> pin & 1) != level) {
        b->levels ^= 1u << pin;
        board_edge_add(b, time_of(b, clocks), pin, (char)('0' + level));
    }
}

void board_start(board *b, double hz, double slope, uint64_t seed)
{
    board_start_part(b, hyoid_part_default(), hz, slope, seed);
}

void board_start_part(board *b, const hyoid_part *part, double hz, double slope, uint64_t seed)
{
    *b = (board){.hz = hz, .slope = slope, .seed = seed * 2 + 1};
    if (hyoid_chip_init(&b->chip, part) != HYOID_OK) {
        abort();
    }
    for (int i = 0; i < 10; i++) {
        board_random(b, 2);
    }
    b->levels = 1u << BOARD_REQUEST;
    for (int i = 0; i < BOARD_CLOCK; i++) {
        board_edge_add(b, 0.0, i, (char)('0' + (b->levels >> i & 1)));
    }
    hyoid_chip_step(&b->chip, 1000 + board_random(b, 36));
}

void board_free(board *b)
{
    free(b->edge);
    b->edge = NULL;
}

/* One clock, and what request does in it. */
static void clock_once(board *b)
{
    hyoid_chip_step(&b->chip, 1);
    pin_to(b, (double)b->chip.cycle, BOARD_REQUEST, (unsigned)hyoid_chip_request(&b->chip));
}

static void run_to(board *b, uint64_t cycle)
{
    while (b->chip.cycle < cycle) {
        uint64_t due = hyoid_chip_request_cycle(&b->chip);
        uint64_t quiet = due < cycle ? due : cycle;
        if (quiet > b->chip.cycle + 200 && b->chip.fall_at == HYOID_NEVER && b->chip.caught == 0) {
            hyoid_chip_step(&b->chip, (quiet - b->chip.cycle - 100) / 2);
            pin_to(b, (double)b->chip.cycle, BOARD_REQUEST, (unsigned)hyoid_chip_request(&b->chip));
        } else {
            clock_once(b);
        }
    }
}

void board_say(board *b, unsigned code, double answer, double hold)
{
    double at = (double)b->chip.cycle + answer;
    run_to(b, (uint64_t)floor(at));
    for (int i = 0; i < 6; i++) {
        pin_to(b, at - 0.8 > 0.0 ? at - 0.8 : at, i, code >> i & 1);
    }
    hyoid_chip_set_code(&b->chip, code);
    hyoid_chip_set_strobe(&b->chip, 1);
    pin_to(b, at, BOARD_STROBE, 1);
    run_to(b, b->chip.cycle + 7);
    hyoid_chip_set_strobe(&b->chip, 0);
    pin_to(b, at + 7.0, BOARD_STROBE, 0);
    if (hold > 0.0) {
        run_to(b, b->chip.cycle + (uint64_t)hold);
        return;
    }
    uint64_t limit = b->chip.cycle + 400000;
    while (hyoid_chip_request(&b->chip) == 0 && b->chip.cycle < limit) {
        uint64_t due = hyoid_chip_request_cycle(&b->chip);
        if (due == HYOID_NEVER || due <= b->chip.cycle + 2) {
            clock_once(b);
        } else {
            run_to(b, due - 1);
        }
    }
    if (hyoid_chip_request_cycle(&b->chip) != HYOID_NEVER) { /* a request that is stuck high */
        run_to(b, hyoid_chip_request_cycle(&b->chip) + 1);
    }
}

void board_inflect(board *b, unsigned level, double clocks)
{
    double strobe = 0.0;
    for (size_t i = 0; i < b->count; i++) {
        strobe = b->edge[i].pin == BOARD_STROBE && b->edge[i].level == '1' ? b->edge[i].s : strobe;
    }
    for (int i = 0; i < 2; i++) {
        if ((b->levels >> (6 + i) & 1) != (level >> i & 1)) {
            b->levels ^= 1u << (6 + i);
            board_edge_add(b, strobe + clocks / b->hz, 6 + i, (char)('0' + (level >> i & 1)));
        }
    }
}

static int in_time(const void *x, const void *y)
{
    const board_edge *a = x;
    const board_edge *b = y;
    if (a->s != b->s) {
        return a->s < b->s ? -1 : 1;
    }
    return a->pin != b->pin ? a->pin - b->pin : a->order < b->order ? -1 : 1;
}

board_edge *board_find(board *b, int pin, char level, unsigned which)
{
    qsort(b->edge, b->count, sizeof *b->edge, in_time);
    for (size_t i = 0; i < b->count; i++) {
        if (b->edge[i].pin == pin && b->edge[i].level == level && b->edge[i].s > 0.0 && which-- == 0) {
            return &b->edge[i];
        }
    }
    abort();
}

void board_remove(board *b, board_edge *edge)
{
    size_t at = (size_t)(edge - b->edge);
    memmove(edge, edge + 1, (b->count - at - 1) * sizeof *edge);
    b->count--;
}

void board_add_clock(board *b)
{
    double last = b->end;
    board_edge_add(b, 0.0, BOARD_CLOCK, '0');
    for (double k = 1.0; time_of(b, k) < last; k += 1.0) {
        board_edge_add(b, time_of(b, k), BOARD_CLOCK, '1');
        board_edge_add(b, time_of(b, k + 0.5), BOARD_CLOCK, '0');
    }
}

FILE *board_capture(board *b, double rate, double jitter)
{
    FILE *out = tmpfile();
    if (out == NULL) {
        abort();
    }
    static const char *const names[BOARD_PINS] = {"p0", "p1", "p2",     "p3",      "p4",   "p5",
                                                  "i0", "i1", "strobe", "request", "clock"};
    double phase = (double)board_random(b, 1000) * 1e-3;
    int clock = 0;
    for (size_t i = 0; i < b->count; i++) {
        clock = clock || b->edge[i].pin == BOARD_CLOCK;
        if (jitter > 0.0 && b->edge[i].s > 0.0) {
            b->edge[i].s += jitter * ((double)board_random(b, 2001) * 1e-3 - 1.0);
        }
    }
    qsort(b->edge, b->count, sizeof *b->edge, in_time);
    fputs("$timescale 100 ps $end $scope module board $end\n", out);
    for (int i = 0; i < (clock ? BOARD_PINS : BOARD_CLOCK); i++) {
        fprintf(out, "$var wire 1 %c %s $end\n", '!' + i, names[i]);
    }
    fputs("$upscope $end $enddefinitions $end\n", out);
    long long last = -1;
    double unit = rate > 0.0 ? 1e10 / rate : 10.0;
    for (size_t i = 0; i < b->count; i++) {
        double s = b->edge[i].s;
        double n = s <= 0.0 ? 0.0 : rate > 0.0 ? floor(s * rate + phase) + 1.0 : floor(s * 1e9 + 0.5);
        long long stamp = llround(n * unit);
        if (stamp != last) {
            fprintf(out, "#%lld\n", stamp);
            last = stamp;
        }
        fprintf(out, "%c%c\n", b->edge[i].level, '!' + b->edge[i].pin);
    }
    fprintf(out, "#%lld\n", last + 10000);
    rewind(out);
    return out;
}
