/* The survey as C arrays, for a board without a file system. */
#include <stdlib.h>

#include "survey.h"

static const size_t steps_most = 60000;

typedef struct step {
    const char *mark; /* the piece that begins here, or null */
    int code;         /* -1: only the inflection changes */
    int level;
    int64_t most_ps, rest_ps;
    double clock_hz; /* set before it, or < 0 */
} step;

typedef struct steps {
    step *at;
    size_t count, room;
    /* what the next step will carry */
    const char *mark;
    int level;
    int64_t hold_ps;
    double clock_hz;
} steps;

static step *add(steps *s, int code)
{
    if (s->count == s->room) {
        size_t room = s->room * 2 + 256;
        step *more = room <= steps_most * 2 ? realloc(s->at, room * sizeof *more) : NULL;
        if (more == NULL) {
            return NULL;
        }
        s->at = more;
        s->room = room;
    }
    step *next = &s->at[s->count++];
    *next = (step){s->mark, code, s->level, code < 0 ? 0 : s->hold_ps, 0, s->clock_hz};
    s->mark = NULL;
    s->clock_hz = -1.0;
    return next;
}

static int refuse(const hy_action *action, const char *why, hy_diag *diag)
{
    return hy_fail(diag, "line %u of the survey can't be put into a C array: %s", action->line, why);
}

static int take(steps *s, const hy_action *action, hy_diag *diag)
{
    int full = 0;
    switch (action->kind) {
    case HY_SAY:
        full = add(s, action->number) == NULL;
        break;
    case HY_SET_LEVEL:
        s->level = action->number;
        break;
    case HY_REST: {
        step *last = s->count > 0 ? &s->at[s->count - 1] : NULL;
        /* a change while the sound goes on needs a step of its own */
        if (last == NULL || last->level != s->level || s->clock_hz >= 0.0) {
            last = add(s, -1);
        }
        full = last == NULL;
        if (!full) {
            last->rest_ps += action->ps;
        }
        break;
    }
    case HY_SET_HOLD:
        s->hold_ps = action->ps;
        break;
    case HY_SET_CLOCK:
        s->clock_hz = action->hz;
        break;
    case HY_SET_MARK:
        s->mark = action->name;
        break;
    case HY_GLIDE:
    case HY_SET_ANSWER:
        return refuse(action, "it has no glides and no answer times", diag);
    }
    return full ? hy_fail(diag, "memory is short for the C array") : 0;
}

static int in_range(const steps *s, hy_diag *diag)
{
    const int64_t ms = INT64_C(1000000000);
    for (size_t i = 0; i < s->count; i++) {
        const step *at = &s->at[i];
        if (at->most_ps % ms != 0 || at->rest_ps % ms != 0 || at->most_ps > 65535 * ms || at->rest_ps > 65535 * ms) {
            return hy_fail(diag, "step %zu can't be put into a C array: 0 to 65535 whole milliseconds would be right",
                           i);
        }
    }
    return s->count < steps_most
               ? 0
               : hy_fail(diag, "a C array of %zu steps: below %zu would be right", s->count, steps_most);
}

