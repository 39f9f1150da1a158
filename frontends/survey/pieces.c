/* The survey's pieces, in the order in which they sound. Why each is there stands in the score itself. */
#include <math.h>
#include <stddef.h>

#include "survey.h"

enum { PER_LINE = 8 };

static void say(FILE *out, unsigned code)
{
    fprintf(out, " %s/%d", hy_symbols[code].symbol, hy_symbols[code].nominal_ms);
}

static void piece(FILE *out, const char *name, const char *why)
{
    fprintf(out, "\n%s\nmark %s\n", why, name);
}

static void silence(FILE *out, const char *name, const char *length)
{
    piece(out, name,
          "# Nothing sounds: what is heard here is the noise floor, the hum and the offset of the board and of the\n"
          "# recorder, and every other level is judged against it.");
    fprintf(out, "pau/47 rest %s\n", length);
}

/* A burst and a short voice: of both, one is left if either source is dead. */
static void sync(FILE *out, const char *name, int backwards)
{
    static const int gaps[] = {60, 140, 300};
    piece(out, name,
          "# Three clicks with unequal gaps fit over themselves in one place only: that aligns a recording at its\n"
          "# start and, with the same gaps backwards, at its end; from both follows the clock, and that nothing was "
          "lost.");
    for (int i = 0; i < 3; i++) {
        fprintf(out, "t/71 ax/47 pau/47 rest %dms\n", gaps[backwards ? 2 - i : i]);
    }
}

static void codes(FILE *out, int brief)
{
    piece(out, "codes",
          "# Every code alone, in order, with a short pause behind it: duration, level, pitch and spectrum of each. "
          "A stuck\n"
          "# code pin shows as sounds that come again in place of others.");
    fprintf(out, "level 1\n");
    for (unsigned i = 0; i < (brief ? HYOID_PHONEMES : 2 * HYOID_PHONEMES); i++) {
        /* the second time backwards and higher, so that neither drift nor a neighbour's echo falls on the same code */
        unsigned code = i < HYOID_PHONEMES ? i : 2 * HYOID_PHONEMES - 1 - i;
        if (i == HYOID_PHONEMES) {
            fprintf(out, "level 2\n");
        }
        say(out, code);
        fprintf(out, i % PER_LINE == PER_LINE - 1 ? " pau/47 # up to 0x%02x\n" : " pau/47", code);
    }
    fprintf(out, "level 1\n");
}

static void levels(FILE *out, int brief)
{
    piece(out, "levels",
          "# Pitch at the four inflection levels, on sounds with a low and a high first formant (the chip adds a "
          "little\n"
          "# pitch of its own to high vowels), and changed while a sound goes on, for inflection is not latched.");
    for (int level = 0; level < HYOID_LEVELS; level++) {
        fprintf(out, "level %d aa/250 iy/185%s pau/47\n", level, brief ? "" : " uw/185 m/103");
    }
    static const int while_sounding[] = {1, 3, 0, 2, 1};
    fprintf(out, "level 0 ah/185");
    for (size_t i = 0; i < (brief ? 3 : 5); i++) {
        fprintf(out, " level %d rest 150ms", while_sounding[i]);
    }
    fprintf(out, "\npau/47 level 1\n");
}

static void steady(FILE *out, int brief)
{
    static const unsigned few[] = {0x24, 0x2c, 0x28, 0x0c, 0x1f, 0x11, 0x1d, 0x0f};
    static const unsigned many[] = {0x24, 0x2c, 0x28, 0x2e, 0x3d, 0x3a, 0x0c, 0x0d, 0x14, 0x18, 0x2b,
                                    0x1f, 0x11, 0x1d, 0x39, 0x1b, 0x12, 0x07, 0x0f, 0x38, 0x10};
    const unsigned *held = brief ? few : many;
    size_t count = brief ? sizeof few / sizeof few[0] : sizeof many / sizeof many[0];
    piece(out, "steady",
          "# Held sounds: formants at rest, and noise long enough for its average spectrum (more than half a second "
          "in the full\n"
          "# version), which a single frame of noise doesn't show.");
    for (size_t i = 0; i < count; i++) {
        say(out, held[i]);
        fprintf(out, " rest %dms pau/47%s", brief ? 300 : 750, i % 4 == 3 || i + 1 == count ? "\n" : "");
    }
}

/* Sounds of one class take turns, so that a class is met in more than one shape. */
typedef struct group {
    unsigned code[3];
} group;

static const group groups[] = {
    {{0x08, 0x29, 0x37}}, /* vowels */
    {{0x11, 0x1f, 0x1d}}, /* voiceless fricatives */
    {{0x2a, 0x19, 0x25}}, /* voiceless stops */
    {{0x0d, 0x0c, 0x14}}, /* nasals */
    {{0x03, 0x03, 0x03}}, /* pause */
    {{0x18, 0x2b, 0x2d}}, /* liquids and glides */
    {{0x12, 0x0f, 0x07}}, /* voiced fricatives */
    {{0x1e, 0x1c, 0x0e}}, /* voiced stops */
};
enum { GROUPS = sizeof groups / sizeof groups[0], GROUPS_BRIEF = 5 };

