/* The options that every verb with the outputs of `render` has: their rows in its table, their values, and the check that
 * no file is named twice. */
#ifndef HY_CHOICES_H
#define HY_CHOICES_H

#include "diag.h"
#include "options.h"
#include "outputs.h"

/* The verb's own options count on from HY_CHOICES. */
enum {
    HY_CHOICE_OUTPUT,
    HY_CHOICE_RATE,
    HY_CHOICE_BITS,
    HY_CHOICE_DITHER,
    HY_CHOICE_TAIL,
    HY_CHOICE_PART,
    HY_CHOICE_PINS,
    HY_CHOICE_LOGIC,
    HY_CHOICE_LOG,
    HY_CHOICE_LABELS,
    HY_CHOICE_PICTURE,
    HY_CHOICE_CHIP_RATE,
    HY_CHOICE_NO_IMAGES,
    HY_CHOICE_QUIET,
    HY_CHOICES
};

/* The rows, for the initialiser of a verb's table. */
#define HY_CHOICE_ROWS                                                                                               \
    [HY_CHOICE_OUTPUT] = {"output", 'o', "FILE", "sound: .wav, .flac or .ogg; - is standard output, as WAV"},        \
    [HY_CHOICE_RATE] = {"rate", 0, "HZ", "samples per second, 8000..192000 (default 48000)"},                        \
    [HY_CHOICE_BITS] = {"bits", 0, "N", "16, 24 or 32 bits a sample (default 16; 32 is floating point, WAV only)"},  \
    [HY_CHOICE_DITHER] = {"dither", 0, NULL, "add triangular noise of one step before rounding (off by default)"},   \
    [HY_CHOICE_TAIL] = {"tail", 0, "MS", "what sounds after the last phoneme's time, 0..60000 ms (default 50)"},     \
    [HY_CHOICE_PART] = {"part", 0, "DIR", "a part folder (default: the built-in part, an estimate)"},                \
    [HY_CHOICE_PINS] = {"pins", 0, "FILE.vcd",                                                                       \
                        "the pins and the audio level as a value change dump\n(0.7 MB for each second of sound)"},   \
    [HY_CHOICE_LOGIC] =                                                                                              \
        {"logic", 0, NULL,                                                                                           \
         "--pins with p0..p5, i0, i1, strobe and request alone, as programs of logic\nanalysers read"},              \
    [HY_CHOICE_LOG] = {"log", 0, "FILE.csv", "the write log that was played"},                                       \
    [HY_CHOICE_LABELS] = {"labels", 0, "FILE.TextGrid", "phonemes, request and marks as labels"},                    \
    [HY_CHOICE_PICTURE] = {"picture", 0, "FILE.png", "spectrogram with phonemes, request and clock"},                \
    [HY_CHOICE_CHIP_RATE] = {"chip-rate", 0, NULL, "sound is the raw staircase, one sample a filter cycle"},         \
    [HY_CHOICE_NO_IMAGES] = {"no-images", 0, NULL,                                                                   \
                             "leave out the staircase's images above half the filter rate, which a real chip\n"      \
                             "sends to its amplifier; the sound comes 32 filter cycles later"},                      \
    [HY_CHOICE_QUIET] = {"quiet", 'q', NULL, "no summary on standard error"}

typedef struct hy_choices {
    hy_render_options render;
    const char *part; /* a folder, or null */
    int quiet;
} hy_choices;

void hy_choices_start(hy_choices *choices);

/* Takes one of the options above. 0, or -1. */
int hy_choices_take(hy_choices *choices, int option, const char *value, hy_diag *diag);

/* Whether outputs and inputs are different files and at least one output is wanted; `verb` is for the message. 0, or -1. */
int hy_choices_check(const hy_choices *choices, const char *verb, const char *const *inputs, size_t input_count,
                     hy_diag *diag);

#endif
