#include "show.h"

#include <math.h>
#include <string.h>

#include "centre.h"
#include "jsonfile.h"
#include "partfile_fields.h"

static int graded(int fault)
{
    return fault != HY_HEALTHY && hyoid_fault_describe((hyoid_fault)fault)->graded;
}

/* Adds the names of the others of a group. */
static void add_group(char *text, size_t room, const hy_case *c, int group, const char *ahead)
{
    const hy_diagnosis *d = c->diagnosis;
    int any = 0;
    for (size_t i = 0; i < d->candidates; i++) {
        if (d->candidate[i].group == group && (int)i != group) {
            size_t used = strlen(text);
            const hy_supposition is = d->candidate[i].reference->is;
            if (is.fault == HYOID_FAULT_WEAK && !c->gain_known) { /* the strength tried best says nothing */
                snprintf(text + used, room - used, "%s%s (at any strength, without --gain)", any ? ", " : ahead,
                         hy_fault_name(is.fault));
            } else {
                snprintf(text + used, room - used, graded(is.fault) ? "%s%s %.2f" : "%s%s", any ? ", " : ahead,
                         hy_fault_name(is.fault), is.strength);
            }
            any = 1;
        }
    }
}

/* ---- what is said, whatever the form ---- */

#define LIKENESS_LEAST 0.45 /* another text has less, two wrong code inputs may have */
#define CLOCK_OFF 0.02      /* an oscillator of parts of 1 % is nearer */
#define SNR_LEAST_DB 10.0   /* less is no sound that could follow anything */

int hy_case_follows(const hy_case *c)
{
    return c->diagnosis->finding != HY_NOT_EXPLAINED || c->diagnosis->likeness >= LIKENESS_LEAST ||
           c->heard->snr_db < SNR_LEAST_DB;
}

int hy_case_placed(const hy_case *c)
{
    return c->diagnosis->finding != HY_NOT_EXPLAINED && c->diagnosis->candidate[0].reference->loud > 0.0;
}

/* Adds by how much the clock is off, if it is. */
static void add_clock(char *text, size_t room, const hy_case *c, const char *ahead, const char *behind)
{
    const double off = hy_candidate_clock(&c->diagnosis->candidate[0]) - 1.0;
    const size_t used = strlen(text);
    if (hy_case_placed(c) && fabs(off) > CLOCK_OFF) {
        snprintf(text + used, room - used, "%s %.3g %% %s the stated one%s", ahead, 100.0 * fabs(off),
                 off > 0.0 ? "above" : "below", behind);
    }
}

/* Whether the diagnosis is that the chip says nothing. */
static int is_mute(const hy_case *c)
{
    return c->diagnosis->finding == HY_IS_FAULTY && !(c->diagnosis->candidate[0].reference->loud > 0.0);
}

hy_verdict_line hy_case_verdict(const hy_case *c)
{
    const hy_diagnosis *d = c->diagnosis;
    const hy_candidate *best = &d->candidate[0];
    const hy_supposition is = best->reference->is;
    hy_verdict_line line = {""};
    char *text = line.text;
    if (!hy_case_follows(c)) {
        snprintf(text, sizeof line.text,
                 "the recording does not follow the input at any clock from %.9g to %.9g of the stated one (likeness "
                 "%.2f; a chip with one fault has 0.7 or more): is it what was played?",
                 HY_CENTRE_LOW, HY_CENTRE_HIGH, d->likeness);
    } else if (d->finding == HY_NOT_EXPLAINED) {
        snprintf(text, sizeof line.text,
                 "neither a healthy chip nor any of the %d faults sounds like this; the nearest is %s, %.1f dB away "
                 "on average",
                 HYOID_FAULTS, hy_fault_name(is.fault), best->fit.spectrum_db);
    } else if (d->finding == HY_IS_HEALTHY) {
        snprintf(text, sizeof line.text, "sounds like a chip without any of the %d faults", HYOID_FAULTS);
        add_clock(text, sizeof line.text, c, ", but its clock is", ": oscillator, divider or --clock");
    } else if (is_mute(c)) {
        snprintf(text, sizeof line.text, "nothing sounds; to the ear alone these are the same: %s",
                 hy_fault_name(is.fault));
        add_group(text, sizeof line.text, c, 0, ", ");
        const size_t used = strlen(text);
        snprintf(text + used, sizeof line.text - used, ", and a recorder that is not connected");
    } else {
        snprintf(text, sizeof line.text, "%s: %s", hy_fault_name(is.fault), hy_fault_what(is.fault));
        size_t used = strlen(text);
        if (graded(is.fault)) {
            snprintf(text + used, sizeof line.text - used, " (about %.2f)", is.strength);
        }
        add_group(text, sizeof line.text, c, 0, "; sounds the same as ");
        add_clock(text, sizeof line.text, c, "; its clock is", "");
    }
    return line;
}

