/* Random calls in random order with random arguments, valid and not, decoded from the input's bytes. Every call must answer as
 * documented; an error must leave its object as it was; and a second stream and chip that get the same inputs, but are cut
 * into other spans, never copied, tapped or restored, must have given the same bits in the end. */
#include <math.h>
#include <stdbool.h>

#include "input.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* What one input may cost. */
#define TICKS 6000   /* filter cycles */
#define FRAMES 60000 /* host samples */
#define PIECES 4000  /* seconds of host time */
#define CALLS 300

typedef struct watch {
    const hyoid_stream *stream;
    uint64_t frames, levels, latches; /* how many, and below a hash over what */
    uint64_t frames_hash, events_hash, requests_hash;
    int request; /* as it was told last */
    uint64_t cycle;
    int64_t ps;
} watch;

typedef struct world {
    input in;
    hyoid_part part;
    uint32_t rate;
    hyoid_stream *stream, *shadow;
    watch watch, shadow_watch;
    hyoid_chip *chip, *shadow_chip;
    uint64_t levels_hash, shadow_levels_hash;
    int64_t ticks, frames, pieces; /* what is left of the budget */
    bool stuck;                    /* the request pin was, or time went back: when it is told depends on the calls */
    bool saved;                    /* a state to go back to */
    uint8_t snapshot[HYOID_SNAPSHOT_MAX];
    size_t snapshot_length;
    hyoid_stream *saved_shadow;
    watch saved_watch, saved_shadow_watch;
} world;

static uint64_t mixed(uint64_t hash, uint64_t value)
{
    hash = (hash ^ value) * UINT64_C(0x9e3779b97f4a7c15);
    return hash ^ hash >> 29;
}

static uint64_t bits(double value)
{
    union {
        double d;
        uint64_t u;
    } v = {value};
    return v.u;
}

/* Observers: everything in order, nothing that is no number. */

static void on_frames(void *user, const float *frames, size_t count)
{
    watch *w = user;
    REQUIRE(count > 0 && count <= HYOID_BLOCK + HYOID_TAPS);
    w->frames += count;
    for (size_t i = 0; i < count; i++) {
        REQUIRE(isfinite(frames[i]));
        w->frames_hash = mixed(w->frames_hash, bits((double)frames[i]));
    }
}

static void on_event(watch *w, uint64_t cycle, int64_t ps, uint64_t what)
{
    REQUIRE(cycle >= w->cycle && ps >= w->ps);
    w->cycle = cycle;
    w->ps = ps;
    w->events_hash = mixed(mixed(mixed(w->events_hash, cycle), (uint64_t)ps), what);
}

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    watch *w = user;
    REQUIRE(fraction >= 0.0 && fraction < 1.0 && isfinite(value));
    w->levels++;
    on_event(w, cycle, ps, bits(value) + bits(fraction));
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    watch *w = user;
    REQUIRE(code < HYOID_PHONEMES);
    w->latches++;
    on_event(w, cycle, ps, code);
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    watch *w = user;
    REQUIRE((level == 0 || level == 1) && level != w->request);
    REQUIRE(cycle >= w->cycle && ps >= w->ps);
    w->request = level;
    w->requests_hash = mixed(mixed(mixed(w->requests_hash, cycle), (uint64_t)ps), (uint64_t)level);
}

static void tap(void *user, const hyoid_chip *chip, uint64_t cycle, double voice, double noise, double level)
{
    (void)user;
    (void)chip;
    REQUIRE(cycle > 0 && isfinite(voice) && isfinite(noise) && isfinite(level));
}

static hyoid_stream *start(const hyoid_part *part, uint32_t rate, watch *w)
{
    const hyoid_observer observer = {w, on_frames, on_level, on_latch, on_request};
    hyoid_stream *stream = allocate(sizeof *stream);
    REQUIRE(hyoid_stream_init(stream, part, rate, &observer) == HYOID_OK);
    *w = (watch){.stream = stream, .request = 1};
    return stream;
}

/* Arguments. */

static double take_hz(input *in)
{
    const double hz[] = {720000.0,         0.0,  713337.1, HYOID_CLOCK_MAX, 1e-3, 5e-324, 1.5, (double)NAN,
                         (double)INFINITY, -1.0, -0.0,     100000001.0};
    const unsigned which = (unsigned)take(in, 1) % 16;
    return which < 12    ? hz[which]
           : which == 12 ? take_double(in)
           : which == 13 ? (double)take(in, 4)
                         : (double)take(in, 3) / 8.0;
}

