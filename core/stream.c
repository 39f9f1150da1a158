/* The stream: time-stamped inputs, clock edges and host-rate output, interleaved in the order of their times. */
#include <string.h>

#include "internal.h"

#define LEVELS 64

hyoid_status hyoid_stream_init(hyoid_stream *stream, const hyoid_part *part, uint32_t rate,
                               const hyoid_observer *observer)
{
    if (stream == NULL || part == NULL) {
        return HYOID_E_NULL;
    }
    if (rate != 0 && (rate < HYOID_RATE_MIN || rate > HYOID_RATE_MAX)) {
        return HYOID_E_RANGE;
    }
    hyoid_chip chip;
    hyoid_status status = hyoid_chip_init(&chip, part);
    if (status != HYOID_OK) {
        return status;
    }
    memset(stream, 0, sizeof *stream);
    stream->chip = chip;
    hyoid_clock_init(&stream->clock, part->nominal_hz);
    hyoid_output_init(&stream->output, rate);
    stream->request_told = 1; /* as at power-up */
    if (observer != NULL) {
        stream->observer = *observer;
    }
    return HYOID_OK;
}

/* Splits the time of a clock edge into whole picoseconds and a fraction. */
static int64_t edge_ps(const hyoid_stream *stream, uint64_t cycle, double *fraction)
{
    double offset = hyoid_clock_edge(&stream->clock, cycle);
    int64_t whole = (int64_t)offset;
    *fraction = offset - (double)whole;
    return stream->clock.start + whole;
}

static void hand_out_levels(hyoid_stream *stream, const hyoid_level *levels, size_t count)
{
    const hyoid_clock *clock = &stream->clock;
    const int64_t second = clock->start / HYOID_PS_PER_S;
    const double into_second = (double)(clock->start - second * HYOID_PS_PER_S);
    for (size_t i = 0; i < count; i++) {
        if (stream->images.left_out) {
            hyoid_images_level(stream, &levels[i]);
        } else if (stream->output.rate != 0) {
            double ps = into_second + hyoid_clock_edge(clock, levels[i].cycle);
            hyoid_output_step(&stream->output, second, ps, levels[i].value, &stream->observer);
        }
        if (stream->observer.level != NULL) {
            double fraction;
            int64_t ps = edge_ps(stream, levels[i].cycle, &fraction);
            stream->observer.level(stream->observer.user, levels[i].cycle, ps, fraction, levels[i].value);
        }
    }
}

static void tell_request(hyoid_stream *stream, int64_t ps)
{
    const uint8_t request = (uint8_t)hyoid_chip_request(&stream->chip);
    if (request != stream->request_told && stream->observer.request != NULL) {
        stream->observer.request(stream->observer.user, stream->chip.cycle, ps, request);
    }
    stream->request_told = request;
}

/* Tells of a latch or a change of request in the clock that was just run. */
static void hand_out_pins(hyoid_stream *stream, uint64_t latch_before)
{
    double fraction;
    const int64_t ps = edge_ps(stream, stream->chip.cycle, &fraction);
    if (stream->chip.latch_cycle != latch_before && stream->observer.latch != NULL) {
        stream->observer.latch(stream->observer.user, stream->chip.cycle, ps, stream->chip.phoneme);
    }
    tell_request(stream, ps);
}

/* The next clock in which the latch acts or request changes. */
static uint64_t next_pin_event(const hyoid_chip *chip)
{
    if (chip->caught) {
        return chip->cycle + 1;
    }
    uint64_t rise = hyoid_chip_request_cycle(chip);
    return chip->fall_at < rise ? chip->fall_at : rise;
}

/* Runs the clocks up to number `cycle`, all of which lie in the clock's present piece. */
static void run_clocks(hyoid_stream *stream, uint64_t cycle)
{
    hyoid_chip *chip = &stream->chip;
    while (chip->cycle < cycle) {
        const uint64_t event = next_pin_event(chip);
        const uint64_t stop = event < cycle ? event : cycle;
        const uint64_t latch_before = chip->latch_cycle;
        while (chip->cycle < stop) {
            hyoid_level levels[LEVELS];
            size_t count = hyoid_chip_run(chip, stop - chip->cycle, levels, LEVELS);
            hand_out_levels(stream, levels, count);
        }
        if (stop == event) {
            hand_out_pins(stream, latch_before);
        }
    }
}

/* Time has come to ps, in or at the end of the clock's piece. */
static void arrive(hyoid_stream *stream, int64_t ps)
{
    if (stream->images.left_out) {
        hyoid_images_run(stream, ps);
    }
    stream->now = ps;
    if (ps >= stream->clock.end) {
        hyoid_clock_next_piece(&stream->clock);
    }
}

static hyoid_status check_time(const hyoid_stream *stream, int64_t ps)
{
    if (stream == NULL) {
        return HYOID_E_NULL;
    }
    if (ps > HYOID_TIME_MAX) {
        return HYOID_E_RANGE;
    }
    return ps < stream->now ? HYOID_E_PAST : HYOID_OK;
}

