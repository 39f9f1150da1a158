#include "pair.h"

#include <string.h>

#include "fixed.h"

hyoid_status hy_pair_init(hy_pair *pair, const hyoid_part *part, const hy_pair_setup *setup)
{
    memset(pair, 0, sizeof *pair);
    if (part == NULL) {
        return HYOID_E_NULL;
    }
    pair->part = *part;
    pair->setup = *setup;
    for (hy_field field = HY_REQUEST; field < HY_FIELDS; field++) {
        pair->mask |= setup->checks & 1u << field ? hy_word_mask(field) : 0;
    }
    return hyoid_chip_init(&pair->chip, &pair->part);
}

void hy_pair_settle(hy_pair *pair)
{
    hyoid_chip_step(&pair->chip, pair->clock - pair->chip.cycle);
}

uint64_t hy_pair_want(hy_pair *pair)
{
    hy_pair_settle(pair);
    const hyoid_chip *chip = &pair->chip;
    int32_t audio = 0;
    if (pair->setup.checks & 1u << HY_AUDIO) {
        audio = hy_fixed(hyoid_chip_output(chip), pair->setup.bits, pair->setup.fraction, NULL);
    }
    return pair->mask & hy_word_outputs((unsigned)hyoid_chip_request(chip), chip->phoneme, hyoid_chip_slot(chip),
                                        pair->level, audio);
}

void hy_pair_strobe(hy_pair *pair, unsigned code)
{
    pair->edge = 1;
    pair->edge_code = (uint8_t)(code & (HYOID_PHONEMES - 1));
    pair->ahead = 0;
}

static int differs(const hy_pair *pair, hy_field field, uint64_t got, uint64_t want)
{
    if (!(pair->setup.checks & 1u << field)) {
        return 0;
    }
    if (got & HY_UNKNOWN(field)) {
        return 1;
    }
    const int64_t apart = (int64_t)hy_word_field(got, field) - hy_word_field(want, field);
    const int64_t most = field == HY_AUDIO ? pair->setup.tolerance : 0;
    return apart > most || apart < -most;
}

/* The first field that differs, or HY_FIELDS. */
static hy_field compare(const hy_pair *pair, uint64_t got, uint64_t want)
{
    hy_field field = HY_REQUEST;
    while (field < HY_FIELDS && !differs(pair, field, got, want)) {
        field++;
    }
    return field;
}

static void record(hy_pair *pair, uint64_t got, uint64_t want)
{
    const hy_record *last = pair->records > 0 ? &pair->history[(pair->records - 1) % HY_HISTORY] : NULL;
    if (last != NULL && !pair->clock_edge && !last->edge && last->pins == pair->pins && last->got == got &&
        last->want == want) {
        return;
    }
    pair->history[pair->records % HY_HISTORY] =
        (hy_record){pair->clock, pair->pins, got, want, pair->clock_edge, pair->clock_code};
    pair->records++;
}

static void note_difference(hy_pair *pair, hy_field field, uint64_t got, uint64_t want)
{
    hy_difference *d = &pair->difference;
    d->found = 1;
    d->field = field;
    d->clock = pair->clock;
    d->got = got;
    d->want = want;
    d->chip = pair->chip;
    d->strobe_high_since = pair->high_since;
    /* what the model showed one clock earlier */
    d->want_before = want;
    for (uint64_t back = 1; back <= 2 && back <= pair->records; back++) {
        const hy_record *r = &pair->history[(pair->records - back) % HY_HISTORY];
        if (r->clock < pair->clock) {
            d->want_before = r->want;
            break;
        }
    }
}

/* Whether, and when, the design comes to agree again tells how late it is. */
static void see_caught_up(hy_pair *pair, uint64_t got)
{
    hy_difference *d = &pair->difference;
    if (!d->caught_up && d->field < HY_FIELDS && !differs(pair, d->field, got, d->want)) {
        d->caught_up = 1;
        d->caught_up_at = pair->clock;
    }
}

/* The model takes the pins that this edge of the clock sees, and the clock. */
static void step(hy_pair *pair, uint64_t word)
{
    hyoid_chip *chip = &pair->chip;
    if (pair->edge) {
        hyoid_chip_write(chip, pair->edge_code);
        pair->edge_clock = pair->clock + 1;
        pair->edges++;
    }
    hyoid_chip_set_code(chip, hy_word_code(word));
    hyoid_chip_set_inflection(chip, hy_word_inflection(word));
    const int starts = chip->tick_at == pair->clock + 1;
    const int request = hyoid_chip_request(chip);
    hyoid_chip_step(chip, 1);
    pair->rises += !request && hyoid_chip_request(chip);
    pair->level = starts ? hy_word_inflection(word) : pair->level;
    pair->clock_edge = pair->edge;
    pair->clock_code = pair->edge_code;
    pair->edge = 0;
    if (!hy_word_strobe(word)) {
        pair->high_since = 0;
    } else if (pair->high_since == 0 || pair->clock_edge) {
        pair->high_since = pair->clock + 1;
    }
    pair->pins = word & HY_PINS_MASK;
    pair->clock++;
}

hy_progress hy_pair_clock(hy_pair *pair, uint64_t word)
{
    if (pair->ahead > 0 && word == pair->word) {
        pair->ahead--;
        pair->clock++;
        return HY_QUIET;
    }
    const uint64_t want = hy_pair_want(pair), got = word & pair->mask;
    hy_field field = compare(pair, got, want);
    if (field == HY_FIELDS && (word & HY_UNKNOWN(HY_INPUTS))) {
        field = HY_INPUTS;
    } else if (field == HY_FIELDS) {
        field = (hy_field)-1;
    }
    record(pair, got, want);
    hy_difference *d = &pair->difference;
    if (d->found) {
        see_caught_up(pair, got);
    } else if ((int)field >= 0) {
        note_difference(pair, field, got, want);
    }
    step(pair, word);

    /* Until the model has work again, a word that was right twice, with nothing new to record, stays right. */
    const uint64_t quiet = pair->chip.quiet_until;
    pair->ahead = 0;
    if (word == pair->word && !pair->clock_edge && !d->found && quiet > pair->clock + 1 &&
        hy_pair_want(pair) == want) {
        pair->ahead = quiet - 1 - pair->clock;
    }
    pair->word = word;
    return d->found && pair->clock > d->clock + pair->setup.following ? HY_DIFFERED : HY_WORKED;
}
