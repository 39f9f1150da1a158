/* Renders ten seconds of everything that a host can do to a stream and prints hashes of what comes out: the same on
 * every machine and from every compiler.
 *
 *     torture                 print the hashes
 *     torture GOLDEN          and exit 1 if the file (tests/golden/torture.txt) holds others
 *
 * A line is: part, what, FNV-1a (64 bits) over little-endian bytes, number of items hashed.
 *   levels   each new level of the audio pin: its clock and its value as binary64
 *   times    the host times of those levels, and of each latch and each change of request
 *   frames   each host-rate sample as binary32 */
#include "hyoid/hyoid.h"

#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define US INT64_C(1000000) /* ps */
#define MS (1000 * US)

struct hash {
    uint64_t value;
    uint64_t items;
};

struct player {
    hyoid_stream stream;
    uint64_t random;
    int64_t now; /* ps */
    unsigned code;
    struct hash levels, times, frames;
};

/* ------------------------------------------------------------------------------------------------
 * Hashes
 * --------------------------------------------------------------------------------------------- */

static void add_bytes(struct hash *hash, uint64_t bits, unsigned bytes)
{
    unsigned i;

    for (i = 0; i < bytes; ++i) {
        hash->value = (hash->value ^ (bits >> (8 * i) & 0xffu)) * UINT64_C(0x100000001b3);
    }
}

static void add_double(struct hash *hash, double value)
{
    uint64_t bits;

    memcpy(&bits, &value, sizeof bits);
    add_bytes(hash, bits, 8);
}

static void take_frames(void *user, const float *frames, size_t count)
{
    struct player *player = user;
    size_t i;

    for (i = 0; i < count; ++i) {
        uint32_t bits;

        memcpy(&bits, &frames[i], sizeof bits);
        add_bytes(&player->frames, bits, 4);
    }
    player->frames.items += count;
}

static void add_time(struct player *player, char kind, uint64_t cycle, int64_t ps)
{
    add_bytes(&player->times, (unsigned char)kind, 1);
    add_bytes(&player->times, cycle, 8);
    add_bytes(&player->times, (uint64_t)ps, 8);
    player->times.items += 1;
}

static void take_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    struct player *player = user;

    add_bytes(&player->levels, cycle, 8);
    add_double(&player->levels, value);
    player->levels.items += 1;
    add_time(player, 'l', cycle, ps);
    add_double(&player->times, fraction);
}

static void take_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    add_time(user, (char)('A' + code), cycle, ps);
}

static void take_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    add_time(user, level ? '1' : '0', cycle, ps);
}

/* ------------------------------------------------------------------------------------------------
 * What a host can do
 * --------------------------------------------------------------------------------------------- */

static void must(hyoid_status status)
{
    if (status != HYOID_OK) {
        fprintf(stderr, "torture: %s\n", hyoid_status_text(status));
        exit(2);
    }
}

/* Evenly in low..high; splitmix64. */
static int64_t draw(struct player *player, int64_t low, int64_t high)
{
    uint64_t z = player->random += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z = z ^ (z >> 31);
    return low + (int64_t)(z % (uint64_t)(high - low + 1));
}

static void wait_for(struct player *player, int64_t low, int64_t high)
{
    player->now += draw(player, low, high);
}

static void run(struct player *player)
{
    must(hyoid_stream_run(&player->stream, player->now));
}

/* Every code comes round. */
static unsigned next_code(struct player *player)
{
    player->code = (player->code + 37) % HYOID_PHONEMES;
    return player->code;
}

static void write_next(struct player *player)
{
    must(hyoid_stream_write(&player->stream, player->now, next_code(player)));
}

static void set_inflection(struct player *player)
{
    must(hyoid_stream_set_inflection(&player->stream, player->now, (unsigned)draw(player, 0, 3)));
}

static void set_clock(struct player *player, double hz)
{
    must(hyoid_stream_set_clock(&player->stream, player->now, hz));
}

static void glide(struct player *player, int64_t low, int64_t high, double hz)
{
    int64_t length = draw(player, low, high);

    must(hyoid_stream_glide_clock(&player->stream, player->now, player->now + length, hz));
}

/* Some frequency with a binary fraction, Hz. */
static double odd_hz(struct player *player, int64_t low, int64_t high)
{
    return (double)draw(player, low * 1024, high * 1024) / 1024.0;
}

static double nominal(const struct player *player)
{
    return player->stream.chip.part->nominal_hz;
}

/* ------------------------------------------------------------------------------------------------
 * The score
 * --------------------------------------------------------------------------------------------- */

static void cut_every_code_short(struct player *player)
{
    unsigned i;

    for (i = 0; i < HYOID_PHONEMES; ++i) {
        write_next(player);
        wait_for(player, 1 * MS, 20 * MS);
        set_inflection(player);
        wait_for(player, 1, 15 * MS);
        run(player);
    }
}

static void answer_request(struct player *player)
{
    unsigned i;

    for (i = 0; i < 20; ++i) {
        int64_t reached = -1;

        write_next(player);
        wait_for(player, 60 * MS, 150 * MS);
        must(hyoid_stream_run_to_request(&player->stream, player->now, &reached));
        player->now = reached >= 0 ? reached : player->now;
    }
}

static void odd_clocks(struct player *player)
{
    unsigned i;

    for (i = 0; i < 20; ++i) {
        set_clock(player, odd_hz(player, 1000, i % 2 == 0 ? 4000000 : 800000));
        wait_for(player, 0, 20 * MS);
        write_next(player);
        wait_for(player, 1, 30 * MS);
    }
    set_clock(player, HYOID_CLOCK_MAX);
    wait_for(player, 2 * MS, 3 * MS);
    write_next(player);
    wait_for(player, 2 * MS, 3 * MS);
    set_clock(player, 0.375);
    wait_for(player, 30 * MS, 50 * MS);
    set_clock(player, nominal(player));
    run(player);
}