static bool hz_fits(double hz)
{
    return hz >= 0.0 && hz <= HYOID_CLOCK_MAX;
}

static double fastest(const hyoid_clock *clock)
{
    double hz = clock->start_hz > clock->end_hz ? clock->start_hz : clock->end_hz;
    return clock->to_hz > hz ? clock->to_hz : hz;
}

/* The latest time up to `ps` that the budget allows, which then is charged for it. */
static int64_t afford(world *w, int64_t ps)
{
    const int64_t now = w->stream->now;
    if (ps <= now || ps > HYOID_TIME_MAX) {
        return ps; /* refused without work */
    }
    const double hz = fastest(&w->stream->clock) / w->part.filter_clocks;
    for (;; ps = now + (ps - now) / 2) {
        const double seconds = (double)(ps - now) * 1e-12;
        /* without images every filter cycle becomes several steps, about one per host sample */
        const double ticks = seconds * hz, frames = seconds * w->rate * (w->stream->images.left_out ? 16.0 : 1.0);
        if (ticks <= (double)w->ticks && frames <= (double)w->frames && seconds <= (double)w->pieces) {
            w->ticks -= (int64_t)ticks + 1;
            w->frames -= (int64_t)frames + 1;
            w->pieces -= (int64_t)seconds + 1;
            return ps;
        }
        if (ps <= now) {
            return now;
        }
    }
}

static int64_t take_time(world *w)
{
    const int64_t now = w->stream->now;
    const unsigned which = (unsigned)take(&w->in, 1) % 12;
    switch (which) {
    case 0:
        return now;
    case 1:
        return now - 1 - (int64_t)take(&w->in, 2);
    case 2:
        return afford(w, (int64_t)take(&w->in, 8));
    case 3:
        return HYOID_TIME_MAX + 1;
    case 4:
        return afford(w, HYOID_TIME_MAX);
    case 5:
        return afford(w, (now / HYOID_PS_PER_S + 1) * HYOID_PS_PER_S);
    case 6:
        return afford(w, now + (int64_t)take(&w->in, 6));
    default: /* up to 16 ms, in steps of a quarter microsecond less a bit, so as to hit edges and miss them */
        return afford(w, now + (int64_t)take(&w->in, 2) * 249999);
    }
}

/* The statuses that a call may answer, as a set. */
enum { ANY_OF_NULL = 1 << HYOID_E_NULL, ANY_OF_RANGE = 1 << HYOID_E_RANGE, ANY_OF_PAST = 1 << HYOID_E_PAST };

static unsigned faults_of(const hyoid_stream *stream, int64_t ps, bool in_range)
{
    return (ps < stream->now ? (unsigned)ANY_OF_PAST : 0) |
           (ps > HYOID_TIME_MAX || !in_range ? (unsigned)ANY_OF_RANGE : 0);
}

/* Calls that change an input of the stream; the shadow gets them too, without being asked to run before. */

typedef struct change {
    unsigned kind; /* 0 write, 1 code, 2 strobe, 3 inflection, 4 clock, 5 glide */
    int64_t ps, end;
    unsigned value;
    double hz;
} change;

static hyoid_status apply(hyoid_stream *stream, const change *c)
{
    switch (c->kind) {
    case 0:
        return hyoid_stream_write(stream, c->ps, c->value);
    case 1:
        return hyoid_stream_set_code(stream, c->ps, c->value);
    case 2:
        return hyoid_stream_set_strobe(stream, c->ps, c->value);
    case 3:
        return hyoid_stream_set_inflection(stream, c->ps, c->value);
    case 4:
        return hyoid_stream_set_clock(stream, c->ps, c->hz);
    default:
        return hyoid_stream_glide_clock(stream, c->ps, c->end, c->hz);
    }
}

static bool change_fits(const change *c)
{
    const unsigned largest[] = {HYOID_PHONEMES - 1, HYOID_PHONEMES - 1, 1, HYOID_LEVELS - 1};
    if (c->kind < 4) {
        return c->value <= largest[c->kind];
    }
    return hz_fits(c->hz) && (c->kind == 4 || (c->end > c->ps && c->end <= HYOID_TIME_MAX));
}

