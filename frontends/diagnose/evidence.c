#include "evidence.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "score.h"

const char *hy_fault_name(int fault)
{
    return fault == HY_HEALTHY ? "healthy" : hyoid_fault_describe((hyoid_fault)fault)->name;
}

const char *hy_fault_what(int fault)
{
    return fault == HY_HEALTHY ? "a chip without any of the faults" : hyoid_fault_describe((hyoid_fault)fault)->what;
}

static void say(hy_evidence *e, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void say(hy_evidence *e, const char *format, ...)
{
    if (e->lines < HY_EVIDENCE_LINES) {
        va_list args;
        va_start(args, format);
        vsnprintf(e->line[e->lines++], sizeof e->line[0], format, args);
        va_end(args);
    }
}

/* ---- what is heard, class by class, beside what a healthy chip would have given ---- */

typedef enum kind { VOICED, NOISE, QUIET, KINDS } kind;
static const char *const plural[KINDS] = {"vowels and other voiced sounds", "voiceless noise sounds", "pauses"};

typedef struct view {
    size_t n, weak, loud; /* phonemes; those at least 6 dB below, above what is right */
    double sum_db;        /* of their differences */
    double pitch[HYOID_LEVELS], pitch_right[HYOID_LEVELS];
    size_t pitches[HYOID_LEVELS];
} view;

/* Energy of a segment in the bands that count, per band; `energy` may be null. */
static double loudness(const hy_reference *r, const hy_segment *s, const unsigned char *usable)
{
    double sum = 0.0;
    int bands = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        bands += usable[b];
        for (uint32_t k = 0; usable[b] && k < s->slices; k++) {
            sum += (double)r->energy[(size_t)(s->first + k) * HY_BANDS + (size_t)b] / s->slices;
        }
    }
    return bands > 0 ? sum / bands : 0.0;
}

static double heard_loudness(const hy_heard *heard, double from, double to, const unsigned char *usable)
{
    float energy[HY_BANDS];
    double sum = 0.0;
    int bands = 0;
    if (!hy_heard_energy(heard, from, to, energy)) {
        return NAN;
    }
    for (int b = 0; b < HY_BANDS; b++) {
        sum += usable[b] ? (double)energy[b] : 0.0;
        bands += usable[b];
    }
    return bands > 0 ? sum / bands : NAN;
}

static double floor_of(const hy_heard *heard, const unsigned char *usable)
{
    double sum = 0.0;
    int bands = 0;
    for (int b = 0; b < HY_BANDS; b++) {
        sum += usable[b] ? (double)heard->noise[b] : 0.0;
        bands += usable[b];
    }
    return bands > 0 ? sum / bands : 0.0;
}

/* Looks where the candidate says that phonemes are; what is right is what the healthy chip gives for the same write. */
static void look(view views[KINDS], const hy_diagnosis *d, const hy_candidate *c, const hy_heard *heard)
{
    const hy_candidate *healthy = &d->candidate[d->healthy];
    const hy_reference *right = healthy->reference;
    const double gain = pow(10.0, c->fit.gain_db / 10.0), floor = floor_of(heard, d->usable);
    memset(views, 0, KINDS * sizeof *views);
    for (size_t i = 0; i < right->segments && i < c->reference->segments; i++) {
        const hy_segment *s = &right->segment[i], *at = &c->reference->segment[i];
        double from = hy_fit_time(&c->fit, at), to = hy_fit_time(&c->fit, at + 1);
        double found = heard_loudness(heard, from + 0.004, to - 0.004, d->usable);
        if (to - from < 0.03 || isnan(found) || s->slices == 0) {
            continue;
        }
        double expected = gain * loudness(right, s, d->usable) + floor;
        double db = 10.0 * log10(fmax(found, floor) / expected);
        view *v = &views[s->voiced ? VOICED : s->noisy ? NOISE : QUIET];
        v->n++;
        v->weak += db < -6.0;
        v->loud += db > 6.0;
        v->sum_db += db;
        double hz = s->f0 > 0.0f ? hy_fit_pitch(heard, from + 0.6 * (to - from)) : 0.0;
        if (hz > 0.0) {
            v->pitch[s->level] += hz;
            v->pitch_right[s->level] += (double)s->f0 * c->fit.clock;
            v->pitches[s->level]++;
        }
    }
}

static void say_level(hy_evidence *e, const view *v, kind k, const char *what, const char *where)
{
    if (v[k].n > 0) {
        double db = v[k].sum_db / (double)v[k].n;
        const char *word = db < -20.0 ? "are missing or nearly so" : db < 0.0 ? "are too weak" : "are too loud";
        say(e, "%s %s (%+.0f dB on average; %zu of %zu by more than 6 dB)%s%s", plural[k], word, db,
            db < 0.0 ? v[k].weak : v[k].loud, v[k].n, what, where);
    }
}

