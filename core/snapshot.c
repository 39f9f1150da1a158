/* Snapshots: the state of a stream as bytes, field by field, little-endian.
 *
 *     0   8  "hyoidsn1"              the 1 is the version: a newer layout gets another name
 *     8   4  length of the whole
 *    12   4  host rate
 *    16   8  fingerprint of the part
 *    24   .  state
 *   end   8  checksum over all that stands before
 *
 * One table of calls serves both directions, so that writer and reader cannot drift apart. What can be worked out again
 * (capacitor ratios, delays, the clock's piece, kept kernels) is left out. */
#include <string.h>

#include "internal.h"

/* No stream gets beyond this: HYOID_TIME_MAX at HYOID_CLOCK_MAX is 4e14. */
#define MOST_CYCLES (UINT64_C(1) << 49)

static const uint8_t magic[8] = {'h', 'y', 'o', 'i', 'd', 's', 'n', '1'};

typedef struct cursor {
    uint8_t *write;      /* null while reading */
    const uint8_t *read; /* null while writing */
    size_t at, end;
    bool bad; /* out of room, or a value that no stream can hold */
} cursor;

static void bytes(cursor *c, uint64_t *value, unsigned count)
{
    if (c->end - c->at < count) {
        c->bad = true;
        return;
    }
    if (c->write != NULL) {
        for (unsigned i = 0; i < count; i++) {
            c->write[c->at + i] = (uint8_t)(*value >> (8 * i));
        }
    } else {
        uint64_t v = 0;
        for (unsigned i = 0; i < count; i++) {
            v |= (uint64_t)c->read[c->at + i] << (8 * i);
        }
        *value = v;
    }
    c->at += count;
}

static void put64(cursor *c, uint64_t *value)
{
    bytes(c, value, 8);
}

static void put32(cursor *c, uint32_t *value, uint32_t most)
{
    uint64_t v = *value;
    bytes(c, &v, 4);
    *value = (uint32_t)v;
    c->bad |= v > most;
}

static void put8(cursor *c, uint8_t *value, uint8_t most)
{
    uint64_t v = *value;
    bytes(c, &v, 1);
    *value = (uint8_t)v;
    c->bad |= v > most;
}

static void put_time(cursor *c, int64_t *value)
{
    uint64_t v = (uint64_t)*value;
    bytes(c, &v, 8);
    /* INT64_MAX is "never"; no other time lies beyond the largest */
    if (v > (uint64_t)HYOID_TIME_MAX && v != (uint64_t)INT64_MAX) {
        c->bad = true;
        v = 0;
    }
    *value = (int64_t)v;
}

static void put_number(cursor *c, double *value, double least, double most)
{
    union {
        double d;
        uint64_t u;
    } v = {*value};
    bytes(c, &v.u, 8);
    *value = v.d;
    c->bad |= !(v.d >= least && v.d <= most); /* NaN fails */
}

static void put_float(cursor *c, float *value)
{
    union {
        float f;
        uint32_t u;
    } v = {*value};
    put32(c, &v.u, UINT32_MAX);
    *value = v.f;
    c->bad |= !(v.f >= -1e30f && v.f <= 1e30f);
}

/* A part may reckon in large units, but stays far below this; a damaged snapshot must not bring infinities in. */
static void put_charge(cursor *c, double *value)
{
    put_number(c, value, -1e25, 1e25);
}

static void put_sequencer(cursor *c, hyoid_chip *chip)
{
    put64(c, &chip->cycle);
    put64(c, &chip->tick_at);
    put64(c, &chip->pin_at);
    put64(c, &chip->fall_at);
    put64(c, &chip->latch_cycle);
    put64(c, &chip->rise_cycle);
    put8(c, &chip->code, HYOID_PHONEMES - 1);
    put8(c, &chip->inflection, HYOID_LEVELS - 1);
    put8(c, &chip->strobe, 1);
    put8(c, &chip->request, 1);
    put8(c, &chip->caught, 1);
    put8(c, &chip->caught_code, HYOID_PHONEMES - 1);
    put8(c, &chip->phoneme, HYOID_PHONEMES - 1);
    put8(c, &chip->timing, 1);
    put8(c, &chip->half, 1);
    put32(c, &chip->n, UINT16_MAX);
}