static void write_opening(FILE *out, const steps *s, const char *what)
{
    fprintf(
        out,
        "/* %s\n"
        " *\n"
        " * For each step, in order:\n"
        " *   put `inflection` on I1 I0;\n"
        " *   unless `code` is HYOID_SURVEY_NO_STROBE: put `code` on P5..P0 and strobe, then wait until request is "
        "high,\n"
        " *   but no longer than `most_ms` after the strobe (a dead request must not stall the test; a smaller\n"
        " *   number cuts the phoneme short on purpose);\n"
        " *   then wait `rest_ms`, while the chip goes on sounding.\n"
        " * Boards that can set the chip's clock look into hyoid_survey_clock as well: before step `step`, set it to "
        "`hz`.\n"
        " * Boards that can't, leave that out: those steps then sound at the board's own clock.\n"
        " *\n"
        " * On a microcontroller that keeps constants apart, define HYOID_SURVEY_MEMORY (such as PROGMEM) ahead of\n"
        " * this file. Cautions: check supplies before the chip is plugged in, never drive an input beyond its "
        "supply, mind\n"
        " * static, start quietly; inside a cabinet mains and the picture tube can kill: leave that to licensed\n"
        " * technicians, and your local code comes first. */\n"
        "#ifndef HYOID_SURVEY_STEPS\n"
        "#define HYOID_SURVEY_STEPS %zu\n"
        "#define HYOID_SURVEY_NO_STROBE 255\n"
        "\n"
        "#include <stdint.h>\n"
        "\n"
        "#ifndef HYOID_SURVEY_MEMORY\n"
        "#define HYOID_SURVEY_MEMORY\n"
        "#endif\n"
        "\n"
        "struct hyoid_survey_step {\n"
        "    uint8_t code;       /* 0..63, or HYOID_SURVEY_NO_STROBE */\n"
        "    uint8_t inflection; /* 0..3 */\n"
        "    uint16_t most_ms;   /* longest wait for request, ms after the strobe; 0: as long as it takes */\n"
        "    uint16_t rest_ms;   /* then wait so long, ms */\n"
        "};\n"
        "\n"
        "static const struct hyoid_survey_step hyoid_survey[HYOID_SURVEY_STEPS] HYOID_SURVEY_MEMORY = {\n",
        what, s->count);
}

static void write_steps(FILE *out, const steps *s)
{
    const int64_t ms = INT64_C(1000000000);
    for (size_t i = 0; i < s->count; i++) {
        const step *at = &s->at[i];
        if (at->mark != NULL) {
            fprintf(out, "    /* %s, step %zu */\n", at->mark, i);
        }
        if (at->code < 0) {
            fprintf(out, "    {HYOID_SURVEY_NO_STROBE, %d, 0, %d},\n", at->level, (int)(at->rest_ps / ms));
        } else {
            fprintf(out, "    {%2d, %d, %d, %d}, /* %s */\n", at->code, at->level, (int)(at->most_ps / ms),
                    (int)(at->rest_ps / ms), hy_symbols[at->code].symbol);
        }
    }
    fprintf(out, "};\n");
}

static void write_clock(FILE *out, const steps *s)
{
    size_t count = 0;
    for (size_t i = 0; i < s->count; i++) {
        count += s->at[i].clock_hz >= 0.0;
    }
    if (count == 0) { /* an array can't be empty */
        return;
    }
    fprintf(
        out,
        "\n#define HYOID_SURVEY_CLOCKS %zu\n\n"
        "struct hyoid_survey_clock {\n"
        "    uint16_t step; /* before this step ... */\n"
        "    uint32_t hz;   /* ... set the chip's clock to this */\n"
        "};\n"
        "\n"
        "static const struct hyoid_survey_clock hyoid_survey_clock[HYOID_SURVEY_CLOCKS] HYOID_SURVEY_MEMORY = {\n",
        count);
    for (size_t i = 0; i < s->count; i++) {
        if (s->at[i].clock_hz >= 0.0) {
            fprintf(out, "    {%zu, %.0f},\n", i, s->at[i].clock_hz);
        }
    }
    fprintf(out, "};\n");
}

int hy_survey_c(FILE *out, hy_score *score, const char *what, hy_diag *diag)
{
    steps s = {.level = 1, .clock_hz = -1.0};
    hy_action action;
    int result = 0;
    hy_score_rewind(score);
    while (result == 0 && hy_score_next(score, &action)) {
        result = take(&s, &action, diag);
    }
    result = result == 0 ? in_range(&s, diag) : result;
    if (result == 0) {
        write_opening(out, &s, what);
        write_steps(out, &s);
        write_clock(out, &s);
        fprintf(out, "\n#endif\n");
    }
    free(s.at);
    return result;
}
