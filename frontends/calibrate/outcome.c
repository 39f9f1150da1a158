#include "outcome.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "acoustics.h"
#include "jsonfile.h"
#include "outfile.h"
#include "partfile_fields.h"
#include "score.h"

hy_outcome_code hy_outcome_of(const hy_outcome *o, unsigned code)
{
    hy_calibration *s = o->session;
    hy_outcome_code of = {.items = s->said[code], .before_db = -1, .after_db = -1};
    if (of.items == 0) {
        return of;
    }
    hyoid_part before = *s->prior;
    for (int c = 0; c < HYOID_PHONEMES; c++) {
        before.phoneme[c].duration = s->part.phoneme[c].duration;
    }
    of.before_db = hy_fit_distance(s->fit, &before, code, 0, NULL);
    of.after_db = hy_fit_distance(s->fit, &s->part, code, 0, NULL);
    for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
        const hy_finding *f = hy_fit_finding(s->fit, code, q);
        if (f->span == 0) {
            continue; /* not searched: a pause, or an amplitude that is 0 */
        }
        of.measured += f->determined;
        of.kept += !f->determined;
        if (!f->determined) {
            size_t n = strlen(of.kept_names);
            snprintf(of.kept_names + n, sizeof of.kept_names - n, "%s%s", n > 0 ? " " : "", hy_quantities[q].name);
        }
    }
    return of;
}

static const char *clock_how(const hy_take *t)
{
    int waits = 0;
    for (size_t i = 0; i < t->items; i++) {
        waits |= t->said[i].waits;
    }
    return t->clock_known == 2     ? "as the capture shows"
           : t->clock_known        ? "as measured by the user"
           : t->clock_by_grid > 0  ? t->clock_hz == t->clock_by_pitch ? "from whole pitch periods, durations agree"
                                                                      : "from durations of whole milliseconds"
           : t->clock_by_pitch > 0 ? "from whole pitch periods"
           : !waits                ? "as the input states: its times are the host's, and the pitch did not tell"
                                   : "only from the mean duration against the prior's: good to a percent or two";
}

typedef struct clipped_text {
    char text[120];
} clipped_text;

/* What became of the phonemes that are clipped. */
static clipped_text clipped_how(const hy_take *t)
{
    clipped_text how = {"no phoneme has more than two of them"};
    if (t->passed_over > 0) {
        snprintf(how.text, sizeof how.text,
                 "%zu of %zu phonemes were passed over; a code without others counts as not said", t->passed_over,
                 t->items);
    } else if (t->clipped > 0) {
        snprintf(how.text, sizeof how.text,
                 "%zu of %zu phonemes, too many to pass over: what is loud comes out wrong", t->clipped, t->items);
    }
    return how;
}

int hy_outcome_print(const hy_outcome *o, hy_diag *diag)
{
    hy_calibration *s = o->session;
    for (size_t i = 0; i < s->take_count; i++) {
        const hy_take *t = &s->takes[i];
        printf("%s: clock %.1f Hz, %s", t->recording->name, t->clock_hz, clock_how(t));
        printf("; %zu phonemes, %zu bursts\n", t->items, t->bursts);
        if (s->noise_heard[i] == 0) {
            printf("  where the noise register stood is not told: noise is compared by its mean\n");
        }
        if (t->note[0] != '\0') {
            printf("  %s\n", t->note);
        }
        if (t->recording->clipped > 0) {
            printf("  CLIPPED: %llu samples in flat tops: record it at a lower level; %s\n",
                   (unsigned long long)t->recording->clipped, clipped_how(t).text);
        }
    }
    if (s->pins != NULL) {
        printf("%s\n", hy_pins_say(s->pins).text);
    }
    unsigned said = 0, measured = 0, kept = 0, durations = 0, moved = 0;
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        hy_outcome_code of = hy_outcome_of(o, c);
        said += of.items > 0;
        measured += of.measured;
        kept += of.kept;
        durations += s->duration_sigma[c] > 0;
        for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
            moved += hy_fit_value(&s->part, c, q) != hy_fit_value(s->prior, c, q);
        }
    }
    printf("codes: %u of 64 were said; %u numbers of theirs measured (%u moved), %u kept because the recordings\n"
           "don't tell them; %u durations measured%s\n",
           said, measured, moved, kept, durations, s->whole_ms ? ", all whole milliseconds" : "");
    printf("pitch periods:");
    for (int l = 0; l < HYOID_LEVELS; l++) {
        printf(" %u%s", s->part.pitch_period[l], s->pitch_found[l] ? "" : " (kept)");
    }
    printf(" filter cycles\n");
    printf("frames differ by %.2f dB before, %.2f dB now (root mean square, %zu phonemes fitted)\n", s->before_db,
           s->after_db, s->fitted);
    if (s->put_back > 0) {
        printf("%u numbers went back to what they were before: what was found for them is not told from chance\n",
               s->put_back);
    }
    if (s->held_after_db >= 0) {
        printf("held out (%zu phonemes that were not fitted): log-spectral distance %.2f dB before, %.2f dB now\n",
               s->held, s->held_before_db, s->held_after_db);
    }
    hy_outcome_warn(o);
    printf("wrote %s; the pin's absolute level is not told by a recording and was kept\n", o->folder);
    return fflush(stdout) == 0 && !ferror(stdout) ? 0 : hy_fail(diag, "standard output: %s", strerror(errno));
}

