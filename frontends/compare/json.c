/* The result as JSON; keys are in docs/compare.md and stay. */
#include <math.h>
#include <stdio.h>

#include "compare.h"
#include "jsonfile.h"
#include "outfile.h"
#include "partfile_fields.h"
#include "score.h"

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static int set(json_t *object, const char *key, json_t *value)
{
    return json_object_set_new(object, key, value);
}

/* The object, or null if something could not be put into it. */
static json_t *whole(json_t *object, int bad)
{
    if (bad != 0) {
        json_decref(object);
        return NULL;
    }
    return object;
}

static json_t *verdict_json(const hy_judged *row)
{
    return row->judged ? json_string(hy_verdict_text(row->verdict)) : json_null();
}

static json_t *estimate_json(const hy_estimate *e)
{
    json_t *o = json_object();
    int known = isfinite(e->uncertainty);
    int bad = set(o, "ratio", known ? number(e->value) : json_null());
    bad |= set(o, "uncertainty", known ? number(e->uncertainty) : json_null());
    bad |= set(o, "n", json_integer((json_int_t)e->count));
    return whole(o, bad);
}

static json_t *clock_json(const hy_comparison *c)
{
    const hy_alignment *a = &c->alignment;
    json_t *o = json_object();
    int bad = set(o, "hz", number(c->stated_hz * a->scale));
    bad |= set(o, "stated_hz", number(c->stated_hz));
    bad |= set(o, "ratio", number(a->scale));
    bad |= set(o, "off_percent", number(c->clock_off));
    bad |= set(o, "uncertainty_percent", number(c->clock_doubt));
    bad |= set(o, "limit_percent", number(c->clock.limit.value));
    bad |= set(o, "verdict", verdict_json(&c->clock));
    bad |= set(o, "tempo", estimate_json(&a->tempo));
    bad |= set(o, "pitch", estimate_json(&a->pitch));
    bad |= set(o, "recorder", estimate_json(&a->recorder));
    bad |= set(o, "tempo_pitch_percent", number(c->tempo_pitch_off));
    bad |= set(o, "tempo_pitch_uncertainty_percent", number(c->tempo_pitch_doubt));
    bad |= set(o, "tempo_pitch_limit_percent", number(c->tempo_pitch.limit.value));
    bad |= set(o, "tempo_pitch_verdict", verdict_json(&c->tempo_pitch));
    bad |= set(o, "wow_percent", number(100 * a->wow_peak));
    bad |= set(o, "wow_hz", number(a->wow_hz));
    return whole(o, bad);
}

static json_t *recording_json(const hy_comparison *c)
{
    const hy_recording *r = c->recording;
    const hy_alignment *a = &c->alignment;
    json_t *lines = json_array();
    int bad = lines == NULL;
    for (int k = 0; !bad && k < HY_HUM_LINES; k++) {
        bad |= json_array_append_new(lines, number(a->hum.line_db[k]));
    }
    json_t *o = json_object();
    bad |= set(o, "file", json_string_nocheck(c->recording_name));
    bad |= set(o, "rate_hz", number(r->rate));
    bad |= set(o, "channels", json_integer(r->channels));
    bad |= set(o, "channel", json_integer(r->channel));
    bad |= set(o, "duration_s", number(r->seconds));
    bad |= set(o, "dc", number(r->dc));
    bad |= set(o, "peak", number(r->peak));
    bad |= set(o, "clipped_samples", json_integer((json_int_t)r->clipped));
    bad |= set(o, "delay_s", number(a->delay));
    bad |= set(o, "delay_uncertainty_s", number(a->delay_uncertainty));
    bad |= set(o, "gain_db", number(a->gain_db));
    bad |= set(o, "polarity", json_integer(a->polarity));
    bad |= set(o, "speech_dbfs", number(a->speech_db));
    bad |= set(o, "snr_db", number(a->snr_db));
    bad |= set(o, "band_low_hz", number(a->low_hz));
    bad |= set(o, "band_high_hz", number(a->high_hz));
    bad |= set(o, "hum_hz", a->hum.nominal_hz > 0 ? number(a->hum.mains_hz) : json_null());
    bad |= set(o, "hum_dbfs", number(a->hum.level_db));
    bad |= set(o, "hum_lines_dbfs", lines);
    bad |= set(o, "likeness", number(a->likeness));
    return whole(o, bad);
}