/* Runs `call` of the stream between two looks at it. */
#define WITNESSED(w, allowed, call)                                                                                  \
    do {                                                                                                             \
        hyoid_stream *before_ = allocate(sizeof *before_);                                                           \
        memcpy(before_, (w)->stream, sizeof *before_);                                                               \
        const watch seen_ = (w)->watch;                                                                              \
        const hyoid_status status_ = (call);                                                                         \
        REQUIRE((allowed) == 0 ? status_ == HYOID_OK : ((allowed) >> status_ & 1u) != 0);                            \
        if (status_ != HYOID_OK) {                                                                                   \
            REQUIRE(memcmp(before_, (w)->stream, sizeof *before_) == 0);                                             \
            REQUIRE(memcmp(&seen_, &(w)->watch, sizeof seen_) == 0);                                                 \
        }                                                                                                            \
        free(before_);                                                                                               \
    } while (0)

static void change_input(world *w, unsigned kind)
{
    change c = {.kind = kind, .ps = take_time(w)};
    if (kind < 4) {
        c.value = (unsigned)take(&w->in, 1);
        c.value = c.value > 250 ? UINT32_MAX - c.value : c.value % (kind < 2 ? 66 : kind == 2 ? 3 : 5);
    } else {
        c.hz = take_hz(&w->in);
        c.end = c.ps + (take(&w->in, 1) % 4 == 0 ? (int64_t)take(&w->in, 1) - 2 : (int64_t)take(&w->in, 5));
    }
    const unsigned errors = faults_of(w->stream, c.ps, change_fits(&c));
    WITNESSED(w, errors, apply(w->stream, &c));
    if (errors == 0) {
        REQUIRE(w->stream->now == c.ps && apply(w->shadow, &c) == HYOID_OK);
    }
    REQUIRE(apply(NULL, &c) == HYOID_E_NULL);
}

static void run(world *w)
{
    const int64_t ps = take_time(w);
    const unsigned errors = faults_of(w->stream, ps, true);
    WITNESSED(w, errors, hyoid_stream_run(w->stream, ps));
    REQUIRE(errors != 0 || w->stream->now == ps);
    REQUIRE(hyoid_stream_run(NULL, ps) == HYOID_E_NULL);
}

/* A host that answers at the time it was told is obeyed in the next clock. */
static void answer(const world *w)
{
    hyoid_stream *copy = allocate(sizeof *copy);
    *copy = *w->stream;
    copy->observer = (hyoid_observer){0};
    hyoid_chip_set_tap(&copy->chip, NULL, NULL);
    const uint64_t cycle = copy->chip.cycle;
    REQUIRE(hyoid_stream_write(copy, copy->now, 5) == HYOID_OK && copy->chip.cycle == cycle);
    const double hz = hyoid_stream_clock_hz(copy);
    /* a clock that neither slows down nor runs away meanwhile */
    if (hz >= 1000.0 && copy->now < HYOID_TIME_MAX - HYOID_PS_PER_S && !(copy->clock.to_hz < hz) &&
        fastest(&copy->clock) < 1000.0 * hz) {
        REQUIRE(hyoid_stream_run(copy, copy->now + (int64_t)(2e12 / hz) + 2) == HYOID_OK);
        REQUIRE(copy->chip.fault[HYOID_FAULT_STROBE_DEAD] > 0.0 || copy->chip.latch_cycle == cycle + 1);
    }
    free(copy);
}

static void run_to_request(world *w)
{
    const int64_t limit = take_time(w);
    const unsigned errors = faults_of(w->stream, limit, true);
    const hyoid_chip *chip = &w->stream->chip;
    const bool steady =
        chip->fault[HYOID_FAULT_REQUEST_HIGH] > 0.0 || (!chip->caught && chip->fall_at == HYOID_NEVER);
    const bool high = hyoid_chip_request(chip) && steady;
    const int64_t before = w->stream->now;
    int64_t reached = -7;
    int64_t *where = take(&w->in, 1) % 8 == 0 ? NULL : &reached;
    WITNESSED(w, errors, hyoid_stream_run_to_request(w->stream, limit, where));
    REQUIRE(hyoid_stream_run_to_request(NULL, limit, where) == HYOID_E_NULL);
    if (errors != 0 || where == NULL) {
        REQUIRE(reached == -7);
        return;
    }
    if (reached < 0) {
        REQUIRE(reached == -1 && w->stream->now == limit && !high);
        return;
    }
    REQUIRE(reached == w->stream->now && reached <= limit && hyoid_chip_request(chip) == 1);
    REQUIRE(!high || reached == before);
    answer(w);
}

