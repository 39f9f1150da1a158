#include "report.h"

#include <inttypes.h>

const char *hy_field_name(hy_field field)
{
    static const char *const names[] = {"request", "phoneme", "slot", "level", "audio"};
    return field < HY_FIELDS ? names[field] : "inputs";
}

static const char *clocks(uint64_t count)
{
    return count == 1 ? "clock" : "clocks";
}

typedef struct shown {
    char text[24];
} shown;

static shown show(hy_field field, uint64_t word)
{
    shown s;
    if (word & HY_UNKNOWN(field)) {
        snprintf(s.text, sizeof s.text, "x");
    } else if (field == HY_PHONEME_CODE) {
        snprintf(s.text, sizeof s.text, "0x%02" PRIx32, (uint32_t)hy_word_field(word, field));
    } else {
        snprintf(s.text, sizeof s.text, "%" PRId32, hy_word_field(word, field));
    }
    return s;
}

/* ---- why ---- */

/* How much earlier or later than `right` something happened in `actual`, in clocks and, if it is whole, in filter cycles. */
static void print_apart(const hy_pair *pair, uint64_t actual, uint64_t right, FILE *out)
{
    const uint64_t apart = actual > right ? actual - right : right - actual;
    const uint64_t filter = pair->part.filter_clocks;
    fprintf(out, "%" PRIu64 " %s", apart, clocks(apart));
    if (apart > 0 && apart % filter == 0) {
        fprintf(out, " (%" PRIu64 " filter cycle%s)", apart / filter, apart == filter ? "" : "s");
    }
    fprintf(out, " too %s", actual > right ? "late" : "early");
}

static void print_late(const hy_pair *pair, const char *did, FILE *out)
{
    const hy_difference *d = &pair->difference;
    if (d->caught_up) {
        fprintf(out, "  design: %s in clock %" PRIu64 ", ", did, d->caught_up_at);
        print_apart(pair, d->caught_up_at, d->clock, out);
        fprintf(out, "\n");
    } else if (pair->edge_clock > d->clock) {
        fprintf(out, "  design: had not %s when the next strobe acted, in clock %" PRIu64 "\n", did,
                pair->edge_clock);
    } else {
        const uint64_t later = pair->clock - 1 - d->clock;
        fprintf(out, "  design: had not %s %" PRIu64 " %s later\n", did, later, clocks(later));
    }
}

static void print_latch(const hyoid_chip *chip, FILE *out)
{
    fprintf(out, "code 0x%02x, latched in clock %" PRIu64, chip->phoneme, chip->latch_cycle);
}

static uint32_t duration(const hyoid_chip *chip)
{
    return chip->part->phoneme[chip->phoneme].duration;
}

static void request_high_too_soon(const hy_pair *pair, FILE *out)
{
    const hyoid_chip *chip = &pair->difference.chip;
    const uint64_t end = hyoid_chip_request_cycle(chip);
    if (chip->latch_cycle == pair->difference.clock) {
        fprintf(out,
                "  model:  a strobe (code 0x%02x) acts in the very clock in which the timer ends: the latch wins, "
                "request stays low\n",
                chip->phoneme);
        return;
    }
    fprintf(out, "  model:  ");
    print_latch(chip, out);
    fprintf(out,
            ", lasts %" PRIu32 " filter cycles of which %" PRIu32 " are counted; request rises in clock %" PRIu64
            "\n",
            duration(chip), chip->n, end);
    fprintf(out, "  design: its request rose ");
    print_apart(pair, pair->difference.clock, end, out);
    fprintf(out, ", counted from the model's latch\n");
}

static void request_high_too_long(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    const uint32_t delay = pair->part.request_delay;
    fprintf(out, "  model:  request falls %" PRIu32 " %s after the latch in clock %" PRIu64 ", in clock %" PRIu64,
            delay, clocks(delay), d->clock - delay, d->clock);
    if (d->chip.latch_cycle > d->clock - delay) {
        fprintf(out, "; a second strobe, which acted in clock %" PRIu64 ", does not put it off", d->chip.latch_cycle);
    }
    fprintf(out, "\n");
    print_late(pair, "fallen", out);
}