static void put_sound(cursor *c, hyoid_chip *chip)
{
    const hyoid_part *part = chip->part;
    uint8_t *const registers[] = {&chip->t_f1, &chip->t_f2, &chip->t_f3, &chip->t_fc, &chip->t_va,
                                  &chip->t_fa, &chip->r_f1, &chip->r_f2, &chip->r_f3, &chip->r_fc,
                                  &chip->r_va, &chip->r_fa, &chip->gate};
    for (size_t i = 0; i < sizeof registers / sizeof registers[0]; i++) {
        put8(c, registers[i], UINT8_MAX);
    }
    put8(c, &chip->bw2, 15);
    put8(c, &chip->gate_closing, 1);
    put32(c, &chip->formant_in, part->formant_cycles);
    put32(c, &chip->amplitude_in, part->amplitude_cycles);
    put32(c, &chip->gate_in, part->gate_cycles);
    c->bad |= chip->formant_in == 0 || chip->amplitude_in == 0 || chip->gate_in == 0;
    put32(c, &chip->pitch_count, 4096 + 255);
    put32(c, &chip->noise_reg, (1u << part->noise_bits) - 1);
    double *const charges[] = {&chip->noise,   &chip->noise_slope, &chip->u1,   &chip->y1, &chip->u2,
                               &chip->y2,      &chip->u3,          &chip->y3,   &chip->u4, &chip->y4,
                               &chip->lowpass, &chip->level_next,  &chip->level};
    for (size_t i = 0; i < sizeof charges / sizeof charges[0]; i++) {
        put_charge(c, charges[i]);
    }
    for (size_t i = 0; i < HYOID_FAULTS; i++) {
        put_number(c, &chip->fault[i], 0.0, 1.0);
    }
}

static void put_clock(cursor *c, hyoid_clock *clock)
{
    put_time(c, &clock->from);
    put_time(c, &clock->to);
    put_time(c, &clock->start);
    put_number(c, &clock->from_hz, 0.0, HYOID_CLOCK_MAX);
    put_number(c, &clock->to_hz, 0.0, HYOID_CLOCK_MAX);
    put64(c, &clock->start_cycle);
    put_number(c, &clock->start_phase, 0.0, 1.0);
    c->bad |= clock->start < clock->from || clock->from >= clock->to || !(clock->start_phase < 1.0);
    if (!c->bad) {
        hyoid_clock_restore(clock);
    }
}

/* Only bins that hold something. Every call leaves all bins handed out that are final, so these are few. */
static void put_output(cursor *c, hyoid_output *output, int64_t now)
{
    if (output->rate == 0) {
        return;
    }
    uint64_t first = (uint64_t)output->first, filled = (uint64_t)(output->filled - output->first);
    put64(c, &first);
    put64(c, &filled);
    const uint64_t ahead = first - (uint64_t)hyoid_output_final(output->rate, now);
    c->bad |= ahead > 1 || filled > HYOID_TAPS / 2 + 1;
    if (c->bad) {
        return;
    }
    output->first = (int64_t)first;
    output->filled = output->first + (int64_t)filled;
    put_charge(c, &output->level);
    for (size_t i = 0; i < filled; i++) {
        put_float(c, &output->held[i]);
    }
    for (size_t i = 0; i < filled + HYOID_TAPS / 2; i++) {
        put_float(c, &output->bin[i]);
    }
}

static void put_images(cursor *c, hyoid_images *images)
{
    put32(c, &images->left_out, 1);
    if (!images->left_out) {
        return;
    }
    put32(c, &images->steps, HYOID_IMAGE_STEPS);
    put32(c, &images->step, images->steps);
    put64(c, &images->cycle);
    for (size_t i = 0; i <= HYOID_TAPS; i++) {
        put_charge(c, &images->history[i]);
    }
}

static void put_state(cursor *c, hyoid_stream *stream)
{
    put_time(c, &stream->now);
    put_sequencer(c, &stream->chip);
    put_sound(c, &stream->chip);
    put_clock(c, &stream->clock);
    put_output(c, &stream->output, stream->now);
    put_images(c, &stream->images);
}

/* Each step is a bijection of the sum for a given word and of the word for a given sum: a change within one word,
 * and so any single byte, always shows. */
static uint64_t checksum(const uint8_t *data, size_t length)
{
    uint64_t sum = length;
    size_t i = 0;
    for (; i < length; i += 8) {
        uint64_t word = 0;
        size_t left = length - i < 8 ? length - i : 8;
        for (size_t k = 0; k < left; k++) {
            word |= (uint64_t)data[i + k] << (8 * k);
        }
        sum = (sum ^ word) * UINT64_C(0x9e3779b97f4a7c15);
        sum ^= sum >> 29;
    }
    return sum;
}

