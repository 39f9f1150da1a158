/* Verdicts: figure, phoneme, part. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "compare.h"

#define MOST_MUST_PASS 0.5 /* of the codes, for the part to pass */

static hy_judged judge(double value, double uncertainty, const hy_limit *limit)
{
    hy_judged j = {.limit = *limit, .verdict = HY_INCONCLUSIVE};
    if (!isfinite(limit->value) || !isfinite(value) || !isfinite(uncertainty)) {
        return j;
    }
    j.judged = 1;
    if (fabs(value) - uncertainty > limit->value) {
        j.verdict = HY_FAIL;
    } else if (fabs(value) <= limit->value && uncertainty <= limit->value) {
        j.verdict = HY_PASS;
    }
    return j;
}

static void add(char *text, size_t size, const char *format, ...) __attribute__((format(printf, 3, 4)));

static void add(char *text, size_t size, const char *format, ...)
{
    size_t used = strlen(text);
    va_list args;
    va_start(args, format);
    vsnprintf(text + used, size - used, format, args);
    va_end(args);
}

/* The quantity that says most of a sound. */
static hy_measure main_quantity(const hy_code_figures *figures)
{
    return figures->pause ? HY_M_LEVEL : HY_M_LSD;
}

static void judge_code(hy_judged_code *code, const hy_limits *limits)
{
    const hy_code_figures *figures = code->figures;
    hy_measure most = main_quantity(figures);
    int fails = 0, outside = 0;
    code->why[0] = '\0';
    for (int q = 0; q < HY_MEASURES; q++) {
        const hy_figure *f = &figures->figure[q];
        const hy_limit *limit = &limits->at[q][figures->code];
        code->row[q] = (hy_judged){.limit = *limit, .verdict = HY_INCONCLUSIVE};
        if (f->known != HY_KNOWN) {
            continue;
        }
        code->row[q] = judge(f->value, f->uncertainty, limit);
        if (code->row[q].judged && code->row[q].verdict == HY_FAIL) {
            add(code->why, sizeof code->why, "%s%s %+.1f %s (limit %.3g)", fails++ > 0 ? ", " : "",
                hy_measure_name((hy_measure)q), f->value, hy_measure_unit((hy_measure)q), limit->value);
        }
        outside += code->row[q].judged && fabs(f->value) > limit->value;
    }
    code->verdict = fails > 0 ? HY_FAIL : HY_PASS;
    if (fails > 0) {
        return;
    }
    const hy_judged *main_row = &code->row[most];
    if (!main_row->judged || main_row->verdict != HY_PASS) {
        code->verdict = HY_INCONCLUSIVE;
        const hy_figure *f = &figures->figure[most];
        if (f->known != HY_KNOWN) {
            add(code->why, sizeof code->why, "%s: %s", hy_measure_name(most), hy_known_why(f->known));
        } else if (!isfinite(main_row->limit.value)) {
            add(code->why, sizeof code->why, "%s, which says most of it, has no limit", hy_measure_name(most));
        } else {
            add(code->why, sizeof code->why, "%s %.1f +-%.1f %s: too uncertain for a limit of %.3g",
                hy_measure_name(most), f->value, f->uncertainty, hy_measure_unit(most), main_row->limit.value);
        }
        return;
    }
    if (outside > 0) {
        code->verdict = HY_INCONCLUSIVE;
        for (int q = 0, n = 0; q < HY_MEASURES; q++) {
            const hy_figure *f = &figures->figure[q];
            if (code->row[q].judged && fabs(f->value) > code->row[q].limit.value) {
                add(code->why, sizeof code->why, "%s%s %+.1f +-%.1f %s: outside, but by less than is known",
                    n++ > 0 ? ", " : "", hy_measure_name((hy_measure)q), f->value, f->uncertainty,
                    hy_measure_unit((hy_measure)q));
            }
        }
    }
}

static void judge_whole(hy_comparison *c, const hy_limits *limits)
{
    const hy_alignment *a = &c->alignment;
    const hy_estimate *best =
        isfinite(a->tempo.uncertainty) && a->tempo.uncertainty < a->pitch.uncertainty ? &a->tempo : &a->pitch;
    c->stated_hz = a->model->spoken[0].clock_hz / a->model->scale;
    c->clock_off = 100 * (a->scale - 1);
    c->clock_doubt = 100 * best->uncertainty;
    c->tempo_pitch_off = NAN;
    c->tempo_pitch_doubt = NAN;
    if (isfinite(a->tempo.uncertainty) && isfinite(a->pitch.uncertainty)) {
        c->tempo_pitch_off = 100 * (a->pitch.value / a->tempo.value - 1);
        c->tempo_pitch_doubt = 100 * (a->tempo.uncertainty + a->pitch.uncertainty) / a->tempo.value;
    }
    c->clock = judge(c->clock_off, c->clock_doubt, &limits->at[HY_CLOCK_ROW][0]);
    c->tempo_pitch = judge(c->tempo_pitch_off, c->tempo_pitch_doubt, &limits->at[HY_TEMPO_PITCH_ROW][0]);
}

static int fails(const hy_judged *row)
{
    return row->judged && row->verdict == HY_FAIL;
}

void hy_compare_judge(hy_comparison *c, const hy_limits *limits)
{
    judge_whole(c, limits);
    c->passed = c->failed = c->open = 0;
    for (size_t i = 0; i < c->figures.count; i++) {
        c->code[i].figures = &c->figures.code[i];
        judge_code(&c->code[i], limits);
        c->passed += c->code[i].verdict == HY_PASS;
        c->failed += c->code[i].verdict == HY_FAIL;
        c->open += c->code[i].verdict == HY_INCONCLUSIVE;
    }
    if (c->failed > 0 || fails(&c->clock) || fails(&c->tempo_pitch)) {
        c->verdict = HY_FAIL;
    } else if (c->passed > 0 && c->passed >= MOST_MUST_PASS * (double)c->figures.count) {
        c->verdict = HY_PASS;
    } else {
        c->verdict = HY_INCONCLUSIVE;
    }
}