static void say_other_level(hy_evidence *e, const view *v, kind k)
{
    if (v[k].n > 0) {
        double db = v[k].sum_db / (double)v[k].n;
        say(e, "%s %s (%+.1f dB on average)", plural[k], fabs(db) < 4.0 ? "are as they should be" : "differ too", db);
    }
}

/* ---- faults of one kind each ---- */

/* How often what is heard is more like the code that the chip took than the one that was written. */
static void code_pin(hy_evidence *e, const hy_diagnosis *d, const hy_candidate *c, const hy_heard *heard, int pin,
                     int high)
{
    const hy_candidate *healthy = &d->candidate[d->healthy];
    size_t n = 0, won = 0;
    unsigned example = HYOID_PHONEMES, as = 0;
    for (size_t i = 0; i < c->reference->segments && i < healthy->reference->segments; i++) {
        const hy_segment *took = &c->reference->segment[i], *written = &healthy->reference->segment[i];
        if (took->code == written->code || took->slices == 0 || written->slices == 0) {
            continue;
        }
        double from = hy_fit_time(&c->fit, took), to = hy_fit_time(&c->fit, took + 1);
        float energy[HY_BANDS];
        if (!hy_heard_energy(heard, from, to, energy)) {
            continue;
        }
        double apart[2] = {0, 0};
        const double gain = pow(10.0, c->fit.gain_db / 10.0);
        for (int b = 0; b < HY_BANDS; b++) {
            unsigned char one[HY_BANDS] = {0};
            one[b] = d->usable[b];
            double floor = (double)heard->noise[b] + 1e-6 * heard->loud, x = 10.0 * log10((double)energy[b] + floor);
            apart[0] += !one[b] ? 0 : fabs(x - 10.0 * log10(gain * loudness(c->reference, took, one) + floor));
            apart[1] +=
                !one[b] ? 0 : fabs(x - 10.0 * log10(gain * loudness(healthy->reference, written, one) + floor));
        }
        n++;
        if (apart[0] < apart[1]) {
            won++;
            if (example == HYOID_PHONEMES) {
                example = written->code;
                as = took->code;
            }
        }
    }
    say(e,
        "of %zu phonemes written with P%d = %d, %zu sound like the code with P%d = %d: input, its wire or its driver",
        n, pin, !high, won, pin, high);
    if (example < HYOID_PHONEMES) {
        say(e, "so 0x%02x (%s) is heard as 0x%02x (%s)", example, hy_symbols[example].symbol, as,
            hy_symbols[as].symbol);
    }
}

static void inflection(hy_evidence *e, const view *v)
{
    for (int level = 0; level < HYOID_LEVELS; level++) {
        size_t n = v[VOICED].pitches[level];
        double ratio = n > 0 ? v[VOICED].pitch[level] / v[VOICED].pitch_right[level] : 1.0;
        if (n > 0 && fabs(ratio - 1.0) > 0.03) {
            say(e, "at level %d the pitch is %.0f Hz on average instead of %.0f Hz (%zu places)", level,
                v[VOICED].pitch[level] / (double)n, v[VOICED].pitch_right[level] / (double)n, n);
        }
    }
    say(e, "phonemes and their durations are right: the inflection inputs, not the clock");
}

static double chip_seconds(const hy_reference *r)
{
    return r->segments > 0 ? r->segment[r->segments].chip_s + r->segment[r->segments].host_s : 0.0;
}

static void tempo(hy_evidence *e, const hy_diagnosis *d, const hy_candidate *c, const char *pitch)
{
    const hy_reference *healthy = d->candidate[d->healthy].reference;
    size_t same = c->reference->segments < healthy->segments ? c->reference->segments : healthy->segments;
    double ours = 0.0, right = 0.0;
    if (same > 0) {
        ours = c->reference->segment[same].host_s + c->reference->segment[same].chip_s;
        right = healthy->segment[same].host_s + healthy->segment[same].chip_s;
    }
    say(e, "the first %zu phonemes take %.1f s instead of %.1f s; %s", same, ours, right, pitch);
    say(e, "in all, what was asked takes %.1f s of which a recording of %.1f s was compared",
        chip_seconds(c->reference), c->reference->seconds);
}