static void put_header(cursor *c, uint32_t *length, uint32_t *rate, uint64_t *part)
{
    for (unsigned i = 0; i < sizeof magic; i++) {
        uint8_t letter = magic[i];
        put8(c, &letter, UINT8_MAX);
        c->bad |= letter != magic[i];
    }
    put32(c, length, HYOID_SNAPSHOT_MAX);
    put32(c, rate, HYOID_RATE_MAX);
    put64(c, part);
}

size_t hyoid_snapshot_write(const hyoid_stream *stream, uint8_t *bytes_out, size_t room)
{
    if (stream == NULL || bytes_out == NULL) {
        return 0;
    }
    hyoid_stream copy = *stream; /* the table below writes into what it reads */
    cursor c = {.write = bytes_out, .end = room};
    uint32_t length = 0, rate = copy.output.rate;
    uint64_t part = copy.chip.part_hash;
    put_header(&c, &length, &rate, &part);
    put_state(&c, &copy);
    if (c.bad || room - c.at < 8) {
        return 0;
    }
    length = (uint32_t)c.at + 8;
    cursor again = {.write = bytes_out, .end = room};
    put_header(&again, &length, &rate, &part);
    uint64_t sum = checksum(bytes_out, c.at);
    put64(&c, &sum);
    return c.at;
}

/* The chip has run every edge before the present. An edge exactly now is the clock's already but the chip's not yet,
 * which shows only where a piece of the clock begins. */
static bool together(const hyoid_stream *stream)
{
    const hyoid_clock *clock = &stream->clock;
    if (stream->now < clock->start || stream->now >= clock->end || clock->start_cycle > MOST_CYCLES ||
        stream->images.cycle > stream->chip.cycle) {
        return false;
    }
    const uint64_t edges = hyoid_clock_edges_before(clock, stream->now);
    const bool on_edge = stream->now == clock->start && clock->start_phase == 0.0;
    return stream->chip.cycle == edges || (on_edge && stream->chip.cycle + 1 == edges);
}

/* What the sequencer can have under way, in whatever order it was strobed and whatever faults came and went. */
static bool sequencer_possible(const hyoid_chip *chip)
{
    const uint32_t duration = chip->part->phoneme[chip->phoneme].duration;
    if (chip->tick_at <= chip->cycle || chip->tick_at - chip->cycle > 2 * (uint64_t)chip->part->filter_clocks ||
        chip->latch_cycle > chip->cycle || chip->rise_cycle > chip->cycle) {
        return false;
    }
    if (chip->pin_at != HYOID_NEVER && (chip->pin_at <= chip->cycle || chip->pin_at >= chip->tick_at)) {
        return false;
    }
    const bool falling = chip->fall_at != HYOID_NEVER;
    if (falling &&
        (!chip->request || chip->fall_at <= chip->cycle || chip->fall_at - chip->cycle > chip->part->request_delay)) {
        return false;
    }
    return chip->timing ? chip->n < duration && (!chip->request || falling) : chip->n <= duration;
}

hyoid_status hyoid_snapshot_read(hyoid_stream *stream, const uint8_t *bytes_in, size_t length)
{
    if (stream == NULL || bytes_in == NULL) {
        return HYOID_E_NULL;
    }
    cursor c = {.read = bytes_in, .end = length};
    uint32_t stated = 0, rate = 0;
    uint64_t part = 0;
    put_header(&c, &stated, &rate, &part);
    if (c.bad || stated != length || length - c.at < 8 || rate != stream->output.rate ||
        part != stream->chip.part_hash) {
        return HYOID_E_SNAPSHOT;
    }
    cursor tail = {.read = bytes_in, .at = length - 8, .end = length};
    uint64_t sum = 0;
    put64(&tail, &sum);
    if (sum != checksum(bytes_in, length - 8)) {
        return HYOID_E_SNAPSHOT;
    }
    hyoid_stream restored = *stream;
    memset(restored.output.held, 0, sizeof restored.output.held);
    memset(restored.output.bin, 0, sizeof restored.output.bin);
    memset(&restored.images, 0, sizeof restored.images);
    c.end = length - 8;
    put_state(&c, &restored);
    if (c.bad || c.at != c.end || restored.now > HYOID_TIME_MAX || !together(&restored) ||
        !sequencer_possible(&restored.chip)) {
        return HYOID_E_SNAPSHOT;
    }
    hyoid_sequencer_restore(&restored.chip);
    hyoid_faults_restore(&restored.chip, stream->chip.tap, stream->chip.tap_user);
    restored.chip.quiet_until = hyoid_chip_next_work(&restored.chip);
    *stream = restored;
    return HYOID_OK;
}