/* Faults and taps; both streams stand at one time when a fault changes. */
static void set_fault(world *w)
{
    const unsigned which = (unsigned)take(&w->in, 1);
    const hyoid_fault fault = (hyoid_fault)(which < 250 ? which % HYOID_FAULTS : which * 1000000007u);
    const unsigned how = (unsigned)take(&w->in, 1);
    const double strength = how < 128 ? 0.0 : how < 240 ? (how - 128) / 111.0 : take_double(&w->in);
    const bool fits = (unsigned)fault < HYOID_FAULTS && strength >= 0.0 && strength <= 1.0;
    REQUIRE((hyoid_fault_describe(fault) != NULL) == ((unsigned)fault < HYOID_FAULTS));
    WITNESSED(w, fits ? 0 : (unsigned)ANY_OF_RANGE, hyoid_chip_set_fault(&w->stream->chip, fault, strength));
    REQUIRE(hyoid_chip_set_fault(NULL, fault, strength) == HYOID_E_NULL);
    if (fits) {
        w->stuck |= fault == HYOID_FAULT_REQUEST_LOW || fault == HYOID_FAULT_REQUEST_HIGH;
        REQUIRE(hyoid_stream_run(w->shadow, w->stream->now) == HYOID_OK);
        REQUIRE(hyoid_chip_set_fault(&w->shadow->chip, fault, strength) == HYOID_OK);
        REQUIRE(hyoid_chip_set_fault(w->chip, fault, strength) == HYOID_OK);
        REQUIRE(hyoid_chip_set_fault(w->shadow_chip, fault, strength) == HYOID_OK);
    }
}

static void set_tap(world *w)
{
    hyoid_tap *wanted = take(&w->in, 1) % 2 ? tap : NULL;
    hyoid_chip_set_tap(&w->stream->chip, wanted, w);
    hyoid_chip_set_tap(w->chip, wanted, w);
}

/* Copies, snapshots, and going back to one. */

static void move_house(world *w)
{
    hyoid_stream *copy = allocate(sizeof *copy);
    *copy = *w->stream;
    memset(w->stream, 0x55, sizeof *w->stream);
    free(w->stream);
    w->stream = copy;
    hyoid_chip *chip = allocate(sizeof *chip);
    *chip = *w->chip;
    free(w->chip);
    w->chip = chip;
}

static void save(world *w)
{
    w->snapshot_length = hyoid_snapshot_write(w->stream, w->snapshot, sizeof w->snapshot);
    REQUIRE(w->snapshot_length > 0);
    uint8_t small[64];
    REQUIRE(hyoid_snapshot_write(w->stream, small, take(&w->in, 1) % sizeof small) == 0);
    REQUIRE(hyoid_snapshot_write(NULL, small, sizeof small) == 0);
    REQUIRE(hyoid_snapshot_write(w->stream, NULL, sizeof small) == 0);
    if (w->saved_shadow == NULL) {
        w->saved_shadow = allocate(sizeof *w->saved_shadow);
    }
    *w->saved_shadow = *w->shadow;
    w->saved_watch = w->watch;
    w->saved_shadow_watch = w->shadow_watch;
    w->saved = true;
}

static void go_back(world *w)
{
    if (!w->saved) {
        return;
    }
    const uint8_t how = (uint8_t)take(&w->in, 1);
    int told = w->watch.request;
    if (how % 4 == 0) {
        watch unused;
        hyoid_stream *fresh = start(&w->part, w->rate, &unused);
        fresh->observer = w->stream->observer;
        free(w->stream);
        w->stream = fresh;
        told = 1;
    }
    REQUIRE(hyoid_snapshot_read(w->stream, w->snapshot, w->snapshot_length) == HYOID_OK);
    *w->shadow = *w->saved_shadow;
    w->watch = w->saved_watch;
    w->shadow_watch = w->saved_shadow_watch;
    w->watch.request = told; /* what an observer was told last, it was told */
    w->stuck = true;
}

