#include "rows.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "score.h"

typedef struct kind {
    const char *key, *name, *unit;
    hy_row_id id;
    hy_row_side side;
} kind;

static const kind kinds[] = {
    {"clock", "clock frequency", "Hz", HY_ROW_CLOCK, HY_SIDE_INFO},
    {"latency", "strobe to request's fall", "clocks", HY_ROW_LATENCY, HY_SIDE_PART},
    {"after_cut", "duration after a cut, off nominal", "clocks", HY_ROW_AFTER_CUT, HY_SIDE_PART},
    {"inflected", "duration with inflection moving, off nominal", "clocks", HY_ROW_INFLECTED, HY_SIDE_PART},
    {"missed", "strobes without an answer", "count", HY_ROW_MISSED, HY_SIDE_PART},
    {"overdue", "request did not rise in time", "count", HY_ROW_OVERDUE, HY_SIDE_PART},
    {"unasked", "request fell without a strobe", "count", HY_ROW_UNASKED, HY_SIDE_PART},
    {"unknown", "x or z on a pin that matters", "count", HY_ROW_UNKNOWN, HY_SIDE_HOST},
    {"doubled", "strobes doubled (bounce, glitch)", "count", HY_ROW_DOUBLED, HY_SIDE_HOST},
    {"code_moves", "code changes while strobe is high", "count", HY_ROW_CODE_MOVES, HY_SIDE_HOST},
    {"cut", "phonemes cut short, after", "clocks", HY_ROW_CUT, HY_SIDE_INFO},
    {"answer", "request's rise to strobe (host)", "clocks", HY_ROW_ANSWER, HY_SIDE_INFO},
    {"strobe", "width of strobe (host)", "clocks", HY_ROW_STROBE, HY_SIDE_INFO},
    {"inflection", "inflection changes (host)", "count", HY_ROW_INFLECTION, HY_SIDE_INFO},
    {"glitches", "glitches passed over", "count", HY_ROW_GLITCHES, HY_SIDE_INFO},
};

static void start_row(hy_row *row, const char *key, const char *name, const char *unit, hy_row_side side)
{
    *row = (hy_row){.unit = unit,
                    .side = side,
                    .counts = strcmp(unit, "count") == 0,
                    .min = NAN,
                    .typ = NAN,
                    .max = NAN,
                    .low = NAN,
                    .mean = NAN,
                    .high = NAN,
                    .worst_ps = -1};
    snprintf(row->key, sizeof row->key, "%s", key);
    snprintf(row->name, sizeof row->name, "%s", name);
}

static void limit(hy_row *row, double min, double typ, double max)
{
    row->min = min;
    row->typ = typ;
    row->max = max;
}

/* "LAW; the part's figure is recalled": hyoid part show tells from where. */
static void cite(hy_row *row, const char *law, const hy_provenance *from)
{
    int estimate = from != NULL && strcmp(from->confidence, "estimate") == 0;
    snprintf(row->source, sizeof row->source, "%s%s%s%s", law, from != NULL ? "; the part's figure is " : "",
             estimate ? "an " : "", from != NULL ? from->confidence : "");
}

static void start_duration(hy_row *row, unsigned code, const hy_partfile *file)
{
    const hyoid_part *part = hy_partfile_part(file);
    double clocks = part->filter_clocks;
    double cycles = part->phoneme[code].duration;
    char key[20];
    char name[72];
    snprintf(key, sizeof key, "duration:0x%02x", code);
    snprintf(name, sizeof name, "duration of %s (0x%02x)", hy_symbols[code].symbol, code);
    start_row(row, key, name, "clocks", HY_SIDE_PART);
    limit(row, clocks * (cycles - 1.0), clocks * (cycles - 0.5) + 0.5, clocks * cycles + 1.0);
    cite(row, "filter cycles of a free-running divider (docs/chip.md)", hy_partfile_phoneme(file, code, "duration"));
}