hy_verdict_line hy_case_next(const hy_case *c)
{
    hy_verdict_line line = {""};
    if (is_mute(c)) {
        snprintf(
            line.text, sizeof line.text,
            "Measure next: supply and clock at the chip's own pins, then strobe and request (hyoid timing): a chip "
            "that sees no strobe never lets request fall, the others answer. Voltages in a cabinet can kill: "
            "cautions in hyoid-diagnose(1)");
    }
    return line;
}

static const char no_sight[] = "This input and recording can't show: ";

/* The fault's tone where mains hum stands too: what was taken out could have been either. 0: it is told. */
static double hidden_hum_hz(const hy_case *c)
{
    const hy_candidate *best = &c->diagnosis->candidate[0];
    const double hz = best->reference->clock_hz * best->fit.clock / HYOID_FAULT_HUM_CLOCKS;
    const hy_tone tone = hy_heard_tone(c->heard, hz);
    const int there = c->heard->hum.nominal_hz > 0.0 || tone.level_db > tone.beside_db + 10.0;
    return best->reference->is.fault != HYOID_FAULT_HUM && tone.doubtful && there ? hz : 0.0;
}

hy_verdict_line hy_case_limits(const hy_case *c)
{
    const hy_diagnosis *d = c->diagnosis;
    hy_verdict_line line = {""};
    if (d->finding == HY_NOT_EXPLAINED) {
        return line;
    }
    add_group(line.text, sizeof line.text, c, d->candidate[d->healthy].group, no_sight);
    if ((int)d->healthy != d->candidate[d->healthy].group) {
        size_t used = strlen(line.text);
        snprintf(line.text + used, sizeof line.text - used, "%s%s", used > 0 ? ", " : no_sight,
                 hy_fault_name(d->candidate[d->candidate[d->healthy].group].reference->is.fault));
    }
    const double hum = hidden_hum_hz(c);
    if (hum > 0.0) {
        size_t used = strlen(line.text);
        snprintf(line.text + used, sizeof line.text - used, "%s%s (at %.1f Hz, the clock / %d, mains hum may stand)",
                 used > 0 ? ", " : no_sight, hy_fault_name(HYOID_FAULT_HUM), hum, HYOID_FAULT_HUM_CLOCKS);
    }
    return line;
}

size_t hy_case_shown(const hy_case *c, size_t most)
{
    const hy_diagnosis *d = c->diagnosis;
    size_t n = 0;
    const size_t least = d->finding == HY_NOT_EXPLAINED ? 3 : 2;
    while (n < d->candidates && n < most && (n < least || d->candidate[n].probability >= HY_SHARE_LEAST)) {
        n++;
    }
    return n;
}

static const char *finding_word(hy_finding finding)
{
    return finding == HY_IS_HEALTHY ? "healthy" : finding == HY_IS_FAULTY ? "faulty" : "not explained";
}

static hy_verdict_line name_of(const hy_candidate *k)
{
    hy_verdict_line name = {""};
    snprintf(name.text, sizeof name.text, graded(k->reference->is.fault) ? "%s %.2f" : "%s",
             hy_fault_name(k->reference->is.fault), k->reference->is.strength);
    return name;
}

static void text_ranking(const hy_case *c, FILE *out)
{
    const hy_diagnosis *d = c->diagnosis;
    const int explained = d->finding != HY_NOT_EXPLAINED;
    fprintf(out, "\n%s\n\n",
            explained ? "Most likely first, each with what speaks for it:"
                      : "Nearest by the mean difference of levels, none near enough:");
    for (size_t i = 0; i < hy_case_shown(c, 8); i++) {
        const hy_candidate *k = &d->candidate[i];
        if (!explained) {
            fprintf(out, "  %4.1f dB  %s\n", k->fit.spectrum_db, name_of(k).text);
            continue;
        }
        hy_evidence evidence;
        hy_evidence_find(&evidence, d, k, c->heard);
        fprintf(out, "  %3.0f %%  %s\n", 100.0 * k->probability, name_of(k).text);
        for (size_t e = 0; e < evidence.lines; e++) {
            fprintf(out, "         %s\n", evidence.line[e]);
        }
    }
    fprintf(out, "\n");
}

hy_verdict_line hy_case_clock(const hy_case *c)
{
    const hy_candidate *best = &c->diagnosis->candidate[0];
    hy_verdict_line line = {""};
    if (!hy_case_placed(c)) {
        snprintf(line.text, sizeof line.text, "not known, as nothing %s; stated: %.6g kHz",
                 best->reference->loud > 0.0 ? "fits" : "sounds", c->stated_hz / 1000.0);
    } else {
        snprintf(line.text, sizeof line.text, "%.2f kHz, %.4f of the stated %.6g kHz",
                 c->stated_hz * hy_candidate_clock(best) / 1000.0, hy_candidate_clock(best), c->stated_hz / 1000.0);
    }
    return line;
}