static void specific(hy_evidence *e, const hy_diagnosis *d, const hy_candidate *c, const hy_heard *heard)
{
    view v[KINDS];
    const int fault = c->reference->is.fault;
    const double strength = c->reference->is.strength;
    look(v, d, c, heard);
    if (fault >= HYOID_FAULT_P0_LOW && fault <= HYOID_FAULT_P5_HIGH) {
        int high = fault >= HYOID_FAULT_P0_HIGH;
        code_pin(e, d, c, heard, fault - (high ? HYOID_FAULT_P0_HIGH : HYOID_FAULT_P0_LOW), high);
        return;
    }
    switch (fault) {
    case HY_HEALTHY:
        say_other_level(e, v, VOICED);
        say_other_level(e, v, NOISE);
        break;
    case HYOID_FAULT_I0_LOW:
    case HYOID_FAULT_I1_LOW:
    case HYOID_FAULT_I0_HIGH:
    case HYOID_FAULT_I1_HIGH:
        inflection(e, v);
        break;
    case HYOID_FAULT_STROBE_DEAD:
    case HYOID_FAULT_GATE_CLOSED:
    case HYOID_FAULT_AMPLITUDES_FROZEN:
        say(e,
            "nothing is heard above the floor where %zu phonemes should sound (the loudest tenth is %.0f dB above "
            "it)",
            d->candidate[d->healthy].reference->segments, fmax(heard->snr_db, 0.0));
        say(e, c->reference->is.fault == HYOID_FAULT_STROBE_DEAD
                   ? "at the pins: request never falls, whatever is strobed"
                   : "at the pins: request falls at each strobe and rises again");
        break;
    case HYOID_FAULT_REQUEST_LOW:
        tempo(e, d, c, "the host waited to the end of its patience each time: it never saw request");
        break;
    case HYOID_FAULT_REQUEST_HIGH:
        tempo(e, d, c, "the host did not wait: it saw request at once");
        break;
    case HYOID_FAULT_DIVIDER_SLOW:
        tempo(e, d, c, "pitch and formants are halved with the tempo, as by half the clock");
        break;
    case HYOID_FAULT_TIMER_SLOW:
    case HYOID_FAULT_TIMER_FAST:
        tempo(e, d, c, "pitch and formants are right: the phoneme timer, not the clock");
        break;
    case HYOID_FAULT_NO_VOICE:
    case HYOID_FAULT_F1_DEAD:
        say_level(e, v, VOICED, ": ", "voice source, its amplitude path, or the first section");
        say_other_level(e, v, NOISE);
        break;
    case HYOID_FAULT_NO_NOISE:
    case HYOID_FAULT_NOISE_STUCK:
        say_level(e, v, NOISE, ": ", "noise source or its amplitude path");
        say_other_level(e, v, VOICED);
        break;
    case HYOID_FAULT_F2_DEAD:
    case HYOID_FAULT_F3_DEAD:
    case HYOID_FAULT_F4_DEAD:
        say_level(e, v, VOICED, ": ", "a section of the tract gives nothing on");
        say_level(e, v, NOISE, "; ", "what noise is left joins behind that section");
        break;
    case HYOID_FAULT_F1_DETUNED:
    case HYOID_FAULT_F2_DETUNED:
    case HYOID_FAULT_F3_DETUNED:
        say(e, "formant F%d stands about %.0f %% too high in every phoneme, the others are right",
            fault - HYOID_FAULT_F1_DETUNED + 1, 40.0 * strength);
        say_other_level(e, v, VOICED);
        break;
    case HYOID_FAULT_FORMANTS_FROZEN:
        say(e, "the spectrum does not move from phoneme to phoneme, only loudness does");
        break;
    case HYOID_FAULT_LEAKY:
        say(e,
            "formants are blunt and weak in all phonemes, as if integrators lost %.1f %% of their charge each filter "
            "cycle",
            5.0 * strength);
        say_other_level(e, v, VOICED);
        break;
    case HYOID_FAULT_GATE_OPEN:
        say(e, "voice goes on through the closures of stops");
        break;
    case HYOID_FAULT_HUM:
        say(e,
            "a tone at the clock / %d (%.1f Hz here) lies under all, also in pauses; it follows the clock, mains "
            "hum does not",
            HYOID_FAULT_HUM_CLOCKS, c->reference->clock_hz * c->fit.clock / HYOID_FAULT_HUM_CLOCKS);
        say_level(e, v, QUIET, "", "");
        break;
    case HYOID_FAULT_OFFSET:
        say(e, "the recording's mean is off by %.1f %% of full scale", 100.0 * heard->dc);
        break;
    case HYOID_FAULT_CLIPPED:
        say(e, "loud sounds are cut at about %.2f of full scale: harmonics fill the gaps between formants",
            1.0 - 0.9 * strength);
        break;
    case HYOID_FAULT_WEAK:
        say(e, "all sounds are weaker by the same amount, about %.0f dB", -20.0 * log10(1.001 - strength));
        break;
    default:
        break;
    }
}

void hy_evidence_find(hy_evidence *e, const hy_diagnosis *d, const hy_candidate *c, const hy_heard *heard)
{
    const hy_fit *healthy = &d->candidate[d->healthy].fit;
    e->lines = 0;
    if (c->probability >= HY_SHARE_LEAST) {
        specific(e, d, c, heard);
    }
    if (c->reference->is.fault == HY_HEALTHY) {
        say(e, "mean difference of levels from the model: %.2f dB; of pitch %.2f semitones (%zu places)",
            c->fit.spectrum_db, c->fit.pitch, c->fit.pitches);
    } else {
        say(e, "mean difference of levels %.2f dB (a healthy chip: %.2f dB), of pitch %.2f semitones (healthy: %.2f)",
            c->fit.spectrum_db, healthy->spectrum_db, c->fit.pitch, healthy->pitch);
    }
}
