/* The result as JSON; keys are in docs/captures.md and stay. */
#include <math.h>
#include <string.h>

#include "jsonfile.h"
#include "partfile_fields.h"
#include "timing.h"

/* json_object_set_new takes the value in all cases; a null one becomes an error that json_dump would meet, so it is kept. */
static int set(json_t *object, const char *key, json_t *value)
{
    return json_object_set_new(object, key, value);
}

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *seconds(int64_t ps)
{
    return number((double)ps * 1e-12);
}

static json_t *row_json(const hy_row *row, const hy_timing *t)
{
    static const char *const sides[] = {"part", "host", "information"};
    hy_report_row figures = hy_row_report(row);
    json_t *o = json_object();
    int bad = set(o, "row", json_string(row->key));
    bad |= set(o, "name", json_string(row->name));
    bad |= set(o, "unit", json_string(row->unit));
    bad |= set(o, "side", json_string(sides[row->side]));
    bad |= set(o, "min", number(row->min));
    bad |= set(o, "typ", number(row->typ));
    bad |= set(o, "max", number(row->max));
    bad |= set(o, "source", json_string(row->source));
    bad |= set(o, "n", json_integer((json_int_t)row->n));
    bad |= set(o, "least", number(row->low));
    bad |= set(o, "mean", number(row->mean));
    bad |= set(o, "most", number(row->high));
    bad |= set(o, "uncertainty", number(row->uncertainty));
    bad |= set(o, "margin", row->judged ? number(hy_report_margin(&figures)) : json_null());
    bad |= set(o, "beyond", json_integer((json_int_t)row->beyond));
    bad |= set(o, "within_uncertainty", json_integer((json_int_t)row->maybe));
    bad |= set(o, "worst_s", row->worst_ps >= 0 ? seconds(row->worst_ps + t->origin_ps) : json_null());
    bad |= set(o, "verdict", row->judged ? json_string(hy_verdict_text(row->verdict)) : json_null());
    if (bad != 0) {
        json_decref(o);
        return NULL;
    }
    return o;
}

static json_t *clock_json(const hy_timing *t)
{
    static const char *const by[] = {"unknown", "stated", "counted", "given", "fitted", "followed"};
    json_t *o = json_object();
    int known = t->clock_by != HY_CLOCK_UNKNOWN;
    int bad = set(o, "by", json_string(by[t->clock_by]));
    bad |= set(o, "hz", known ? number(t->clock_hz) : json_null());
    bad |= set(o, "least_hz", known ? number(t->clock_least) : json_null());
    bad |= set(o, "most_hz", known ? number(t->clock_most) : json_null());
    bad |= set(o, "ppm", known ? number(t->clock_doubt * 1e6) : json_null());
    bad |= set(o, "off_nominal_ppm", known ? number((t->clock_hz / t->nominal_hz - 1.0) * 1e6) : json_null());
    bad |= set(o, "n", json_integer((json_int_t)t->clock_n));
    bad |= set(o, "period_deviation_s", t->jitter_ps > 0.0 ? number(t->jitter_ps * 1e-12) : json_null());
    if (bad != 0) {
        json_decref(o);
        return NULL;
    }
    return o;
}

static json_t *rows_json(const hy_timing *t)
{
    json_t *rows = json_array();
    for (int i = 0; i < HY_ROWS && rows != NULL; i++) {
        if ((t->rows[i].n > 0 || t->rows[i].counts) && json_array_append_new(rows, row_json(&t->rows[i], t)) != 0) {
            json_decref(rows);
            rows = NULL;
        }
    }
    return rows;
}

/* The notes, one line each. */
static json_t *notes_json(const hy_timing *t)
{
    json_t *notes = json_array();
    for (const char *at = t->note; *at != '\0' && notes != NULL;) {
        size_t length = strcspn(at, "\n");
        const char *text = strncmp(at, "note: ", 6) == 0 ? at + 6 : at;
        if (json_array_append_new(notes, json_stringn_nocheck(text, length - (size_t)(text - at))) != 0) {
            json_decref(notes);
            notes = NULL;
        }
        at += length + (at[length] == '\n');
    }
    return notes;
}

static json_t *result_json(const hy_timing *t, const hy_timing_paper *paper)
{
    char hash[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(paper->part));
    char version[24];
    snprintf(version, sizeof version, "%d.%d.%d", HYOID_VERSION_MAJOR, HYOID_VERSION_MINOR, HYOID_VERSION_PATCH);
    json_t *o = json_object();
    int bad = set(o, "hyoid", json_string(version));
    bad |= set(o, "capture", json_string_nocheck(paper->capture));
    bad |= set(o, "form", json_string(hy_timing_form(t)));
    bad |= set(o, "part", json_string(hash));
    bad |= set(o, "part_is_estimate", json_boolean(hy_part_note(paper->part)[0] != '\0'));
    bad |= set(o, "duration_s", seconds(t->duration_ps));
    bad |= set(o, "edges", json_integer((json_int_t)t->edges));
    bad |= set(o, "strobes", json_integer((json_int_t)t->strobes));
    bad |= set(o, "strobes_left_out", json_integer((json_int_t)t->doubts));
    bad |= set(o, "sample_rate_hz", t->sample_ps > 0.0 ? number(1e12 / t->sample_ps) : json_null());
    bad |= set(o, "resolution_s", number(t->resolution_ps * 1e-12));
    bad |= set(o, "skew_s", seconds(t->skew_ps));
    bad |= set(o, "clock", clock_json(t));
    bad |= set(o, "rows", rows_json(t));
    bad |= set(o, "notes", notes_json(t));
    bad |= set(o, "rows_pass", json_integer(t->passed));
    bad |= set(o, "rows_fail", json_integer(t->failed));
    bad |= set(o, "rows_fail_host", json_integer(t->failed_host));
    bad |= set(o, "rows_inconclusive", json_integer(t->inconclusive));
    bad |= set(o, "verdict", json_string(hy_verdict_text(hy_timing_verdict(t))));
    if (bad != 0) {
        json_decref(o);
        return NULL;
    }
    return o;
}

hy_outfile *hy_timing_json(const hy_timing *t, const hy_timing_paper *paper, const char *path, hy_diag *diag)
{
    return hy_json_file(result_json(t, paper), path, 15, diag);
}
