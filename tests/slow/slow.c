#include "slow.h"

#include <math.h>

/* ------------------------------------------------------------------------------------------------
 * Pins
 * --------------------------------------------------------------------------------------------- */

void slow_set_code(struct slow_chip *chip, unsigned code)
{
    chip->code = code;
}

void slow_set_inflection(struct slow_chip *chip, unsigned inflection)
{
    chip->inflection = inflection;
}

void slow_set_strobe(struct slow_chip *chip, bool strobe)
{
    bool edge = strobe && !chip->strobe;

    if (chip->mistake == SLOW_FALLING_EDGE) {
        edge = strobe != chip->strobe;
    }
    if (edge) {
        if (!(chip->mistake == SLOW_FIRST_EDGE_WINS && chip->edge)) {
            chip->edge_code = chip->code;
        }
        chip->edge = true;
    }
    chip->strobe = strobe;
}

/* ------------------------------------------------------------------------------------------------
 * Power-up
 * --------------------------------------------------------------------------------------------- */

static const struct hyoid_phoneme *word(const struct slow_chip *chip)
{
    return &chip->part->phoneme[chip->latched];
}

static void load_formants(struct slow_chip *chip)
{
    const struct hyoid_phoneme *w = word(chip);

    chip->target_f1 = 17u * w->f1;
    chip->target_f2 = 8u * w->f2 + w->f2 / 4u;
    chip->target_f3 = 17u * w->f3;
    chip->target_fc = 17u * w->fc;
    if (chip->mistake == SLOW_F2_CODE) {
        chip->target_f2 = 8u * w->f2;
    }
    if (chip->mistake != SLOW_BANDWIDTH_LATE) {
        chip->bandwidth2 = w->bw2;
    }
}

void slow_power_up(struct slow_chip *chip, const struct hyoid_part *part)
{
    *chip = (struct slow_chip){.part = part};
    while (chip->latched < HYOID_PHONEMES && !word(chip)->pause) {
        chip->latched += 1;
    }
    if (chip->latched == HYOID_PHONEMES) {
        chip->latched = 0;
    }
    load_formants(chip);
    chip->n = word(chip)->duration;
    chip->request = true;
    chip->gate = 255;
    chip->noise_register = part->noise_seed;
}

/* ------------------------------------------------------------------------------------------------
 * Latch and sequencer
 * --------------------------------------------------------------------------------------------- */

static void latch(struct slow_chip *chip)
{
    chip->latched = chip->mistake == SLOW_CODE_AT_CLOCK ? chip->code : chip->edge_code;
    chip->latch_clock = chip->clock;
    chip->n = 0;
    chip->timer = true;
    load_formants(chip);
    if (word(chip)->pause && chip->mistake != SLOW_PAUSE_WAITS) {
        chip->target_va = 0;
        chip->target_fa = 0;
    }
    if (chip->request && (!chip->falling || chip->mistake == SLOW_FALL_RESTARTS)) {
        chip->falling = true;
        chip->fall_clock = chip->clock + chip->part->request_delay;
        if (chip->mistake == SLOW_FALL_LATE) {
            chip->fall_clock += 1;
        }
    }
    if (chip->mistake == SLOW_INFLECTION_LATCHED) {
        chip->mistake_memory = chip->inflection;
    }
    if (chip->mistake == SLOW_GATE_OPENS_AT_LATCH) {
        chip->gate = 255;
        chip->gate_closing = false;
    }
}

unsigned slow_slot(const struct slow_chip *chip)
{
    uint32_t duration = word(chip)->duration;
    uint32_t slot = 16u * chip->n / duration;

    if (chip->mistake == SLOW_SLOT_ROUNDED) {
        slot = (16u * chip->n + duration / 2u) / duration;
    }
    return slot < 16u ? slot : 16u;
}