void hy_outcome_warn(const hy_outcome *o)
{
    const hy_calibration *s = o->session;
    fflush(stdout);
    if (s->prior_stands) {
        fprintf(stderr,
                "WARNING: the fit comes no nearer to phonemes that were held out (%.2f dB before): the sounds of the "
                "part\n"
                "before stand, and only durations%s were taken from the recordings\n",
                s->held_before_db, s->pitch_found[0] || s->pitch_found[1] ? " and pitch" : "");
    } else if (s->doubted[0] != '\0') {
        fprintf(stderr,
                "WARNING: these come no nearer to phonemes that were held out, and were kept as they were: %s\n",
                s->doubted);
    }
    if (s->held == 0) {
        fprintf(stderr, "WARNING: too little was said to hold phonemes out: what the part is worth on other sounds "
                        "is not shown\n");
    }
}

static json_t *takes_json(const hy_calibration *s)
{
    json_t *takes = json_array();
    for (size_t i = 0; i < s->take_count; i++) {
        const hy_take *t = &s->takes[i];
        json_t *take = json_pack(
            "{s:s, s:f, s:s, s:f, s:f, s:f, s:i, s:i, s:i, s:f, s:s, s:I, s:I, s:I}", "recording", t->recording->name,
            "clock_hz", t->clock_hz, "clock_from", clock_how(t), "clock_by_durations_hz", t->clock_by_grid,
            "clock_by_pitch_hz", t->clock_by_pitch, "duration_misfit_ms", t->grid_misfit, "phonemes", (int)t->items,
            "bursts", (int)t->bursts, "noise_heard", (int)s->noise_heard[i], "moments_spread", t->spread, "note",
            t->note, "clipped_samples", (json_int_t)t->recording->clipped, "clipped_phonemes", (json_int_t)t->clipped,
            "passed_over", (json_int_t)t->passed_over);
        json_t *channel = json_array();
        const float *db = hy_fit_channel_db(s->fit, i);
        const unsigned char *deaf = hy_fit_deaf(s->fit, i);
        for (int b = 0; b < HY_TICK_BANDS; b++) {
            json_array_append_new(channel,
                                  json_pack("{s:f, s:f, s:b}", "hz",
                                            hy_tick_band_centre((size_t)b) * t->clock_hz / s->part.filter_clocks,
                                            "db", (double)db[b], "used", !deaf[b]));
        }
        json_object_set_new(take, "channel", channel);
        json_array_append_new(takes, take);
    }
    return takes;
}

static json_t *capture_json(const hy_pins *pins)
{
    if (pins == NULL) {
        return json_null();
    }
    return json_pack("{s:s, s:b, s:o, s:i, s:i, s:i, s:i, s:o}", "capture", pins->path, "measured", pins->measured,
                     "clock_hz", pins->clock_hz > 0 ? json_real(pins->clock_hz) : json_null(), "strobes",
                     (int)pins->strobes, "durations_exact", (int)pins->exact, "durations_narrowed",
                     (int)pins->narrowed, "durations_differing", (int)pins->differing, "request_delay_clocks",
                     hy_pins_delay(pins) >= 0 ? json_integer(hy_pins_delay(pins)) : json_null());
}

