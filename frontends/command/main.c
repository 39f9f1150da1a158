/* The hyoid program: dispatch only. */
#include <stdio.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "../calibrate/calibrate.h"
#include "../chart/chart.h"
#include "../compare/compare.h"
#include "../diagnose/diagnose.h"
#include "../firmware/firmware.h"
#include "../live/live.h"
#include "../part/part.h"
#include "../render/render.h"
#include "../spell/spell.h"
#include "../survey/survey.h"
#include "../sweep/sweep.h"
#include "../timing/timing.h"
#include "../vectors/vectors.h"
#include "outfile.h"
#include "text.h"

typedef struct verb {
    const char *name;
    int (*run)(int argc, char **argv);
    const char *what;
} verb;

/* In the order of a user's day: hear it, know the part, judge and measure a chip, build a new one. */
static const verb verbs[] = {
    {"render", hy_render_main, "a score, write log or capture -> sound, pins, labels, picture"},
    {"live", hy_live_main, "hear it while you turn the clock: sound card, keys, recordings"},
    {"spell", hy_spell_main, "English text -> a score"},
    {"sweep", hy_sweep_main, "one input at many clocks: pitch, tempo, formants, images"},
    {"chart", hy_chart_main, "the 64 phoneme codes: meant and measured"},
    {"part", hy_part_main, "check, show, compare or export a part: the numbers of a piece of silicon"},
    {"survey", hy_survey_main, "the test sequence that a recording for a test or calibration must contain"},
    {"timing", hy_timing_main, "a capture of a board -> is its handshake right?"},
    {"compare", hy_compare_main, "a recording -> does the part sound right? phoneme by phoneme"},
    {"diagnose", hy_diagnose_main, "a recording -> which fault explains it?"},
    {"calibrate", hy_calibrate_main, "recordings of a chip -> a part that speaks like it"},
    {"vectors", hy_vectors_main, "an input -> stimulus and expected pins by clock, for an HDL test bench"},
    {"firmware", hy_firmware_main, "a microcontroller's firmware drives the chip, pin by pin"},
};
enum { VERBS = sizeof verbs / sizeof verbs[0] };

static int help(void)
{
    printf("hyoid %d.%d.%d: a clock-accurate model of a phoneme speech chip (US patent 4,433,210)\n\n"
           "Usage: hyoid VERB ...\n\n",
           HYOID_VERSION_MAJOR, HYOID_VERSION_MINOR, HYOID_VERSION_PATCH);
    for (size_t i = 0; i < VERBS; i++) {
        printf("  %-9s %s\n", verbs[i].name, verbs[i].what);
    }
    printf("\nhyoid VERB --help (or hyoid help VERB) tells more; hyoid --version names the version.\n"
           "The built-in part is an estimate: no dump of a real mask was read.\n");
    return fflush(stdout) == 0 ? 0 : 2;
}

static void print_verbs(FILE *to)
{
    for (size_t i = 0; i < VERBS; i++) {
        fprintf(to, "%s%s", i == 0 ? "" : i + 1 == VERBS ? " or " : ", ", verbs[i].name);
    }
}

static int unknown(const char *word)
{
    const char *names[VERBS];
    for (size_t i = 0; i < VERBS; i++) {
        names[i] = verbs[i].name;
    }
    hy_near near = hy_near_names(word, strlen(word), names, VERBS);
    fprintf(stderr, "hyoid: unknown verb %s; ", hy_show(word, strlen(word)).text);
    if (near.text[0] != '\0') {
        fprintf(stderr, "did you mean %s\n", near.text);
    } else {
        print_verbs(stderr);
        fprintf(stderr, " would do\n");
    }
    return 2;
}

int main(int argc, char **argv)
{
    hy_outfile_clean_on_signal();
    if (argc < 2) {
        fprintf(stderr, "hyoid: a verb is missing: ");
        print_verbs(stderr);
        fprintf(stderr, "; hyoid --help tells more\n");
        return 2;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0 ||
        (strcmp(argv[1], "help") == 0 && (argc == 2 || strcmp(argv[2], "help") == 0))) {
        return help();
    }
    if (strcmp(argv[1], "--version") == 0) {
        uint32_t v = hyoid_version();
        printf("hyoid %u.%u.%u, built-in part %016llx (an estimate)\n", v / 10000, v / 100 % 100, v % 100,
               (unsigned long long)hyoid_part_hash(hyoid_part_default()));
        return fflush(stdout) == 0 ? 0 : 2;
    }
    const int helped = strcmp(argv[1], "help") == 0; /* help VERB is VERB --help */
    char *wanted = argv[helped ? 2 : 1];
    for (size_t i = 0; i < VERBS; i++) {
        if (strcmp(wanted, verbs[i].name) == 0) {
            char option[] = "--help";
            char *with_option[] = {wanted, option, NULL};
            return helped ? verbs[i].run(2, with_option) : verbs[i].run(argc - 1, argv + 1);
        }
    }
    return unknown(wanted);
}