static void sequence(struct slow_chip *chip)
{
    const struct hyoid_phoneme *w = word(chip);
    unsigned burst_slot = chip->part->burst_slot + (chip->mistake == SLOW_BURST_LATE ? 1u : 0u);
    unsigned voice = w->pause ? 0u : 17u * w->va;
    unsigned noise = w->pause ? 0u : 17u * w->fa;
    uint32_t end = w->duration;
    unsigned slot;

    if (chip->mistake == SLOW_TIMER_LONG) {
        end += 1;
    } else if (chip->mistake == SLOW_TIMER_SHORT && end > 1) {
        end -= 1;
    }
    chip->n = chip->n + 1;
    if (chip->n == end) {
        chip->request = true;
        chip->rise_clock = chip->clock;
        chip->timer = false;
    }

    slot = slow_slot(chip);
    if (chip->mistake == SLOW_VOICE_DELAY) {
        if (slot > w->vd) {
            chip->target_va = voice;
        }
    } else if (slot >= w->vd || chip->mistake == SLOW_VOICE_DELAY_SKIPPED) {
        chip->target_va = voice;
    }

    if (!w->closure) {
        if (slot >= w->cld + (chip->mistake == SLOW_NOISE_DELAY ? 1u : 0u)) {
            chip->target_fa = noise;
        }
        chip->gate_closing = chip->mistake == SLOW_GATE_STUCK && chip->gate_closing;
    } else {
        if (slot < burst_slot) {
            chip->target_fa = 0;
        } else if (chip->mistake == SLOW_PAUSE_BURSTS) {
            chip->target_fa = 17u * w->fa;
            chip->fa = 17u * w->fa;
        } else {
            chip->target_fa = noise;
            if (chip->mistake != SLOW_BURST_GRADUAL) {
                chip->fa = noise;
            }
        }
        chip->gate_closing = w->cld <= slot && slot < burst_slot;
    }
    if (!chip->gate_closing) {
        chip->gate = 255;
    }
}

/* ------------------------------------------------------------------------------------------------
 * Transitions
 * --------------------------------------------------------------------------------------------- */

static void move(const struct slow_chip *chip, unsigned *r, unsigned target, unsigned shift)
{
    int d = (int)target - (int)*r;
    int divisor = 1 << shift;
    int step = d / divisor;

    if (d == 0) {
        return;
    }
    if (chip->mistake == SLOW_MOVE_ROUNDED_DOWN && d < 0) {
        step = -((-d + divisor - 1) / divisor);
    }
    if (step == 0 && chip->mistake != SLOW_MOVE_STALLS) {
        step = d > 0 ? 1 : -1;
    }
    *r = (unsigned)((int)*r + step);
}

static double kept(double charge)
{
    return fabs(charge) < 0x1p-100 ? 0.0 : charge;
}

static bool due(const struct slow_chip *chip, uint32_t cycles)
{
    return (chip->tick + (chip->mistake == SLOW_MOVE_PHASE ? 1u : 0u)) % cycles == 0;
}

static void transitions(struct slow_chip *chip)
{
    const struct hyoid_part *part = chip->part;
    unsigned shift = part->transition_shift;

    if (due(chip, part->formant_cycles)) {
        bool stop = word(chip)->closure && chip->mistake != SLOW_STOP_SPECTRUM;

        move(chip, &chip->f1, chip->target_f1, shift);
        move(chip, &chip->f2, chip->target_f2, shift);
        move(chip, &chip->f3, chip->target_f3, shift);
        move(chip, &chip->fc, chip->target_fc, stop ? part->stop_spectrum_shift : shift);
        if (chip->mistake == SLOW_BANDWIDTH_LATE) {
            chip->bandwidth2 = word(chip)->bw2;
        }
    }
    if (due(chip, part->amplitude_cycles)) {
        move(chip, &chip->va, chip->target_va, shift);
        move(chip, &chip->fa, chip->target_fa, shift);
        if (chip->mistake != SLOW_CHARGES_LINGER) {
            chip->u1 = kept(chip->u1);
            chip->y1 = kept(chip->y1);
            chip->u2 = kept(chip->u2);
            chip->y2 = kept(chip->y2);
            chip->u3 = kept(chip->u3);
            chip->y3 = kept(chip->y3);
            chip->u4 = kept(chip->u4);
            chip->y4 = kept(chip->y4);
            chip->lowpass = kept(chip->lowpass);
        }
    }
    if (due(chip, part->gate_cycles) && chip->gate_closing) {
        unsigned divisor = 1u << (part->gate_shift + (chip->mistake == SLOW_GATE_SHIFT ? 1u : 0u));
        unsigned round_up = chip->mistake == SLOW_GATE_ROUNDED_DOWN ? 0u : divisor - 1u;

        chip->gate = chip->gate - (chip->gate + round_up) / divisor;
    }
}

/* ------------------------------------------------------------------------------------------------
 * Sources and sections
 * --------------------------------------------------------------------------------------------- */