static void read_damaged(world *w)
{
    if (!w->saved) {
        return;
    }
    uint8_t bytes[HYOID_SNAPSHOT_MAX];
    memcpy(bytes, w->snapshot, w->snapshot_length);
    const size_t at = (size_t)take(&w->in, 2) % w->snapshot_length;
    bytes[at] ^= (uint8_t)(1 + take(&w->in, 1) % 255);
    WITNESSED(w, 1u << HYOID_E_SNAPSHOT, hyoid_snapshot_read(w->stream, bytes, w->snapshot_length));
    WITNESSED(w, 1u << HYOID_E_SNAPSHOT, hyoid_snapshot_read(w->stream, w->snapshot, at));
    REQUIRE(hyoid_snapshot_read(NULL, bytes, at) == HYOID_E_NULL);
    REQUIRE(hyoid_snapshot_read(w->stream, NULL, at) == HYOID_E_NULL);
}

/* The chip alone: the shadow chip goes in one step where the chip goes in many. */

#define SPAN 4096

static uint64_t hash_levels(uint64_t hash, const hyoid_level *levels, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        REQUIRE(isfinite(levels[i].value));
        hash = mixed(mixed(hash, levels[i].cycle), bits(levels[i].value));
    }
    return hash;
}

static void chip_run(world *w)
{
    const uint64_t end = w->chip->cycle + take_range(&w->in, 0, SPAN);
    const size_t capacity = 1 + (size_t)take(&w->in, 1) % 8;
    hyoid_level levels[SPAN];
    const uint64_t request_cycle = hyoid_chip_request_cycle(w->chip);
    const bool settled = hyoid_chip_request(w->chip) == 0;
    while (w->chip->cycle < end) {
        const uint64_t before = w->chip->cycle;
        const size_t count = hyoid_chip_run(w->chip, end - before, levels, capacity);
        REQUIRE(count <= capacity && w->chip->cycle > before && w->chip->cycle <= end);
        REQUIRE(count == capacity || w->chip->cycle == end);
        REQUIRE(count == 0 || bits(levels[count - 1].value) == bits(hyoid_chip_output(w->chip)));
        w->levels_hash = hash_levels(w->levels_hash, levels, count);
    }
    const size_t count = hyoid_chip_run(w->shadow_chip, end - w->shadow_chip->cycle, levels, SPAN);
    w->shadow_levels_hash = hash_levels(w->shadow_levels_hash, levels, count);
    REQUIRE(w->shadow_chip->cycle == end && w->levels_hash == w->shadow_levels_hash);
    if (settled && w->chip->rise_cycle > 0 && request_cycle != HYOID_NEVER && request_cycle <= end) {
        REQUIRE(w->chip->rise_cycle == request_cycle);
    }
    w->ticks -= SPAN / (int64_t)w->part.filter_clocks;
}

static void chip_step(world *w)
{
    uint64_t left = take_range(&w->in, 0, SPAN);
    const uint64_t cut = 1 + take(&w->in, 1);
    const uint64_t all = left;
    for (uint64_t now; left > 0; left -= now) {
        now = left < cut ? left : cut;
        hyoid_chip_step(w->chip, now);
    }
    hyoid_chip_step(w->shadow_chip, all);
    w->ticks -= SPAN / (int64_t)w->part.filter_clocks;
}

/* The chip as one of a batch, with a twin that is told something else; the room is just what is asked for. */
static void chip_batch(world *w)
{
    const uint64_t clocks = take_range(&w->in, 0, SPAN);
    const size_t capacity = (size_t)(clocks / w->part.filter_clocks + 1);
    hyoid_chip twin = *w->chip;
    hyoid_chip *const chips[] = {&twin, w->chip};
    hyoid_chip_write(&twin, (unsigned)take(&w->in, 1));
    double *levels = allocate(2 * capacity * sizeof *levels);
    size_t stored = 77;
    if (clocks / 3 >= w->chip->filter_clocks) {
        REQUIRE(hyoid_batch_run(chips, 2, clocks, levels, 1, &stored) == HYOID_E_RANGE);
    }
    REQUIRE(hyoid_batch_run(chips, take(&w->in, 1) % 2 ? 0 : HYOID_BATCH + 1, clocks, levels, capacity, &stored) ==
            HYOID_E_RANGE);
    REQUIRE(hyoid_batch_run(NULL, 2, clocks, levels, capacity, &stored) == HYOID_E_NULL);
    REQUIRE(hyoid_batch_run(chips, 2, clocks, levels, capacity, NULL) == HYOID_E_NULL && stored == 77);
    REQUIRE(hyoid_batch_run(chips, 2, clocks, levels, capacity, &stored) == HYOID_OK && stored <= capacity);
    hyoid_level alone[SPAN];
    REQUIRE(hyoid_chip_run(w->shadow_chip, clocks, alone, SPAN) == stored);
    for (size_t i = 0; i < stored; i++) {
        REQUIRE(bits(alone[i].value) == bits(levels[capacity + i]) && isfinite(levels[i]));
    }
    w->levels_hash = hash_levels(w->levels_hash, alone, stored);
    w->shadow_levels_hash = hash_levels(w->shadow_levels_hash, alone, stored);
    REQUIRE(w->chip->cycle == w->shadow_chip->cycle && twin.cycle == w->chip->cycle);
    w->ticks -= (int64_t)SPAN * 2 / (int64_t)w->part.filter_clocks;
    free(levels);
}

