/* The survey for `hyoid calibrate`: each phoneme behind a burst. */
#include "survey.h"

enum repeats { NONE, HALF, ALL };

enum { STOP = 0x2a, PER_LINE = 4 }; /* t: its burst has the sharpest edge of all sounds */

static void say(FILE *out, unsigned code)
{
    fprintf(out, " %s/%d", hy_symbols[code].symbol, hy_symbols[code].nominal_ms);
}

/* One pass over all codes. twice: all, none or every other is said two times in a row, so that it comes to rest; that some are said once
 * tells the burst's own duration from theirs. shift: of all codes' levels. A code rests at two
 * neighbouring levels, which ties the levels' pitch periods to each other. */
static void pass(FILE *out, unsigned round, unsigned stride, unsigned shift, enum repeats twice)
{
    for (unsigned i = 0; i < HYOID_PHONEMES; i++) {
        unsigned code = (i * stride + 7 * round + 3) % HYOID_PHONEMES; /* stride is odd: each code comes once */
        fprintf(out, "%slevel %u", i % PER_LINE == 0 ? "" : "  ", (code + code / 16 + shift) % HYOID_LEVELS);
        say(out, STOP);
        say(out, code);
        if (twice == ALL || (twice == HALF && i % 2 == 0)) {
            say(out, code);
        }
        fprintf(out, i % PER_LINE == PER_LINE - 1 ? "\n" : "");
    }
}

void hy_survey_calibration(FILE *out, const hy_survey_options *options)
{
    static const struct {
        unsigned stride, shift;
        enum repeats twice;
    } passes[] = {{5, 0, ALL}, {43, 1, ALL}, {27, 2, NONE}, {11, 3, NONE}};
    const unsigned count = options->brief ? 2 : sizeof passes / sizeof passes[0];
    fprintf(
        out,
        "# Survey for calibration%s. Record all of it without a break, mono, 44.1 or 48 kHz, 16 bits or more, no\n"
        "# automatic gain, no noise reduction, no lossy coding; by a wire rather than through the air. Two or three\n"
        "# takes are better than one.\n"
        "#\n"
        "# The board waits for request before each write and answers at once: durations are what is measured.\n"
        "#\n"
        "# Work inside a cabinet only if you are trained for it: mains, picture tubes and static; see the cautions\n"
        "# in the manual.\n"
        "clock %.10g\n",
        options->brief ? ", short" : "", options->clock_hz);
    fprintf(out, "\n# Nothing sounds: the noise floor and the hum of the board and of the recorder.\n"
                 "mark silence\n"
                 "pau/47 rest 1s\n");
    for (unsigned i = 0; i < count; i++) {
        enum repeats twice = options->brief && i == 1 ? HALF : passes[i].twice;
        fprintf(
            out,
            "\n# Every code behind a burst, which shows to a fraction of a millisecond when it began; at all levels, "
            "in another\n"
            "# order%s.\n"
            "mark pass-%u\n",
            twice == ALL    ? ", twice, so that its formants come to rest"
            : twice == HALF ? ", every other one twice"
                            : "",
            i + 1);
        pass(out, i, passes[i].stride, passes[i].shift, twice);
    }
    fprintf(out, "\nmark silence-end\nt/71 pau/47 rest 500ms\n");
}