static double gain(const struct hyoid_part *part, unsigned r)
{
    double share = (double)r / 255.0;
    double power = share;
    uint32_t i;

    for (i = 1; i < part->amplitude_power; ++i) {
        power = power * share;
    }
    return power;
}

static void step_pitch(struct slow_chip *chip)
{
    unsigned level = chip->mistake == SLOW_INFLECTION_LATCHED ? chip->mistake_memory : chip->inflection;
    unsigned period = chip->part->pitch_period[level];

    if (chip->mistake != SLOW_PITCH_F1) {
        period += chip->f1 / (1u << chip->part->pitch_f1_shift);
    }
    if (chip->mistake == SLOW_PITCH_LONG) {
        period += 1;
    }
    if (chip->mistake == SLOW_PITCH_WRAP ? chip->pitch_count == period - 1u : chip->pitch_count >= period - 1u) {
        chip->pitch_count = 0;
    } else {
        chip->pitch_count = chip->pitch_count + 1u;
    }
}

static void step_noise(struct slow_chip *chip)
{
    uint32_t taps = chip->part->noise_taps;
    uint32_t tapped;
    uint32_t parity = 0;

    if (chip->mistake == SLOW_NOISE_TAP) {
        taps = taps ^ 2u;
    }
    for (tapped = chip->noise_register & taps; tapped != 0; tapped = tapped >> 1) {
        parity = parity ^ (tapped & 1u);
    }
    chip->noise_register = (chip->noise_register >> 1) + parity * (UINT32_C(1) << (chip->part->noise_bits - 1u));
}

static void speak(struct slow_chip *chip)
{
    const struct hyoid_part *part = chip->part;
    double k1, k2, k3, k4, q1, q2, q3, q4;
    double voice_gain, noise_gain, between;
    double place, front, middle, back;
    double n2, n3, n4, direct, feed, out;
    double v, a, n, slope, bend, x, upstream;
    unsigned early_bit = chip->noise_register & 1u;
    unsigned bit;
    bool in_pulse;

    k1 = part->f1.k0 + part->f1.ks * (double)chip->f1;
    k2 = part->f2.k0 + part->f2.ks * (double)chip->f2;
    k3 = part->f3.k0 + part->f3.ks * (double)chip->f3;
    k4 = part->f4_k;
    q1 = 1.0 / (1.0 + part->f1.k6);
    q2 = 1.0 / (1.0 + (part->f2.k6 + part->f2_k6_step * (double)chip->bandwidth2));
    q3 = 1.0 / (1.0 + part->f3.k6);
    q4 = 1.0 / (1.0 + part->f4_k6);

    voice_gain = gain(part, chip->va) * part->pulse_unit;
    noise_gain = gain(part, chip->fa);
    between = noise_gain;
    if (chip->mistake == SLOW_BETWEEN_ALWAYS ||
        (chip->mistake == SLOW_BETWEEN_BY_TARGET ? chip->target_va : chip->va) > 0) {
        between = noise_gain * part->noise_between_pulses;
    }

    place = (double)chip->fc / 127.5;
    if (place < 1.0) {
        front = 1.0 - place;
        middle = place;
        back = 0.0;
    } else {
        front = 0.0;
        middle = 2.0 - place;
        back = place - 1.0;
    }
    n2 = part->noise_f2 * back * k2;
    n3 = part->noise_f3 * middle * (chip->mistake == SLOW_NOISE_ENTRY_K ? part->f3.k0 : k3);
    n4 = part->noise_f4 * (4.0 + 2.0 * part->f4_k6 - part->f4_k * part->f4_k) * front;
    direct = part->noise_direct * front;
    feed = part->f4_feed * part->f4_k * part->f4_k;
    out = (double)chip->gate / 255.0 * part->output_gain;

    step_pitch(chip);
    in_pulse = chip->pitch_count < part->pulse_length;
    v = 0.0;
    if (chip->mistake == SLOW_PULSE_LENGTH ? chip->pitch_count + 1u < part->pulse_length : in_pulse) {
        v = (double)part->pulse[chip->pitch_count] * voice_gain;
    }

    step_noise(chip);
    bit = chip->noise_register & 1u;
    if (chip->mistake == SLOW_NOISE_EARLY) {
        bit = early_bit;
    } else if (chip->mistake == SLOW_NOISE_BIT) {
        bit = (chip->noise_register >> 1) & 1u;
    }
    a = in_pulse ? noise_gain : between;
    n = bit == 1u ? +a : -a;

    slope = n - chip->last_noise;
    bend = slope - (chip->mistake == SLOW_BEND ? 0.0 : chip->last_slope);
    chip->last_noise = n;
    chip->last_slope = slope;

    if (chip->mistake == SLOW_FUSED) {
        chip->u1 = fma(-k1, v + chip->y1, chip->u1);
    } else {
        chip->u1 = chip->u1 - k1 * (v + chip->y1);
    }
    upstream = chip->y1;
    if (chip->mistake == SLOW_INTEGRATOR_ORDER) {
        upstream = (chip->y1 + k1 * chip->u1) * q1;
    }
    if (chip->mistake == SLOW_SUM_ORDER) {
        chip->u2 = chip->u2 + (n2 * slope - k2 * (upstream + chip->y2));
    } else {
        chip->u2 = chip->u2 - k2 * (upstream + chip->y2) + n2 * slope;
    }
    chip->u3 = chip->u3 - k3 * (chip->y2 + chip->y3) + n3 * slope;
    chip->u4 = chip->u4 + k4 * (chip->y3 - chip->y4);
    chip->y1 = (chip->y1 + k1 * chip->u1) * q1;
    chip->y2 = (chip->y2 + k2 * chip->u2) * q2;
    x = chip->y3;
    chip->y3 = (chip->y3 + k3 * chip->u3) * q3;
    chip->y4 =
        (chip->y4 + k4 * chip->u4 + (n4 * slope - feed * (chip->mistake == SLOW_FEED ? chip->y3 : chip->y3 - x))) *
        q4;
    chip->level = (chip->y4 + direct * bend) * out;

    if (part->lowpass_k > 0.0 && chip->mistake != SLOW_LOWPASS) {
        chip->lowpass = (chip->lowpass + part->lowpass_k * chip->level) * (1.0 / (1.0 + part->lowpass_k));
        chip->level = chip->lowpass;
    }
}