/* A walk in which each class follows each, itself too, once: a closed Euler walk over all ordered pairs. */
static void transitions(FILE *out, int brief)
{
    const unsigned count = brief ? GROUPS_BRIEF : GROUPS;
    unsigned turn[GROUPS] = {0}, said = 0;
    piece(out, "transitions",
          "# Each class of sound after each other and after itself: the gradual transitions, voice and closure "
          "delays,\n"
          "# the gate, and bursts in every neighbourhood.");
    for (unsigned a = 0; a < count; a++) {
        /* a, then a b for every b above a: a b and b a for each but the last b, which the next a follows */
        for (unsigned b = a; b < count; b++) {
            const unsigned pair[2] = {a, b};
            for (unsigned i = b == a ? 1 : 0; i < 2; i++) {
                say(out, groups[pair[i]].code[turn[pair[i]]++ % 3]);
                fprintf(out, ++said % PER_LINE == 0 ? "\n" : "");
            }
        }
    }
    say(out, groups[0].code[turn[0] % 3]); /* the last class before the first */
    fprintf(out, " pau/47\n");
}

static void again(FILE *out)
{
    piece(out, "again",
          "# Every code again at the other three levels, in three other orders and without pauses: neighbours that "
          "the\n"
          "# pieces before did not bring together, and a second measurement of each duration.");
    static const unsigned stride[] = {5, 27, 43}; /* odd, so that each code comes once */
    static const int level[] = {0, 2, 3};
    for (unsigned round = 0; round < 3; round++) {
        fprintf(out, "level %d\n", level[round]);
        for (unsigned i = 0; i < HYOID_PHONEMES; i++) {
            say(out, (i * stride[round] + 7) % HYOID_PHONEMES);
            fprintf(out, i % PER_LINE == PER_LINE - 1 ? "\n" : "");
        }
        fprintf(out, "pau/47\n");
    }
    fprintf(out, "level 1\n");
}

/* No phoneme is as long as this, however slow the clock steps. */
static int watchdog_ms(const hy_survey_options *options)
{
    double slower = options->nominal_hz / options->clock_hz;
    return (int)ceil(600.0 * (slower > 1.0 ? slower : 1.0));
}

static void cuts(FILE *out, const hy_survey_options *options)
{
    piece(out, "cuts",
          "# Hosts hurry speech by cutting phonemes short: what a cut leaves undone (a stop without its burst, a "
          "delay that\n"
          "# was not reached) carries over into the next sound.");
    fprintf(out, "hold 80ms aa/250 s t/71 iy/185 m ao/250 k pau/185\n");
    if (!options->brief) {
        fprintf(out, "hold 40ms aa/250 s t/71 iy/185 m ao/250 k pau/185 p uw/185 sh ih/185 z pau/185\n");
    }
    fprintf(out, "hold %dms pau/47\n", watchdog_ms(options));
}

static void clock_steps(FILE *out, const hy_survey_options *options)
{
    static const double few[] = {0.9, 1.1};
    static const double many[] = {0.7, 0.8, 0.9, 1.1, 1.25, 1.4};
    const double *ratio = options->brief ? few : many;
    size_t count = options->brief ? sizeof few / sizeof few[0] : sizeof many / sizeof many[0];
    piece(out, "clock",
          "# The same sounds at other clocks: pitch, tempo and formants must move together. What does not move comes "
          "from\n"
          "# outside the chip: hum, the amplifier, the room.");
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "clock %.0f aa/146%s s t/71 iy/103 pau/47\n", round(options->clock_hz * ratio[i]),
                options->brief ? "" : " rest 250ms");
    }
    fprintf(out, "clock %.10g\n", options->clock_hz);
}

void hy_survey_score(FILE *out, const hy_survey_options *options)
{
    fprintf(out,
            "# Survey, %s version%s: what a recording must contain with which a chip, a replacement or an\n"
            "# emulator is tested or calibrated. Record all of it without a break, mono, 44.1 or 48 kHz, 16 bits or "
            "more,\n"
            "# no automatic gain, no noise reduction, no lossy coding.\n"
            "#\n"
            "# Record quietly at first: bursts and high clocks can be loud and shrill. Work inside a cabinet only if "
            "you are\n"
            "# trained for it: mains, picture tubes and static; see the cautions in the manual.\n"
            "clock %.10g\n"
            "level 1\n"
            "hold %dms # a request that never comes must not stall the test; no phoneme is that long\n",
            options->brief ? "short" : "full", options->fixed_clock ? ", clock left alone" : "", options->clock_hz,
            watchdog_ms(options));
    silence(out, "silence", options->brief ? "500ms" : "1500ms");
    sync(out, "sync", 0);
    codes(out, options->brief);
    levels(out, options->brief);
    steady(out, options->brief);
    transitions(out, options->brief);
    if (!options->brief) {
        again(out);
    }
    cuts(out, options);
    if (!options->fixed_clock) {
        clock_steps(out, options);
    }
    sync(out, "sync-end", 1);
    silence(out, "silence-end", options->brief ? "400ms" : "1s");
    fprintf(out, "end/47\n");
}