static void request_low_too_long(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    fprintf(out, "  model:  ");
    print_latch(&d->chip, out);
    fprintf(out,
            ", has lasted its %" PRIu32 " filter cycles of %" PRIu32 " clocks; request rises in clock %" PRIu64 "\n",
            duration(&d->chip), pair->part.filter_clocks, d->clock);
    print_late(pair, "risen", out);
}

static void request_low_too_soon(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    const hyoid_chip *chip = &d->chip;
    if (d->clock == 0) {
        fprintf(
            out,
            "  model:  request is high from power-up until the first latch; a design that says so with a low level "
            "wants an inverter in its wrapper\n");
    } else if (chip->fall_at != HYOID_NEVER) {
        fprintf(out, "  model:  ");
        print_latch(chip, out);
        fprintf(out, "; request falls %" PRIu32 " %s after the latch, in clock %" PRIu64 "\n",
                pair->part.request_delay, clocks(pair->part.request_delay), chip->fall_at);
        fprintf(out, "  design: its request fell ");
        print_apart(pair, d->clock, chip->fall_at, out);
        fprintf(out, "\n");
    } else {
        fprintf(out, "  model:  request is high since clock %" PRIu64 "; ", chip->rise_cycle);
        if (pair->edge_clock == 0) {
            fprintf(out, "strobe has not risen yet");
        } else {
            fprintf(out, "the last rising edge of strobe acted in clock %" PRIu64, chip->latch_cycle);
        }
        fprintf(out, ": only an edge starts a phoneme, the level of strobe does nothing\n");
    }
}

static void why_request(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    const int want = hy_word_field(d->want, HY_REQUEST), before = hy_word_field(d->want_before, HY_REQUEST);
    if (!want && before) {
        request_high_too_long(pair, out);
    } else if (!want) {
        request_high_too_soon(pair, out);
    } else if (!before) {
        request_low_too_long(pair, out);
    } else {
        request_low_too_soon(pair, out);
    }
}

static void why_phoneme(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    if (d->chip.latch_cycle == 0) {
        fprintf(out, "  model:  nothing is latched yet; after power-up the phoneme is the lowest pause code\n");
        return;
    }
    fprintf(out, "  model:  ");
    print_latch(&d->chip, out);
    fprintf(out, ": the code that stood on the pins when strobe rose\n");
    if (d->clock == d->chip.latch_cycle) {
        print_late(pair, "latched it", out);
    } else {
        fprintf(out, "  design: latched another code without an edge of strobe\n");
    }
}

static void why_slot(const hy_pair *pair, FILE *out)
{
    const hyoid_chip *chip = &pair->difference.chip;
    fprintf(out, "  model:  ");
    print_latch(chip, out);
    fprintf(out, ", has counted n = %" PRIu32 " of D = %" PRIu32 " filter cycles: slot = 16 n div D\n", chip->n,
            duration(chip));
    print_late(pair, "come there", out);
}

static void why_level(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    const uint64_t filter = pair->part.filter_clocks;
    fprintf(out,
            "  model:  inflection is not latched: the level in force is what stood on i at the last filter cycle's "
            "start, "
            "clock %" PRIu64 "\n",
            d->chip.tick_at - filter);
    print_late(pair, "taken it", out);
}