void hy_rows_start(hy_row *rows, const hy_partfile *file)
{
    const hyoid_part *part = hy_partfile_part(file);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        const kind *k = &kinds[i];
        start_row(&rows[k->id], k->key, k->name, k->unit, k->side);
        if (k->side != HY_SIDE_INFO && rows[k->id].counts) {
            rows[k->id].max = 0.0;
            cite(&rows[k->id], "docs/handshake.md", NULL);
        }
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        start_duration(&rows[HY_ROW_DURATION + code], code, file);
    }
    double delay = part->request_delay;
    double clocks = part->filter_clocks;
    limit(&rows[HY_ROW_LATENCY], delay, delay + 0.5, delay + 1.0);
    cite(&rows[HY_ROW_LATENCY], "latch at the next clock, then request_delay (docs/chip.md)",
         hy_partfile_constant(file, "request_delay"));
    for (int i = HY_ROW_AFTER_CUT; i <= HY_ROW_INFLECTED; i++) {
        limit(&rows[i], -clocks, 0.5 - clocks * 0.5, 1.0);
        cite(&rows[i], "the timer starts anew with each strobe and with nothing else (docs/chip.md)", NULL);
    }
}

/* ---- measuring ---- */

/* What a value leaves to the nearer limit; infinite without limits. */
static double inside(const hy_row *row, double value)
{
    double low = isnan(row->min) ? INFINITY : value - row->min;
    double high = isnan(row->max) ? INFINITY : row->max - value;
    return low < high ? low : high;
}

void hy_row_add(hy_row *row, double value, double uncertainty, int64_t ps)
{
    row->n++;
    row->low = row->n == 1 || value < row->low ? value : row->low;
    row->high = row->n == 1 || value > row->high ? value : row->high;
    row->mean = row->n == 1 ? value : row->mean + (value - row->mean) / (double)row->n;
    row->uncertainty = uncertainty > row->uncertainty ? uncertainty : row->uncertainty;
    double left = inside(row, value);
    row->beyond += left < -uncertainty;
    row->maybe += left < 0.0 && left >= -uncertainty;
    if (row->worst_ps < 0 || left < row->worst_by) {
        row->worst_ps = ps;
        row->worst_by = left;
    }
}

void hy_row_count(hy_row *row, uint64_t n, uint64_t sure, uint64_t maybe, int64_t ps)
{
    row->n = n;
    row->low = row->mean = row->high = (double)sure;
    row->maybe = maybe;
    row->worst_ps = sure > 0 ? ps : -1;
}

void hy_row_judge(hy_row *row)
{
    row->judged = row->n > 0 && !(isnan(row->min) && isnan(row->max));
    if (!row->judged) {
        return;
    }
    if (row->counts) {
        int out = inside(row, row->low) < 0.0;
        row->beyond = out ? 1 : 0;
        row->verdict = out ? HY_FAIL : inside(row, row->low + (double)row->maybe) < 0.0 ? HY_INCONCLUSIVE : HY_PASS;
        return;
    }
    double width = isnan(row->min) || isnan(row->max) ? INFINITY : row->max - row->min;
    double left = inside(row, row->low) < inside(row, row->high) ? inside(row, row->low) : inside(row, row->high);
    int fine = isfinite(width) ? row->uncertainty <= width / 4.0 : left >= 0.0;
    row->verdict = row->beyond > 0 ? HY_FAIL : fine || left >= row->uncertainty ? HY_PASS : HY_INCONCLUSIVE;
}

hy_report_row hy_row_report(const hy_row *row)
{
    hy_report_row r = hy_report_row_of(row->name, row->unit);
    r.min = row->min;
    r.typ = row->typ;
    r.max = row->max;
    r.n = row->n;
    r.low = row->low;
    r.mean = row->mean;
    r.high = row->high;
    r.uncertainty = row->uncertainty;
    r.verdict = row->verdict;
    r.source = row->source[0] != '\0' ? row->source : NULL;
    return r;
}
