#include "steady.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;

/* Filter cycles after which registers have arrived and the narrowest section (30 Hz at 20 kHz) has rung down by more than
 * 300 dB. */
enum { SETTLE = 24576 };

static void must(bool condition, const char *what)
{
    if (!condition) {
        printf("FAIL: %s\n", what);
        exit(1);
    }
}

static void *grown(void *old, size_t *room, size_t needed, size_t size)
{
    while (*room < needed) {
        *room = *room == 0 ? 65536 : *room * 2;
    }
    void *grown = realloc(old, *room * size);
    must(grown != NULL, "out of memory");
    return grown;
}

static void take_frames(void *user, const float *frames, size_t count)
{
    recording *r = user;
    if (r->frame_count + count > r->frame_room) {
        r->frames = grown(r->frames, &r->frame_room, r->frame_count + count, sizeof r->frames[0]);
    }
    memcpy(r->frames + r->frame_count, frames, count * sizeof frames[0]);
    r->frame_count += count;
}

static void take_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    recording *r = user;
    if (r->level_count == r->level_room) {
        r->levels = grown(r->levels, &r->level_room, r->level_count + 1, sizeof r->levels[0]);
    }
    r->levels[r->level_count++] = (hyoid_level){.cycle = cycle, .value = value};
    if (r->edge_time != NULL) {
        long double off = (long double)ps + (long double)fraction - r->edge_time(r->schedule, cycle) * 1e12L;
        r->worst_edge = fmax(r->worst_edge, (double)fabsl(off));
    }
}

hyoid_observer recording_observer(recording *r)
{
    return (hyoid_observer){.user = r, .frames = take_frames, .level = take_level};
}

void recording_free(recording *r)
{
    free(r->frames);
    free(r->levels);
    *r = (recording){0};
}

double steady_sinc(double x)
{
    return x == 0.0 ? 1.0 : sin(pi * x) / (pi * x);
}

double steady_db(double ratio)
{
    return 20.0 * log10(ratio);
}

double complex steady_line(const steady *s, unsigned j)
{
    double x = (double)j / s->period;
    return s->x[j % s->period] * steady_sinc(x) * cexp(-I * pi * x);
}

/* The levels from `base` on must be a steady vowel's: one a filter cycle, the same every period. */
static void check_levels(const steady *s, const hyoid_part *part, const hyoid_level *base, size_t count)
{
    double peak = 0.0;
    must(count >= 2 * (size_t)s->period, "too few levels");
    for (size_t i = 0; i < count; i++) {
        peak = fmax(peak, fabs(base[i].value));
    }
    must(peak > 1e-3, "the vowel is silent");
    for (size_t i = 0; i < count; i++) {
        must(base[i].cycle == base[0].cycle + i * part->filter_clocks,
             "a level is not one filter cycle after the last");
        must(fabs(base[i].value - base[i % s->period].value) <= 1e-12 * peak, "the vowel does not repeat");
    }
}

static void series(steady *s, const hyoid_level *base)
{
    for (uint32_t j = 0; j < s->period; j++) {
        double complex sum = 0.0;
        for (uint32_t m = 0; m < s->period; m++) {
            double angle = 2.0 * pi * (double)(j * m % s->period) / s->period;
            sum += base[m].value * cexp(-I * angle);
        }
        s->x[j] = sum / s->period;
    }
}

void steady_render(steady *s, unsigned code, double clock_hz, uint32_t rate, bool images, size_t count)
{
    const hyoid_part *part = hyoid_part_default();
    must(part->phoneme[code].fa == 0 && part->phoneme[code].va > 0 && !part->phoneme[code].closure, "not a vowel");

    memset(s, 0, sizeof *s);
    s->clock_hz = clock_hz;
    s->rate = rate;
    s->count = count;
    const hyoid_observer observer = recording_observer(&s->all);
    hyoid_stream stream;
    must(hyoid_stream_init(&stream, part, rate, &observer) == HYOID_OK, "stream_init");
    must(hyoid_stream_keep_images(&stream, images) == HYOID_OK, "keep_images");
    must(hyoid_stream_set_clock(&stream, 0, clock_hz) == HYOID_OK, "set_clock");
    must(hyoid_stream_write(&stream, 0, code) == HYOID_OK, "write");
    const double cycle = part->filter_clocks / clock_hz; /* s */
    const double end = (SETTLE + 2 * STEADY_PERIOD_MAX) * cycle + (double)(count + 2 * HYOID_TAPS) / rate;
    must(hyoid_stream_run(&stream, (int64_t)(end * 1e12)) == HYOID_OK, "run");

    s->period = part->pitch_period[0] + (stream.chip.r_f1 >> part->pitch_f1_shift);
    must(s->period <= STEADY_PERIOD_MAX, "the pitch period is too long for this test");
    must(s->all.level_count > SETTLE, "too few levels");
    const hyoid_level *base = s->all.levels + SETTLE;
    check_levels(s, part, base, s->all.level_count - SETTLE);
    s->f0 = (long double)clock_hz / ((long double)part->filter_clocks * s->period);
    s->origin = (long double)base->cycle / (long double)clock_hz;
    series(s, base);

    s->first = (int64_t)(s->origin * rate) + HYOID_TAPS;
    must((size_t)s->first + count <= s->all.frame_count, "too few host samples");
    s->frames = s->all.frames + s->first;
}

void steady_free(steady *s)
{
    recording_free(&s->all);
}