static void chip_pins(world *w)
{
    const unsigned what = (unsigned)take(&w->in, 1), value = (unsigned)take(&w->in, 1) * 0x01010101u;
    hyoid_chip *const chips[] = {w->chip, w->shadow_chip};
    for (size_t i = 0; i < 2; i++) {
        switch (what % 4) {
        case 0:
            hyoid_chip_write(chips[i], value);
            break;
        case 1:
            hyoid_chip_set_code(chips[i], value);
            break;
        case 2:
            hyoid_chip_set_strobe(chips[i], value);
            break;
        default:
            hyoid_chip_set_inflection(chips[i], value);
        }
    }
}

/* Starting anew with arguments that will not do: what is there stays. */
static void bad_start(world *w)
{
    hyoid_part part = w->part;
    uint8_t *bytes = (uint8_t *)&part;
    for (unsigned count = 1 + (unsigned)take(&w->in, 1) % 4; count > 0; count--) {
        bytes[take(&w->in, 2) % sizeof part] = (uint8_t)take(&w->in, 1);
    }
    const char *problem = NULL;
    const hyoid_status verdict = hyoid_part_check(&part, &problem);
    REQUIRE(verdict == HYOID_OK || verdict == HYOID_E_PART);
    REQUIRE((problem == NULL) == (verdict == HYOID_OK) && hyoid_part_hash(&part) != 0);
    const uint32_t rate = (uint32_t)take(&w->in, 4);
    const bool rate_fits = rate == 0 || (rate >= HYOID_RATE_MIN && rate <= HYOID_RATE_MAX);
    if (verdict != HYOID_OK || !rate_fits) {
        const unsigned allowed =
            (verdict != HYOID_OK ? 1u << HYOID_E_PART : 0) | (rate_fits ? 0 : (unsigned)ANY_OF_RANGE);
        WITNESSED(w, allowed, hyoid_stream_init(w->stream, &part, rate, NULL));
    } else {
        hyoid_chip odd;
        REQUIRE(hyoid_chip_init(&odd, &part) == HYOID_OK);
        hyoid_chip_write(&odd, rate);
        const uint64_t clocks = (uint64_t)part.filter_clocks * 20;
        hyoid_chip_step(&odd, clocks);
        REQUIRE(odd.cycle == clocks && hyoid_chip_slot(&odd) <= HYOID_SLOTS);
    }
    WITNESSED(w, (unsigned)ANY_OF_NULL, hyoid_stream_init(w->stream, NULL, 48000, NULL));
    WITNESSED(w, (unsigned)ANY_OF_NULL, hyoid_chip_init(&w->stream->chip, NULL));
    REQUIRE(hyoid_stream_init(NULL, &w->part, 48000, NULL) == HYOID_E_NULL);
    REQUIRE(hyoid_chip_init(NULL, &w->part) == HYOID_E_NULL && hyoid_part_check(NULL, NULL) == HYOID_E_NULL);
    REQUIRE(hyoid_status_text((hyoid_status)rate)[0] != '\0' && hyoid_part_hash(NULL) == 0);
}

static void keep_images(world *w)
{
    const int keep = (int)take(&w->in, 1) % 2;
    REQUIRE(hyoid_stream_run(w->shadow, w->stream->now) == HYOID_OK);
    REQUIRE(hyoid_stream_keep_images(w->stream, keep) == HYOID_OK);
    REQUIRE(hyoid_stream_keep_images(w->shadow, keep) == HYOID_OK);
    REQUIRE(hyoid_stream_keep_images(NULL, keep) == HYOID_E_NULL);
}

/* What must hold after every call. */