void hy_case_text(const hy_case *c, FILE *out)
{
    const hy_diagnosis *d = c->diagnosis;
    const hy_fit *fit = &d->candidate[0].fit;
    fprintf(out, "%s: %s\n", finding_word(d->finding), hy_case_verdict(c).text);
    text_ranking(c, out);
    const hy_verdict_line limits = hy_case_limits(c);
    if (limits.text[0] != '\0') {
        fprintf(out, "%s.\n", limits.text);
    }
    const hy_verdict_line next = hy_case_next(c);
    if (next.text[0] != '\0') {
        fprintf(out, "%s.\n", next.text);
    }
    fprintf(out, "Recording: %.1f s, sounds %.0f dB above its floor, %.0f to %.0f Hz judged", c->heard->seconds,
            fmax(c->heard->snr_db, 0.0), d->low_hz, d->high_hz);
    if (c->heard->hum.nominal_hz > 0.0) {
        fprintf(out, ", mains hum of %.2f Hz taken out", c->heard->hum.mains_hz);
    }
    fprintf(out, ".\nClock: %s.\n", hy_case_clock(c).text);
    if (hy_case_placed(c)) {
        fprintf(out, "Start at %.3f s, level %+.1f dB against the model%s.\n", fit->delay, fit->gain_db,
                c->gain_known ? "" : " (not calibrated)");
    }
    const char *note = hy_part_note(c->part);
    if (note[0] != '\0') {
        fprintf(out, "%s\n", note);
    }
}

static json_t *json_candidate(const hy_case *c, size_t rank)
{
    const hy_candidate *k = &c->diagnosis->candidate[rank];
    hy_evidence evidence;
    json_t *lines = json_array();
    hy_evidence_find(&evidence, c->diagnosis, k, c->heard);
    for (size_t e = 0; e < evidence.lines; e++) {
        json_array_append_new(lines, json_string(evidence.line[e]));
    }
    return json_pack("{s:s, s:s, s:o, s:f, s:f, s:f, s:f, s:i, s:o}", "fault", hy_fault_name(k->reference->is.fault),
                     "what", hy_fault_what(k->reference->is.fault), "strength",
                     graded(k->reference->is.fault) ? json_real(k->reference->is.strength) : json_null(),
                     "probability", k->probability, "log_likelihood", k->support, "level_difference_db",
                     k->fit.spectrum_db, "pitch_difference_semitones", k->fit.pitch, "group", k->group, "evidence",
                     lines);
}

/* What was not found is null. */
static json_t *json_fit(const hy_case *c)
{
    const hy_diagnosis *d = c->diagnosis;
    const hy_candidate *best = &d->candidate[0];
    const int explained = hy_case_placed(c);
    const double ratio = hy_candidate_clock(best);
    return json_pack(
        "{s:o, s:o, s:o, s:o, s:b, s:f}", "clock_hz", explained ? json_real(c->stated_hz * ratio) : json_null(),
        "clock_ratio", explained ? json_real(ratio) : json_null(), "delay_s",
        explained ? json_real(best->fit.delay) : json_null(), "gain_db",
        explained ? json_real(best->fit.gain_db) : json_null(), "gain_known", c->gain_known, "likeness", d->likeness);
}

int hy_case_json(const hy_case *c, FILE *out, hy_diag *diag)
{
    const hy_diagnosis *d = c->diagnosis;
    json_t *candidates = json_array();
    for (size_t i = 0; i < d->candidates; i++) {
        json_array_append_new(candidates, json_candidate(c, i));
    }
    char hash[24];
    uint32_t v = hyoid_version();
    char version[24];
    snprintf(hash, sizeof hash, "%016llx", (unsigned long long)hyoid_part_hash(c->part));
    snprintf(version, sizeof version, "%u.%u.%u", (unsigned)(v / 10000), (unsigned)(v / 100 % 100),
             (unsigned)(v % 100));
    json_t *root =
        json_pack("{s:s, s:s, s:s, s:s, s:s, s:{s:s, s:s, s:b}, s:{s:f, s:f, s:f, s:f, s:f, s:f}, s:o, s:o}",
                  "verdict", finding_word(d->finding), "summary", hy_case_verdict(c).text, "cannot_show",
                  hy_case_limits(c).text, "measure_next", hy_case_next(c).text, "version", version, "part", "name",
                  c->part_name != NULL ? c->part_name : "built-in", "fingerprint", hash, "estimate",
                  hy_part_note(c->part)[0] != '\0', "recording", "seconds", c->heard->seconds, "snr_db",
                  c->heard->snr_db, "low_hz", d->low_hz, "high_hz", d->high_hz, "mains_hum_hz",
                  c->heard->hum.nominal_hz > 0.0 ? c->heard->hum.mains_hz : 0.0, "dc", c->heard->dc, "fit",
                  json_fit(c), "candidates", candidates);
    return hy_json_write(root, out, 8, diag);
}