static json_t *figure_json(const hy_figure *f, const hy_judged *row)
{
    json_t *o = json_object();
    int known = f->known == HY_KNOWN;
    int bad = set(o, "value", known ? number(f->value) : json_null());
    bad |= set(o, "uncertainty", known ? number(f->uncertainty) : json_null());
    bad |= set(o, "model", known ? number(f->model) : json_null());
    bad |= set(o, "recording", known ? number(f->recording) : json_null());
    bad |= set(o, "usual", known ? number(f->usual) : json_null());
    bad |= set(o, "n", json_integer((json_int_t)f->count));
    bad |= set(o, "limit", number(row->limit.value));
    bad |= set(o, "verdict", verdict_json(row));
    bad |= set(o, "why", known ? json_null() : json_string(hy_known_why(f->known)));
    return whole(o, bad);
}

static json_t *code_json(const hy_judged_code *code)
{
    const hy_code_figures *f = code->figures;
    json_t *o = json_object();
    int bad = set(o, "code", json_integer((json_int_t)f->code));
    bad |= set(o, "symbol", json_string(hy_symbols[f->code].symbol));
    bad |= set(o, "n", json_integer((json_int_t)f->count));
    bad |= set(o, "n_recorded", json_integer((json_int_t)f->inside));
    bad |= set(o, "verdict", json_string(hy_verdict_text(code->verdict)));
    bad |= set(o, "why", code->why[0] != '\0' ? json_string(code->why) : json_null());
    for (int q = 0; q < HY_MEASURES; q++) {
        bad |= set(o, hy_measure_name((hy_measure)q), figure_json(&f->figure[q], &code->row[q]));
    }
    return whole(o, bad);
}

static json_t *segment_json(const hy_comparison *c, size_t i)
{
    const hy_spoken *s = &c->alignment.model->spoken[i];
    const hy_edge *from = &c->alignment.edge[i], *to = from + 1;
    const double lead = HY_MODEL_LEAD_MS * 1e-3;
    json_t *o = json_object();
    int bad = set(o, "code", json_integer(s->code));
    bad |= set(o, "symbol", json_string(hy_symbols[s->code].symbol));
    bad |= set(o, "model_from_s", number(s->from - lead));
    bad |= set(o, "model_to_s", number(s->to - lead));
    bad |= set(o, "from_s", number(from->recording));
    bad |= set(o, "to_s", number(to->recording));
    bad |= set(o, "from_uncertainty_s", number(from->uncertainty));
    bad |= set(o, "to_uncertainty_s", number(to->uncertainty));
    return whole(o, bad);
}

static json_t *result_json(const hy_comparison *c)
{
    char hash[24], version[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(c->part));
    snprintf(version, sizeof version, "%d.%d.%d", HYOID_VERSION_MAJOR, HYOID_VERSION_MINOR, HYOID_VERSION_PATCH);
    json_t *codes = json_array(), *segments = json_array();
    int bad = codes == NULL || segments == NULL;
    for (size_t i = 0; !bad && i < c->figures.count; i++) {
        bad |= json_array_append_new(codes, code_json(&c->code[i]));
    }
    for (size_t i = 0; !bad && i < c->alignment.model->spoken_count; i++) {
        bad |= json_array_append_new(segments, segment_json(c, i));
    }
    json_t *o = json_object();
    bad |= set(o, "hyoid", json_string(version));
    bad |= set(o, "input", json_string_nocheck(c->input_name));
    bad |= set(o, "part", json_string(hash));
    bad |= set(o, "part_is_estimate", json_boolean(hy_part_note(c->part)[0] != '\0'));
    bad |= set(o, "microphone", json_boolean(c->colour));
    bad |= set(o, "recording", recording_json(c));
    bad |= set(o, "clock", clock_json(c));
    bad |= set(o, "phonemes", codes);
    bad |= set(o, "segments", segments);
    bad |= set(o, "phonemes_pass", json_integer(c->passed));
    bad |= set(o, "phonemes_fail", json_integer(c->failed));
    bad |= set(o, "phonemes_inconclusive", json_integer(c->open));
    bad |= set(o, "verdict", json_string(hy_verdict_text(c->verdict)));
    return whole(o, bad);
}

hy_outfile *hy_compare_json(const hy_comparison *c, const char *path, hy_diag *diag)
{
    return hy_json_file(result_json(c), path, 9, diag);
}