static void hand_out_frames(hyoid_stream *stream)
{
    if (stream->output.rate != 0) {
        hyoid_output_run(&stream->output, stream->now, &stream->observer);
    }
}

static void run_edges(hyoid_stream *stream, int64_t ps)
{
    tell_request(stream, stream->now); /* a fault may have come or gone */
    while (stream->now < ps) {
        int64_t stop = ps < stream->clock.end ? ps : stream->clock.end;
        run_clocks(stream, hyoid_clock_edges_before(&stream->clock, stop));
        arrive(stream, stop);
    }
    hand_out_frames(stream);
}

hyoid_status hyoid_stream_run(hyoid_stream *stream, int64_t ps)
{
    hyoid_status status = check_time(stream, ps);
    if (status != HYOID_OK) {
        return status;
    }
    run_edges(stream, ps);
    return HYOID_OK;
}

hyoid_status hyoid_stream_run_to_request(hyoid_stream *stream, int64_t limit_ps, int64_t *reached_ps)
{
    hyoid_status status = check_time(stream, limit_ps);
    if (status != HYOID_OK) {
        return status;
    }
    int64_t reached = -1;
    const hyoid_chip *chip = &stream->chip;
    if (hyoid_chip_request(chip) &&
        (chip->fault[HYOID_FAULT_REQUEST_HIGH] > 0.0 || (!chip->caught && chip->fall_at == HYOID_NEVER))) {
        reached = stream->now;
    }
    while (reached < 0 && stream->now < limit_ps) {
        int64_t stop = limit_ps < stream->clock.end ? limit_ps : stream->clock.end;
        uint64_t last = hyoid_clock_edges_before(&stream->clock, stop);
        uint64_t rise = hyoid_chip_request_cycle(chip);
        if (rise <= last && !(chip->fault[HYOID_FAULT_REQUEST_LOW] > 0.0)) {
            run_clocks(stream, rise);
            double fraction;
            int64_t ps = edge_ps(stream, rise, &fraction) + 1;
            while (ps < stop && hyoid_clock_edges_before(&stream->clock, ps) < rise) {
                ps++; /* the edge's time was rounded down across a picosecond */
            }
            reached = ps < stop ? ps : stop;
            stop = reached;
        } else {
            run_clocks(stream, last);
        }
        arrive(stream, stop);
    }
    hand_out_frames(stream);
    if (reached_ps != NULL) {
        *reached_ps = reached;
    }
    return HYOID_OK;
}

/* Checks the arguments of an input change and brings the stream to its instant. */
static hyoid_status go_to(hyoid_stream *stream, int64_t ps, bool in_range)
{
    hyoid_status status = check_time(stream, ps);
    if (status != HYOID_OK) {
        return status;
    }
    if (!in_range) {
        return HYOID_E_RANGE;
    }
    run_edges(stream, ps);
    return HYOID_OK;
}

hyoid_status hyoid_stream_write(hyoid_stream *stream, int64_t ps, unsigned code)
{
    hyoid_status status = go_to(stream, ps, code < HYOID_PHONEMES);
    if (status == HYOID_OK) {
        hyoid_chip_write(&stream->chip, code);
    }
    return status;
}

hyoid_status hyoid_stream_set_code(hyoid_stream *stream, int64_t ps, unsigned code)
{
    hyoid_status status = go_to(stream, ps, code < HYOID_PHONEMES);
    if (status == HYOID_OK) {
        hyoid_chip_set_code(&stream->chip, code);
    }
    return status;
}

hyoid_status hyoid_stream_set_strobe(hyoid_stream *stream, int64_t ps, unsigned strobe)
{
    hyoid_status status = go_to(stream, ps, strobe <= 1);
    if (status == HYOID_OK) {
        hyoid_chip_set_strobe(&stream->chip, strobe);
    }
    return status;
}

hyoid_status hyoid_stream_set_inflection(hyoid_stream *stream, int64_t ps, unsigned inflection)
{
    hyoid_status status = go_to(stream, ps, inflection < HYOID_LEVELS);
    if (status == HYOID_OK) {
        hyoid_chip_set_inflection(&stream->chip, inflection);
    }
    return status;
}

static bool clock_in_range(double hz)
{
    return hz >= 0.0 && hz <= HYOID_CLOCK_MAX;
}

hyoid_status hyoid_stream_set_clock(hyoid_stream *stream, int64_t ps, double hz)
{
    hyoid_status status = go_to(stream, ps, clock_in_range(hz));
    if (status == HYOID_OK) {
        hyoid_clock_set(&stream->clock, ps, hz);
    }
    return status;
}

hyoid_status hyoid_stream_glide_clock(hyoid_stream *stream, int64_t ps, int64_t end_ps, double hz)
{
    hyoid_status status = go_to(stream, ps, clock_in_range(hz) && end_ps > ps && end_ps <= HYOID_TIME_MAX);
    if (status == HYOID_OK) {
        hyoid_clock_glide(&stream->clock, ps, end_ps, hz);
    }
    return status;
}

double hyoid_stream_clock_hz(const hyoid_stream *stream)
{
    return stream == NULL ? 0.0 : hyoid_clock_hz_at(&stream->clock, stream->now);
}