/* ------------------------------------------------------------------------------------------------
 * The clock
 * --------------------------------------------------------------------------------------------- */

static bool tick_starts(const struct slow_chip *chip, uint64_t since)
{
    return (chip->clock - since) % chip->part->filter_clocks == 0;
}

void slow_clock(struct slow_chip *chip)
{
    const struct hyoid_part *part = chip->part;
    uint64_t since = 0;
    unsigned output_clocks = part->output_clocks;
    bool latching;

    chip->clock = chip->clock + 1;

    latching = chip->edge || (chip->mistake == SLOW_STROBE_LEVEL && chip->strobe);
    chip->edge = false;
    if (chip->mistake == SLOW_END_BEATS_LATCH && latching && chip->timer && tick_starts(chip, 0) &&
        chip->n + 1u == word(chip)->duration) {
        chip->request = true;
        chip->rise_clock = chip->clock;
    }
    if (latching) {
        latch(chip);
        if (chip->mistake == SLOW_DIVIDER_RESET) {
            chip->mistake_memory = (unsigned)(chip->clock % part->filter_clocks);
        }
    }
    if (chip->mistake == SLOW_DIVIDER_RESET) {
        since = chip->mistake_memory;
    }

    if (chip->falling && chip->clock == chip->fall_clock) {
        chip->request = false;
        chip->falling = false;
    }

    if (tick_starts(chip, since)) {
        chip->tick = chip->tick + 1;
        if (chip->mistake == SLOW_MOVE_FIRST) {
            transitions(chip);
        }
        if (chip->timer && (!latching || chip->mistake == SLOW_LATCH_TICK_COUNTS)) {
            sequence(chip);
        }
        if (chip->mistake != SLOW_MOVE_FIRST) {
            transitions(chip);
        }
        speak(chip);
    }

    if (chip->mistake == SLOW_PIN_LATE) {
        output_clocks = (output_clocks + 1u) % part->filter_clocks;
    }
    chip->audio_taken = chip->tick > 0 && chip->clock % part->filter_clocks == output_clocks;
    if (chip->audio_taken) {
        chip->audio = chip->level;
    }
}

/* ------------------------------------------------------------------------------------------------
 * Names of the mistakes
 * --------------------------------------------------------------------------------------------- */