static void why_audio(const hy_pair *pair, FILE *out)
{
    const hy_difference *d = &pair->difference;
    const uint64_t filter = pair->part.filter_clocks, first = filter + pair->part.output_clocks;
    const int64_t apart = (int64_t)hy_word_field(d->got, HY_AUDIO) - hy_word_field(d->want, HY_AUDIO);
    fprintf(out,
            "  model:  the pin takes a level every %" PRIu64 " clocks, %" PRIu32 " after the filter cycle's start; ",
            filter, pair->part.output_clocks);
    if (d->clock >= first) {
        fprintf(out, "this is level number %" PRIu64 ", since clock %" PRIu64 "\n", (d->clock - first) / filter,
                d->clock - (d->clock - first) % filter);
    } else {
        fprintf(out, "the first comes in clock %" PRIu64 ", before it the level is 0\n", first);
    }
    if (!(d->got & HY_UNKNOWN(HY_AUDIO))) {
        fprintf(out, "  design: %+" PRId64 " steps of 2^-%u away; the tolerance is %" PRId32 "\n", apart,
                pair->setup.fraction, pair->setup.tolerance);
    }
}

/* ---- the clocks around it ---- */

static void print_row(const hy_pair *pair, const hy_record *r, FILE *out)
{
    const int first = r->clock == pair->difference.clock;
    char edge[8] = "";
    if (r->edge) {
        snprintf(edge, sizeof edge, "0x%02x", r->edge_code);
    }
    fprintf(out, "%c %9" PRIu64 "  0x%02x  %u  %u  %5s |", first ? '>' : ' ', r->clock, hy_word_code(r->pins),
            hy_word_inflection(r->pins), hy_word_strobe(r->pins), edge);
    for (hy_field field = HY_REQUEST; field < HY_FIELDS; field++) {
        if (pair->setup.checks & 1u << field) {
            fprintf(out, field == HY_AUDIO ? " %10s %10s |" : " %4s %4s |", show(field, r->want).text,
                    show(field, r->got).text);
        }
    }
    fprintf(out, "\n");
}

static void print_window(const hy_pair *pair, unsigned window, FILE *out)
{
    const uint64_t oldest = pair->records > HY_HISTORY ? pair->records - HY_HISTORY : 0;
    uint64_t at = pair->records;
    while (at > oldest && pair->history[(at - 1) % HY_HISTORY].clock >= pair->difference.clock) {
        at--;
    }
    const uint64_t from = at - oldest > window ? at - window : oldest;
    const uint64_t until = at + window + 1 < pair->records ? at + window + 1 : pair->records;
    fprintf(out, "      clock  p     i  s  edge  |");
    for (hy_field field = HY_REQUEST; field < HY_FIELDS; field++) {
        if (pair->setup.checks & 1u << field) {
            fprintf(out, field == HY_AUDIO ? " %-21s |" : " %-9s |", hy_field_name(field));
        }
    }
    fprintf(out, "  each: expected, got; a row stands until the next\n");
    for (at = from; at < until; at++) {
        print_row(pair, &pair->history[at % HY_HISTORY], out);
    }
}

void hy_report_print(const hy_pair *pair, unsigned window, FILE *out)
{
    const hy_difference *d = &pair->difference;
    fprintf(out, "MISMATCH in clock %" PRIu64 ": %s: ", d->clock, hy_field_name(d->field));
    if (d->field == HY_INPUTS) {
        fprintf(out, "p, inflection or strobe is x or z: the bench must drive every input\n");
    } else {
        fprintf(out, "expected %s, got %s\n", show(d->field, d->want).text, show(d->field, d->got).text);
    }
    switch (d->field) {
    case HY_REQUEST:
        why_request(pair, out);
        break;
    case HY_PHONEME_CODE:
        why_phoneme(pair, out);
        break;
    case HY_SLOT:
        why_slot(pair, out);
        break;
    case HY_LEVEL:
        why_level(pair, out);
        break;
    case HY_AUDIO:
        why_audio(pair, out);
        break;
    case HY_INPUTS:
        break;
    }
    if (d->strobe_high_since != 0 && d->field != HY_AUDIO && d->field != HY_INPUTS) {
        fprintf(out, "  note:   strobe is high since clock %" PRIu64 "; only its rising edge acts\n",
                d->strobe_high_since);
    }
    print_window(pair, window, out);
}