static json_t *code_json(const hy_outcome *o, unsigned c)
{
    hy_calibration *s = o->session;
    hy_outcome_code of = hy_outcome_of(o, c);
    hy_formants hz = hy_phoneme_formants(&s->part, c);
    double ms = s->part.nominal_hz / s->part.filter_clocks / 1000;
    json_t *code = json_pack("{s:i, s:s, s:i, s:f, s:f, s:f, s:f, s:f}", "code", (int)c, "symbol",
                             hy_symbols[c].symbol, "items", (int)of.items, "distance_before_db", of.before_db,
                             "distance_db", of.after_db, "f1_hz", hz.f1, "f2_hz", hz.f2, "f3_hz", hz.f3);
    json_object_set_new(code, "duration_ms", json_real(s->part.phoneme[c].duration / ms));
    json_object_set_new(code, "duration_sigma_ms", json_real(s->duration_sigma[c] / ms));
    json_t *numbers = json_object();
    for (unsigned q = 0; q < HY_FIT_QUANTITIES; q++) {
        const hy_finding *f = hy_fit_finding(s->fit, c, q);
        json_object_set_new(numbers, hy_quantities[q].name,
                            json_pack("{s:i, s:i, s:b, s:f, s:f}", "value", (int)hy_fit_value(&s->part, c, q),
                                      "prior", (int)hy_fit_value(s->prior, c, q), "determined", (int)f->determined,
                                      "gain_db2", (double)f->gain, "span_db2", (double)f->span));
    }
    json_object_set_new(code, "numbers", numbers);
    return code;
}

/* The constants that are searched and told by an error, with what they were. */
static json_t *constants_json(const hy_calibration *s)
{
    json_t *all = json_array();
    for (int i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        double error = c->kind == HY_KIND_REAL ? hy_fit_constant_error(s->fit, c->offset) : -1;
        if (error >= 0) {
            const double *now = (const double *)(const void *)((const char *)&s->part + c->offset);
            const double *was = (const double *)(const void *)((const char *)s->prior + c->offset);
            json_array_append_new(all,
                                  json_pack("{s:s, s:f, s:f, s:o}", "name", c->name, "value", *now, "prior", *was,
                                            "relative_error", isfinite(error) ? json_real(error) : json_null()));
        }
    }
    return all;
}

hy_outfile *hy_outcome_json(const hy_outcome *o, const char *path, hy_diag *diag)
{
    hy_calibration *s = o->session;
    json_t *root = json_object(), *codes = json_array(), *pitch = json_array();
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        json_array_append_new(codes, code_json(o, c));
    }
    for (int l = 0; l < HYOID_LEVELS; l++) {
        json_array_append_new(
            pitch, json_pack("{s:i, s:b}", "cycles", (int)s->part.pitch_period[l], "measured", s->pitch_found[l]));
    }
    json_object_set_new(root, "part", json_string(o->folder));
    char hash[20];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(&s->part));
    json_object_set_new(root, "fingerprint", json_string(hash));
    json_object_set_new(root, "takes", takes_json(s));
    json_object_set_new(root, "capture", capture_json(s->pins));
    json_object_set_new(root, "whole_milliseconds", json_boolean(s->whole_ms));
    json_object_set_new(root, "pitch_periods", pitch);
    json_object_set_new(root, "frames_before_db", json_real(s->before_db));
    json_object_set_new(root, "frames_db", json_real(s->after_db));
    json_object_set_new(root, "held_out_before_db", json_real(s->held_before_db));
    json_object_set_new(root, "held_out_db", json_real(s->held_after_db));
    json_object_set_new(root, "held_out_phonemes", json_integer((json_int_t)s->held));
    json_object_set_new(root, "put_back", json_integer((json_int_t)s->put_back));
    json_object_set_new(root, "not_borne_out", json_string(s->doubted));
    json_object_set_new(root, "prior_stands", json_boolean(s->prior_stands));
    json_object_set_new(root, "constants", constants_json(s));
    json_object_set_new(root, "codes", codes);
    return hy_json_file(root, path, 9, diag);
}