const char *slow_mistake_text(enum slow_mistake mistake)
{
    switch (mistake) {
    case SLOW_RIGHT:
        return "nothing";
    case SLOW_TIMER_LONG:
        return "the timer ends one tick late";
    case SLOW_TIMER_SHORT:
        return "the timer ends one tick early";
    case SLOW_LATCH_TICK_COUNTS:
        return "a tick in the latch's clock counts";
    case SLOW_END_BEATS_LATCH:
        return "the timer's end raises request in a latch's clock";
    case SLOW_DIVIDER_RESET:
        return "a latch resets the divider";
    case SLOW_SLOT_ROUNDED:
        return "the slot is rounded to nearest";
    case SLOW_VOICE_DELAY:
        return "the voice waits one slot more";
    case SLOW_NOISE_DELAY:
        return "the noise waits one slot more";
    case SLOW_VOICE_DELAY_SKIPPED:
        return "the voice does not wait";
    case SLOW_PAUSE_WAITS:
        return "a pause's latch leaves the amplitude targets";
    case SLOW_PAUSE_BURSTS:
        return "a stop that is a pause bursts";
    case SLOW_BURST_LATE:
        return "the burst comes one slot late";
    case SLOW_BURST_GRADUAL:
        return "the burst sets the target only";
    case SLOW_GATE_OPENS_AT_LATCH:
        return "the gate opens at the latch";
    case SLOW_GATE_STUCK:
        return "a closing gate stays so in a phoneme that is no stop";
    case SLOW_GATE_SHIFT:
        return "the gate closes half as fast";
    case SLOW_GATE_ROUNDED_DOWN:
        return "the gate's step is rounded down";
    case SLOW_FALL_LATE:
        return "request falls one clock late";
    case SLOW_FALL_RESTARTS:
        return "a second latch puts off request's fall";
    case SLOW_FIRST_EDGE_WINS:
        return "of several edges the first one's code counts";
    case SLOW_CODE_AT_CLOCK:
        return "the code is read at the clock, not at the edge";
    case SLOW_FALLING_EDGE:
        return "the falling edge of strobe acts too";
    case SLOW_STROBE_LEVEL:
        return "strobe acts by level";
    case SLOW_PIN_LATE:
        return "the audio pin is one clock late";
    case SLOW_F2_CODE:
        return "F2's target lacks the quarter of its code";
    case SLOW_MOVE_ROUNDED_DOWN:
        return "a downward move is rounded away from zero";
    case SLOW_MOVE_STALLS:
        return "a move has no least step";
    case SLOW_MOVE_PHASE:
        return "moves come one tick early";
    case SLOW_MOVE_FIRST:
        return "registers move before the sequencer acts";
    case SLOW_STOP_SPECTRUM:
        return "a stop's noise spectrum moves like any other";
    case SLOW_CHARGES_LINGER:
        return "tiny charges are kept";
    case SLOW_BANDWIDTH_LATE:
        return "the bandwidth code waits for a formant move";
    case SLOW_NOISE_ENTRY_K:
        return "the noise's entry at F3 ignores the register";
    case SLOW_BETWEEN_ALWAYS:
        return "noise is scaled between pulses though unvoiced";
    case SLOW_BETWEEN_BY_TARGET:
        return "the voice's target, not its register, tells voiced from unvoiced";
    case SLOW_PITCH_LONG:
        return "the pitch period is one tick longer";
    case SLOW_PITCH_WRAP:
        return "the pitch count wraps at equality only";
    case SLOW_PITCH_F1:
        return "F1 does not act on pitch";
    case SLOW_INFLECTION_LATCHED:
        return "inflection is latched";
    case SLOW_PULSE_LENGTH:
        return "the pulse lacks its last entry";
    case SLOW_NOISE_TAP:
        return "one noise tap differs";
    case SLOW_NOISE_BIT:
        return "bit 1 of the noise register gives the sign";
    case SLOW_NOISE_EARLY:
        return "the noise register is read before its step";
    case SLOW_INTEGRATOR_ORDER:
        return "F2 takes what F1 gives out now, not one tick ago";
    case SLOW_SUM_ORDER:
        return "one sum is added up in another order";
    case SLOW_FUSED:
        return "one multiply and add are fused";
    case SLOW_FEED:
        return "the fixed section's capacitor is fed the level, not its change";
    case SLOW_BEND:
        return "the noise past the fixed section is its first difference";
    case SLOW_LOWPASS:
        return "no low-pass";
    case SLOW_MISTAKES:
        break;
    }
    return "no such mistake";
}