static void check_chip(const hyoid_chip *chip)
{
    const int request = hyoid_chip_request(chip);
    REQUIRE(request == 0 || request == 1);
    REQUIRE(isfinite(hyoid_chip_output(chip)) && hyoid_chip_slot(chip) <= HYOID_SLOTS);
    REQUIRE(hyoid_chip_request_cycle(chip) > chip->cycle);
}

/* Host samples before the HYOID_TAPS / 2 that a later step may still change; one more if a rounding made it so. */
static void check_promise(const hyoid_stream *stream, const watch *w)
{
    const uint64_t second = (uint64_t)(stream->now / HYOID_PS_PER_S), rest = (uint64_t)(stream->now % HYOID_PS_PER_S);
    const uint32_t rate = stream->output.rate;
    const int64_t promised = (int64_t)(second * rate + rest * rate / (uint64_t)HYOID_PS_PER_S) + 1 - HYOID_TAPS / 2;
    const int64_t frames = (int64_t)w->frames;
    if (rate == 0) {
        REQUIRE(frames == 0);
    } else {
        REQUIRE(frames == (promised > 0 ? promised : 0) || frames == promised + 1);
    }
}

/* Bit for bit, but for the tap, and for what a graded fault has bent since the last filter cycle: that is worked out anew. */
static void check_same_chip(hyoid_chip one, hyoid_chip other)
{
    hyoid_chip_set_tap(&one, NULL, NULL);
    hyoid_chip_set_fault(&one, HYOID_FAULT_HUM, one.fault[HYOID_FAULT_HUM]);
    hyoid_chip_set_fault(&other, HYOID_FAULT_HUM, other.fault[HYOID_FAULT_HUM]);
    REQUIRE(memcmp(&one, &other, sizeof one) == 0);
}

static void check_same(world *w)
{
    REQUIRE(hyoid_stream_run(w->shadow, w->stream->now) == HYOID_OK);
    check_promise(w->shadow, &w->shadow_watch);
    const watch *a = &w->watch, *b = &w->shadow_watch;
    REQUIRE(a->levels == b->levels && a->latches == b->latches);
    REQUIRE(a->events_hash == b->events_hash && a->frames == b->frames && a->frames_hash == b->frames_hash);
    REQUIRE(w->stuck || a->requests_hash == b->requests_hash);
    REQUIRE(memcmp(&w->stream->clock, &w->shadow->clock, sizeof w->shadow->clock) == 0);
    check_same_chip(w->stream->chip, w->shadow->chip);
    check_same_chip(*w->chip, *w->shadow_chip);
}

static void call(world *w)
{
    static void (*const calls[])(world *) = {
        run,          run_to_request, run_to_request, set_fault, set_tap,   move_house,  save,       go_back,
        read_damaged, chip_run,       chip_step,      chip_pins, bad_start, keep_images, check_same, chip_batch};
    const unsigned others = sizeof calls / sizeof calls[0];
    const unsigned what = (unsigned)take(&w->in, 1) % (others + 8);
    if (what < others) {
        calls[what](w);
    } else {
        change_input(w, what < others + 3 ? 0 : what - others - 2);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    world *w = allocate(sizeof *w);
    *w = (world){.in = {data, size}, .ticks = TICKS, .frames = FRAMES, .pieces = PIECES};
    take_part(&w->part, &w->in);
    w->rate = take_rate(&w->in);
    w->stream = start(&w->part, w->rate, &w->watch);
    w->shadow = start(&w->part, w->rate, &w->shadow_watch);
    w->chip = allocate(sizeof *w->chip);
    w->shadow_chip = allocate(sizeof *w->shadow_chip);
    REQUIRE(hyoid_chip_init(w->chip, &w->part) == HYOID_OK && hyoid_chip_init(w->shadow_chip, &w->part) == HYOID_OK);
    for (unsigned count = 0; count < CALLS && w->in.left > 0 && w->ticks > 0 && w->frames > 0 && w->pieces > 0;
         count++) {
        const uint64_t cycle = w->chip->cycle;
        call(w);
        REQUIRE(w->chip->cycle >= cycle);
        REQUIRE(w->stream->now >= 0 && w->stream->now <= HYOID_TIME_MAX && hz_fits(hyoid_stream_clock_hz(w->stream)));
        check_chip(&w->stream->chip);
        check_chip(w->chip);
        check_promise(w->stream, &w->watch);
    }
    check_same(w);
    free(w->stream);
    free(w->shadow);
    free(w->saved_shadow);
    free(w->chip);
    free(w->shadow_chip);
    free(w);
    return 0;
}
