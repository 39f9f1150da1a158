/* The sequencer: latch, phoneme timer, the sixteenths that delay voice and closure, request.
 *
 * "Strobe and latch" and "Sequencer" of docs/chip.md. The sixteenth in force is floor(16 n / D); a delay of d
 * sixteenths is over at the first filter cycle with n >= d D / 16, so each delay is turned into a count once, when
 * the code is latched. */
#include "internal.h"

/* The first counted filter cycle is n = 1, so a delay of 0 ends there. */
static uint32_t count_at(uint32_t sixteenths, uint32_t duration)
{
    uint32_t n = (sixteenths * duration + HYOID_SLOTS - 1) / HYOID_SLOTS;
    return n > 0 ? n : 1;
}

/* A formant code fills the 8-bit target register by repetition of its bits, so that the largest code is 255. */
static uint8_t target4(uint8_t code)
{
    return (uint8_t)(code * 17);
}

static uint8_t target5(uint8_t code)
{
    return (uint8_t)((code << 3) | (code >> 2));
}

static void load_formants(hyoid_chip *chip, const hyoid_phoneme *word)
{
    chip->t_f1 = target4(word->f1);
    chip->t_f2 = target5(word->f2);
    chip->t_f3 = target4(word->f3);
    chip->t_fc = target4(word->fc);
    chip->bw2 = word->bw2;
}

void hyoid_sequencer_restore(hyoid_chip *chip)
{
    const hyoid_phoneme *word = &chip->part->phoneme[chip->phoneme];
    chip->n_voice = count_at(word->vd, word->duration);
    chip->n_noise = count_at(word->cld, word->duration);
    chip->n_burst = count_at(chip->part->burst_slot, word->duration);
}

void hyoid_sequencer_power_up(hyoid_chip *chip)
{
    /* The real state is not defined; silence is the least harmful guess (docs/chip.md, "Power-up"). */
    unsigned code = 0;
    while (code < HYOID_PHONEMES && !chip->part->phoneme[code].pause) {
        code++;
    }
    chip->phoneme = (uint8_t)(code < HYOID_PHONEMES ? code : 0);
    chip->n = chip->part->phoneme[chip->phoneme].duration;
    chip->request = 1;
    hyoid_sequencer_restore(chip);
    load_formants(chip, &chip->part->phoneme[chip->phoneme]);
}

void hyoid_sequencer_latch(hyoid_chip *chip)
{
    const hyoid_phoneme *word = &chip->part->phoneme[chip->caught_code];
    chip->caught = 0;
    chip->latched = 1;
    chip->phoneme = chip->caught_code;
    chip->latch_cycle = chip->cycle;
    chip->timing = 1;
    chip->n = 0;
    hyoid_sequencer_restore(chip);
    load_formants(chip, word);
    hyoid_transitions_refresh_bandwidth(chip);
    if (word->pause) {
        chip->t_va = 0;
        chip->t_fa = 0;
    }
    /* A fall that is already under way is not put off by a second strobe. */
    if (chip->request && chip->fall_at == HYOID_NEVER) {
        chip->fall_at = chip->cycle + chip->part->request_delay;
    }
}

static void stop_tick(hyoid_chip *chip, const hyoid_phoneme *word)
{
    if (chip->n < chip->n_burst) {
        chip->t_fa = 0;
    } else {
        chip->t_fa = word->pause ? 0 : target4(word->fa);
        chip->r_fa = chip->t_fa; /* the burst does not creep up */
        hyoid_transitions_refresh_noise(chip);
    }
    chip->gate_closing = chip->n >= chip->n_noise && chip->n < chip->n_burst;
}

void hyoid_sequencer_tick(hyoid_chip *chip, uint64_t cycle)
{
    if (!chip->timing || chip->latched) {
        return;
    }
    const hyoid_phoneme *word = &chip->part->phoneme[chip->phoneme];
    chip->n++;
    if (chip->n == word->duration) {
        chip->timing = 0;
        chip->request = 1;
        chip->rise_cycle = cycle;
        chip->fall_at = HYOID_NEVER; /* only a faulty timer can be quicker than the fall */
    }
    if (chip->n >= chip->n_voice) {
        chip->t_va = word->pause ? 0 : target4(word->va);
    }
    if (word->closure) {
        stop_tick(chip, word);
    } else {
        chip->gate_closing = 0;
        if (chip->n >= chip->n_noise) {
            chip->t_fa = word->pause ? 0 : target4(word->fa);
        }
    }
    if (!chip->gate_closing && chip->gate != 255) {
        chip->gate = 255;
        hyoid_transitions_refresh_gate(chip);
    }
}

uint32_t hyoid_sequencer_quiet(const hyoid_chip *chip)
{
    if (!chip->timing) {
        return UINT32_MAX;
    }
    uint32_t next = chip->part->phoneme[chip->phoneme].duration;
    if (chip->n_voice > chip->n && chip->n_voice < next) {
        next = chip->n_voice;
    }
    if (chip->n_noise > chip->n && chip->n_noise < next) {
        next = chip->n_noise;
    }
    if (chip->n_burst > chip->n && chip->n_burst < next) {
        next = chip->n_burst;
    }
    return next - chip->n - 1;
}

void hyoid_sequencer_skip(hyoid_chip *chip, uint32_t ticks)
{
    if (chip->timing) {
        chip->n += ticks;
    }
}