static void glides(struct player *player)
{
    unsigned i;

    for (i = 0; i < 16; ++i) {
        double hz;

        write_next(player);
        hz = odd_hz(player, 0, 2000000); /* apart: arguments have no order */
        glide(player, 1, 90 * MS, hz);
        wait_for(player, 1, 60 * MS); /* some glides are cut by the next one */
        if (i % 4 == 0) {
            run(player);
        }
    }
    for (i = 0; i < 8; ++i) {
        glide(player, 1 * MS, 40 * MS, 0.0);
        wait_for(player, 20 * MS, 60 * MS); /* at rest, or nearly */
        write_next(player);
        wait_for(player, 0, 5 * MS);
        set_inflection(player);
        glide(player, 1 * MS, 40 * MS, nominal(player));
        wait_for(player, 30 * MS, 60 * MS);
    }
    set_clock(player, 0.0);
    wait_for(player, 50 * MS, 80 * MS);
    write_next(player);
    wait_for(player, 1 * MS, 2 * MS);
    set_clock(player, nominal(player));
    run(player);
}

/* Pins one by one, often several edges within one clock (1.4 us). */
static void storm(struct player *player)
{
    unsigned i;

    for (i = 0; i < 4000; ++i) {
        hyoid_stream *stream = &player->stream;

        switch (draw(player, 0, 5)) {
        case 0:
            must(hyoid_stream_set_code(stream, player->now, next_code(player)));
            break;
        case 1:
        case 2:
            must(hyoid_stream_set_strobe(stream, player->now, (unsigned)draw(player, 0, 1)));
            break;
        case 3:
            set_inflection(player);
            break;
        case 4:
            write_next(player);
            break;
        default:
            wait_for(player, 0, i % 100 == 0 ? 20 * MS : 400 * US);
            break;
        }
        player->now += i % 3 == 0 ? draw(player, 0, 3 * US) : 0;
    }
    run(player);
}

static void play(struct player *player, const hyoid_part *part, uint32_t rate)
{
    const int64_t end = 10 * HYOID_PS_PER_S;
    const hyoid_observer observer = {
        .user = player, .frames = take_frames, .level = take_level, .latch = take_latch, .request = take_request};
    const uint64_t basis = UINT64_C(0xcbf29ce484222325);

    memset(player, 0, sizeof *player);
    player->levels.value = player->times.value = player->frames.value = basis;
    must(hyoid_stream_init(&player->stream, part, rate, &observer));
    cut_every_code_short(player);
    answer_request(player);
    odd_clocks(player);
    glides(player);
    storm(player);
    glide(player, 2 * HYOID_PS_PER_S, 2 * HYOID_PS_PER_S, 1.5 * nominal(player)); /* across whole seconds */
    while (player->now < end - 200 * MS) {
        write_next(player);
        wait_for(player, 10 * MS, 150 * MS);
        set_inflection(player);
    }
    if (player->now > end) {
        fprintf(stderr, "torture: the score is longer than ten seconds\n");
        exit(2);
    }
    player->now = end;
    run(player);
}

/* ------------------------------------------------------------------------------------------------
 * Hashes out
 * --------------------------------------------------------------------------------------------- */

/* Prints a line, and says whether the golden file, if there is one, holds it. */
static int print_hash(const char *part, const char *what, const struct hash *hash, FILE *golden)
{
    char line[128];
    char wanted[256];

    snprintf(line, sizeof line, "%s %s %016" PRIx64 " %" PRIu64 "\n", part, what, hash->value, hash->items);
    fputs(line, stdout);
    if (golden == NULL) {
        return 1;
    }
    rewind(golden);
    while (fgets(wanted, sizeof wanted, golden) != NULL) {
        if (strcmp(wanted, line) == 0) {
            return 1;
        }
    }
    return 0;
}

static int print_hashes(const char *part, const struct player *player, FILE *golden)
{
    int same = print_hash(part, "levels", &player->levels, golden);

    same &= print_hash(part, "times", &player->times, golden);
    same &= print_hash(part, "frames", &player->frames, golden);
    return same;
}

/* The same chip with what the default does without: low-pass, a wide noise register, odd dividers. */
static hyoid_part other_part(void)
{
    hyoid_part part = *hyoid_part_default();

    part.nominal_hz = 655360.0;
    part.filter_clocks = 33;
    part.output_clocks = 7;
    part.request_delay = 3;
    part.formant_cycles = 51;
    part.amplitude_cycles = 77;
    part.gate_cycles = 5;
    part.noise_bits = 31;
    part.noise_taps = 9;
    part.amplitude_power = 3;
    part.lowpass_k = 0.75;
    return part;
}

int main(int argc, char **argv)
{
    static struct player player;
    FILE *golden = NULL;
    hyoid_part other = other_part();
    int same;

    if (argc > 1) {
        golden = fopen(argv[1], "r");
        if (golden == NULL) {
            fprintf(stderr, "torture: cannot read %s\n", argv[1]);
            return 2;
        }
    }
    play(&player, hyoid_part_default(), 48000);
    same = print_hashes("default", &player, golden);
    play(&player, &other, 44100);
    same &= print_hashes("other", &player, golden);
    if (golden != NULL) {
        fclose(golden);
    }
    if (!same) {
        fprintf(stderr, "torture: not the hashes of %s\n", argv[1]);
        return 1;
    }
    return 0;
}
