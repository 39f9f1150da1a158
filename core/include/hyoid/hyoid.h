/* hyoid: a clock-accurate model of a phoneme speech chip of about 1980 (US patent 4,433,210).
 *
 *                    +-------------------+
 *     P0..P5  --6--> | phoneme code      |
 *     I0..I1  --2--> | inflection        | -----> request   (A/R: wants the next phoneme)
 *     strobe  -----> | rising edge       |
 *     clock   -----> | 720 kHz nominal   | -----> audio     (staircase, one level per filter cycle)
 *                    +-------------------+
 *
 * TIME. The chip counts cycles of its master clock and knows no hertz: pitch, tempo and formants all
 * follow the clock. Inputs that change between two clocks act at the next clock (strobe) or at the
 * next filter cycle that looks at them (inflection). Seconds, hertz and sample rates appear one layer
 * up, in hyoid_stream, which places every clock edge on the host's time line.
 *
 * NOT MODELLED. Supply and temperature dependence, the jitter of the chip's own RC oscillator, the
 * distortion of the output stage, violations of set-up and hold time. No dump of a real mask is used:
 * the numbers of the default part are published figures, recollections and estimates, each marked
 * as such in reference/parts/default; the laws of operation are those of docs/chip.md.
 *
 * MEMORY AND THREADS. No function allocates, locks, does I/O or keeps a global. Every struct belongs
 * to the caller; assigning one to another of its type is a complete copy. Different objects may be
 * used from different threads at the same time; a part may be shared by any number of chips and must
 * outlive them unchanged.
 *
 * Same inputs give the same bits with every compiler and on every CPU that has IEEE binary64
 * (build with contraction off: -ffp-contract=off).
 */
#ifndef HYOID_HYOID_H
#define HYOID_HYOID_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* The version's one source: the build reads these three lines, hyoid_version returns them. */
#define HYOID_VERSION_MAJOR 0
#define HYOID_VERSION_MINOR 1
#define HYOID_VERSION_PATCH 0
/* This header's version, as major * 10000 + minor * 100 + patch. */
#define HYOID_VERSION (HYOID_VERSION_MAJOR * 10000 + HYOID_VERSION_MINOR * 100 + HYOID_VERSION_PATCH)

/* The version of the library that is running, as major * 10000 + minor * 100 + patch. */
uint32_t hyoid_version(void);

/* What a call can answer. Zero is success; every error leaves its object as it was. */
typedef enum hyoid_status {
    HYOID_OK = 0,
    HYOID_E_NULL,     /* a pointer that must not be null was null */
    HYOID_E_RANGE,    /* an argument is outside its documented range */
    HYOID_E_PAST,     /* a time stamp lies before the present of the stream */
    HYOID_E_PART,     /* the part breaks a rule of hyoid_part_check */
    HYOID_E_SNAPSHOT, /* the bytes are no unharmed snapshot of this version, part and rate */
    HYOID_E_FULL,     /* the caller's ring or queue has no room for what this call would put there */
    HYOID_E_VERSION,  /* the library that is running does not fit the header that was compiled with */
    HYOID_E_SIZE      /* a struct has another size in the library that is running */
} hyoid_status;

/* A short English sentence for a status; static storage. */
const char *hyoid_status_text(hyoid_status status);

/* Bytes of the structs that a caller owns, in the library that is running: for bindings that have no header. */
size_t hyoid_chip_size(void);
size_t hyoid_stream_size(void);
size_t hyoid_pull_size(void);

/* Does the library that is running fit a program? It must have the program's major version (and minor, while major
 * is 0), not be older than its header, and agree on the sizes of hyoid_part, hyoid_chip, hyoid_stream and
 * hyoid_pull. A program that loads the library at run time calls HYOID_CHECK_BUILD() first. Errors:
 * HYOID_E_VERSION, HYOID_E_SIZE. */
hyoid_status hyoid_check_build(uint32_t version, size_t part, size_t chip, size_t stream, size_t pull);

/* hyoid_check_build with what this program was compiled with. */
#define HYOID_CHECK_BUILD()                                                                                          \
    hyoid_check_build(HYOID_VERSION, sizeof(hyoid_part), sizeof(hyoid_chip), sizeof(hyoid_stream), sizeof(hyoid_pull))

/* ---------------------------------------------------------------------------------------------
 * The part: every number that belongs to a piece of silicon
 * ------------------------------------------------------------------------------------------ */

#define HYOID_PHONEMES 64      /* phoneme codes, six pins */
#define HYOID_LEVELS 4         /* inflection levels, two pins */
#define HYOID_SLOTS 16         /* a phoneme's time in sixteenths */
#define HYOID_PULSE_MAX 256    /* entries that the pulse memory can hold */
#define HYOID_NEVER UINT64_MAX /* a clock that does not come */

/* One word of the phoneme memory. Kinds of fields: patent; widths: recalled; contents: the part's
 * provenance (reference/parts/default/phonemes.csv). */
typedef struct hyoid_phoneme {
    uint8_t f1;        /* first formant code, 0..15 */
    uint8_t f2;        /* second formant code, 0..31 */
    uint8_t f3;        /* third formant code, 0..15 */
    uint8_t bw2;       /* second formant's bandwidth code, 0..15 */
    uint8_t va;        /* voice amplitude code, 0..15 */
    uint8_t fa;        /* noise (friction) amplitude code, 0..15 */
    uint8_t fc;        /* noise spectrum code, 0 (front, at the fixed section) .. 15 (back, at F2) */
    uint8_t vd;        /* voice delay, sixteenths of the phoneme, 0..15 */
    uint8_t cld;       /* closure (for stops) or noise (for others) delay, sixteenths, 0..15 */
    uint8_t closure;   /* 1: a stop; the gate closes and a burst follows; 0 otherwise */
    uint8_t pause;     /* 1: both amplitude targets go to zero at once; 0 otherwise */
    uint16_t duration; /* filter cycles from latch to request, 1..65535 */
} hyoid_phoneme;

/* A switched-capacitor resonator whose capacitors follow an 8-bit register r. All values are ratios
 * to the integrating capacitor; see docs/chip.md, "The sections as switched capacitors". */
typedef struct hyoid_section {
    double k0; /* input and loop capacitor at r = 0, > 0 */
    double ks; /* added per step of r, >= 0; k0 + 255 ks < 2 */
    double k6; /* damping capacitor, 1e-6..1 */
} hyoid_section;

/* The numbers of one piece of silicon. hyoid_part_check holds every field against its range. */
typedef struct hyoid_part {
    hyoid_phoneme phoneme[HYOID_PHONEMES]; /* the phoneme memory, by code */

    /* clock tree and sequencer */
    double nominal_hz;      /* clock at which the chart's milliseconds hold; information only,
                                       the chip never reads it; above 0, at most 100e6 */
    uint32_t filter_clocks; /* clocks in one filter cycle, 2..4096 */
    uint32_t output_clocks; /* clocks from a filter cycle's start until the audio pin takes the
                                       new level (phase 2), 1..filter_clocks - 1 */
    uint32_t request_delay; /* clocks from the latch until request is low; 0 = in the latch's own
                                       clock; must end before the shortest phoneme does */
    uint32_t burst_slot;    /* sixteenth at which a stop opens and bursts, 1..15 */

    /* transitions */
    uint32_t formant_cycles;      /* filter cycles between moves of F1, F2, F3 and noise spectrum, 1..4096 */
    uint32_t amplitude_cycles;    /* filter cycles between moves of voice and noise amplitude, 1..4096 */
    uint32_t gate_cycles;         /* filter cycles between moves of the closing gate, 1..4096 */
    uint32_t transition_shift;    /* a move covers the difference / 2^this, at least one step, 0..7 */
    uint32_t stop_spectrum_shift; /* the same for the noise spectrum of a stop, 0..7 */
    uint32_t gate_shift;          /* a closing gate loses (value / 2^this, rounded up) per move, 0..7 */

    /* sources */
    uint32_t pitch_period[HYOID_LEVELS]; /* filter cycles in a pitch period at F1 register 0, 16..4096 */
    uint32_t pitch_f1_shift;             /* the period grows by (F1 register / 2^this): intrinsic pitch, 0..8 */
    uint32_t pulse_length;               /* entries of pulse in use, 1..256 */
    int16_t pulse[HYOID_PULSE_MAX];      /* one glottal pulse, a level per filter cycle; 0 afterwards */
    double pulse_unit;                   /* model units per step of pulse, 1e-9..1e3 */
    uint32_t noise_bits;                 /* length of the noise register, 2..31 */
    uint32_t noise_taps;         /* feedback = parity of (register & this), 1..2^noise_bits - 1; shifts right */
    uint32_t noise_seed;         /* register at power-up, 1..2^noise_bits - 1 */
    double noise_between_pulses; /* noise is scaled by this outside the pulse while voiced, 0..1 */
    uint32_t amplitude_power;    /* gain = (register / 255)^this, 1..3 */

    /* vocal tract; couplings and lowpass_k 0..1000, output_gain 1e-9..1e3 */
    hyoid_section f1, f2, f3; /* f2.k6 is the damping at bandwidth code 0 */
    double f2_k6_step;        /* damping added per bandwidth code, 0..1 */
    double f4_k;              /* fixed section: input and loop capacitors, above 0, below 2 */
    double f4_k6;             /* fixed section: damping, 1e-6..1 */
    double f4_feed;           /* fixed section: unswitched voice input, as a multiple of f4_k squared */
    double noise_f2;          /* noise ahead of F2, as a multiple of F2's input capacitor */
    double noise_f3;          /* noise ahead of F3, as a multiple of F3's input capacitor */
    double noise_f4;          /* noise into the fixed section, as a multiple of 4 + 2 f4_k6 - f4_k^2 */
    double noise_direct;      /* noise past the fixed section into the output summer */
    double lowpass_k;         /* output low-pass: y += k (x - y) / (1 + k) each filter cycle; 0 = none */
    double output_gain;       /* audio pin level per model unit; 1.0 at the pin is 0 dBFS (peak) in files */
} hyoid_part;

/* The default part: an ESTIMATE, not a reading of any chip. Static, constant storage. */
const hyoid_part *hyoid_part_default(void);

/* Checks every range above. On HYOID_E_PART *problem (if problem is not null) points to a static sentence that
 * names the field and what would be right. */
hyoid_status hyoid_part_check(const hyoid_part *part, const char **problem);

/* A 64-bit fingerprint (FNV-1a over every field in declaration order, little-endian), the same on every
 * machine; two parts with equal fingerprints sound alike. 0 if part is null. */
uint64_t hyoid_part_hash(const hyoid_part *part);

/* ---------------------------------------------------------------------------------------------
 * Faults: named defects that can be switched on, chip by chip
 * ------------------------------------------------------------------------------------------ */

/* The defects that can be switched on. hyoid_fault_describe gives each one's name and meaning. */
typedef enum hyoid_fault {
    HYOID_FAULT_P0_LOW,
    HYOID_FAULT_P1_LOW,
    HYOID_FAULT_P2_LOW,
    HYOID_FAULT_P3_LOW,
    HYOID_FAULT_P4_LOW,
    HYOID_FAULT_P5_LOW,
    HYOID_FAULT_P0_HIGH,
    HYOID_FAULT_P1_HIGH,
    HYOID_FAULT_P2_HIGH,
    HYOID_FAULT_P3_HIGH,
    HYOID_FAULT_P4_HIGH,
    HYOID_FAULT_P5_HIGH,
    HYOID_FAULT_I0_LOW,
    HYOID_FAULT_I1_LOW,
    HYOID_FAULT_I0_HIGH,
    HYOID_FAULT_I1_HIGH,
    HYOID_FAULT_STROBE_DEAD,
    HYOID_FAULT_REQUEST_LOW,
    HYOID_FAULT_REQUEST_HIGH,
    HYOID_FAULT_DIVIDER_SLOW,
    HYOID_FAULT_TIMER_SLOW,
    HYOID_FAULT_TIMER_FAST,
    HYOID_FAULT_FORMANTS_FROZEN,
    HYOID_FAULT_AMPLITUDES_FROZEN,
    HYOID_FAULT_GATE_OPEN,
    HYOID_FAULT_GATE_CLOSED,
    HYOID_FAULT_NO_VOICE,
    HYOID_FAULT_NO_NOISE,
    HYOID_FAULT_NOISE_STUCK,
    HYOID_FAULT_F1_DEAD,
    HYOID_FAULT_F2_DEAD,
    HYOID_FAULT_F3_DEAD,
    HYOID_FAULT_F4_DEAD,
    HYOID_FAULT_F1_DETUNED,
    HYOID_FAULT_F2_DETUNED,
    HYOID_FAULT_F3_DETUNED,
    HYOID_FAULT_LEAKY,
    HYOID_FAULT_HUM,
    HYOID_FAULT_OFFSET,
    HYOID_FAULT_CLIPPED,
    HYOID_FAULT_WEAK,
    HYOID_FAULTS
} hyoid_fault;

/* What a defect is called and does. */
typedef struct hyoid_fault_info {
    const char *name; /* such as "p3-low" */
    const char *what; /* one line, and what the strength means if it is graded */
    int graded;       /* 0: any strength above 0 is the whole fault */
} hyoid_fault_info;

/* The tone of HYOID_FAULT_HUM: two parabolas a period of so many clocks, whose peak is this share of full scale at strength
 * 1. Amounts of the model's own, no figures of any chip. */
#define HYOID_FAULT_HUM_CLOCKS 7200
#define HYOID_FAULT_HUM_PEAK 0.25

/* Name and meaning; static storage. Null if there is no such fault. */
const hyoid_fault_info *hyoid_fault_describe(hyoid_fault fault);

/* ---------------------------------------------------------------------------------------------
 * The chip: pins and clock cycles
 * ------------------------------------------------------------------------------------------ */

struct hyoid_chip;

/* Looks at any internal node once per filter cycle, after the sections have moved: `chip` holds registers, counters
 * and integrators; voice and noise are what the sources gave, level is on its way to the pin. Must not change
 * anything. */
typedef void hyoid_tap(void *user, const struct hyoid_chip *chip, uint64_t cycle, double voice, double noise,
                       double level);

/* State, grouped by block in the order in which the signal flows. The caller owns it and may copy it;
 * the fields are for reading (debuggers, displays); change them only through functions. */
typedef struct hyoid_chip {
    const hyoid_part *part; /* the caller's; must outlive the chip */
    uint64_t part_hash;     /* hyoid_part_hash(part), for snapshots */

    /* clock tree: absolute clock numbers; the first clock after power-up is number 1 */
    uint64_t cycle;       /* clocks so far */
    uint64_t tick_at;     /* clock of the next filter cycle's start */
    uint64_t pin_at;      /* clock at which the audio pin takes `level_next`, or HYOID_NEVER */
    uint64_t fall_at;     /* clock at which request falls, or HYOID_NEVER */
    uint64_t quiet_until; /* no block has work to do before this clock */

    /* pins */
    uint8_t code;        /* P0..P5 */
    uint8_t inflection;  /* I0..I1 */
    uint8_t strobe;      /* level */
    uint8_t request;     /* level: 1 = wants the next phoneme */
    uint8_t caught;      /* a rising edge waits for the next clock */
    uint8_t caught_code; /* the code that stood at that edge */

    /* sequencer */
    uint8_t phoneme;      /* code being spoken */
    uint8_t timing;       /* the timer runs */
    uint8_t latched;      /* the latch acted in the clock that is being worked on */
    uint32_t n;           /* filter cycles since the latch, stops at the duration */
    uint32_t n_voice;     /* n at which the voice target loads */
    uint32_t n_noise;     /* n at which the noise target loads, or a stop's gate closes */
    uint32_t n_burst;     /* n at which a stop opens */
    uint64_t latch_cycle; /* clock of the last latch, 0 before the first */
    uint64_t rise_cycle;  /* clock in which request last rose, 0 before the first */

    /* transitions: targets and the 8-bit registers that follow them */
    uint8_t t_f1, t_f2, t_f3, t_fc, t_va, t_fa;
    uint8_t r_f1, r_f2, r_f3, r_fc, r_va, r_fa;
    uint8_t bw2;                                /* bandwidth code in force */
    uint8_t gate;                               /* 255 open .. 0 closed */
    uint8_t gate_closing;                       /* the gate is being closed or is closed */
    uint32_t formant_in, amplitude_in, gate_in; /* filter cycles until the next move */

    /* sources */
    uint32_t pitch_count; /* filter cycles into the pitch period */
    uint32_t noise_reg;   /* the noise register */
    double noise;         /* the scaled noise one filter cycle ago */
    double noise_slope;   /* and its change then */

    /* vocal tract: first (u) and second (y) integrator of each section */
    double u1, y1, u2, y2, u3, y3, u4, y4;
    double lowpass; /* charge of the output low-pass */

    /* output */
    double level_next; /* computed in phase 1 */
    double level;      /* on the audio pin */

    /* Capacitor ratios and gains that the registers select: derived, refreshed when a register moves. */
    double k1, k2, k3;                                             /* input and loop capacitors */
    double q1, q2, q3, q4;                                         /* 1 / (1 + damping) */
    double feed4;                                                  /* fixed section's unswitched voice input */
    double noise_to_f2, noise_to_f3, noise_to_f4, noise_to_output; /* couplings times shares */
    double voice_gain;                                             /* model units per step of pulse */
    double noise_gain;                                             /* inside the pulse or unvoiced */
    double noise_gain_between;                                     /* outside the pulse */
    double output_gain;                                            /* gate and pin level */
    double lowpass_q;                                              /* 1 / (1 + the part's lowpass_k) */

    /* taps and faults; without them none of this costs anything */
    uint8_t probed; /* filter cycles are worked one by one, with a look at what follows */
    uint8_t faulty; /* some of them bend what the blocks do */
    uint8_t code_keep, code_force, inflection_keep, inflection_force, request_keep, request_force; /* stuck pins */
    uint8_t half;               /* a slow timer passes over every other filter cycle */
    uint32_t filter_clocks;     /* the part's, unless the divider is faulty */
    double fault[HYOID_FAULTS]; /* strengths, 0 = healthy */
    hyoid_tap *tap;             /* who looks at every filter cycle, or null */
    void *tap_user;             /* handed to it */
} hyoid_chip;

/* Powers the chip up with a part: request high, silent, cycle 0. The part is checked. Errors: HYOID_E_NULL,
 * HYOID_E_PART. */
hyoid_status hyoid_chip_init(hyoid_chip *chip, const hyoid_part *part);

/* Takes the power away and gives it back: as after hyoid_chip_init, inputs at 0, but with the same part, faults
 * and tap. The chip has no reset pin; this is what a host's reset line can do to it. Errors: HYOID_E_NULL,
 * HYOID_E_PART. */
hyoid_status hyoid_chip_reset(hyoid_chip *chip);

/* Pins. They take effect as docs/chip.md says, at the next clock or filter cycle. code is masked to
 * 6 bits, inflection to 2, strobe to 1. With a null chip these and
 * the further functions that return no status do nothing, or answer 0 (hyoid_chip_request_cycle: HYOID_NEVER). */
void hyoid_chip_set_code(hyoid_chip *chip, unsigned code);
void hyoid_chip_set_inflection(hyoid_chip *chip, unsigned inflection);
void hyoid_chip_set_strobe(hyoid_chip *chip, unsigned strobe);

/* A complete write: the code, then strobe let go if it was held, up and down, all between two clocks. */
void hyoid_chip_write(hyoid_chip *chip, unsigned code);

/* Advances the chip by this many clocks, at most 2^62 in all of its life (200,000 years at 720 kHz). Any cutting of
 * a span into calls gives the same state. */
void hyoid_chip_step(hyoid_chip *chip, uint64_t clocks);

/* A new level on the audio pin. */
typedef struct hyoid_level {
    uint64_t cycle; /* clock in which the pin took it */
    double value;   /* 1.0 = full scale by convention; may exceed it */
} hyoid_level;

/* Advances the chip by up to `clocks` and stores each new level of the audio pin, one per filter cycle. Stops
 * early only when `capacity` levels are stored; chip->cycle tells how far it came. Returns the number stored. */
size_t hyoid_chip_run(hyoid_chip *chip, uint64_t clocks, hyoid_level *levels, size_t capacity);

/* The most levels that so many clocks can give: a capacity with which hyoid_chip_run never stops early. 0 if chip
 * is null. */
uint64_t hyoid_chip_most_levels(const hyoid_chip *chip, uint64_t clocks);

/* Level of the request pin (0 or 1) and of the audio pin after the clocks so far. */
int hyoid_chip_request(const hyoid_chip *chip);
double hyoid_chip_output(const hyoid_chip *chip);

/* The clock in which the timer will raise request if no further strobe comes; a caught strobe is taken into account.
 * HYOID_NEVER if the timer does not run: request is high and stays so. (A stuck pin does not stop the timer.) */
uint64_t hyoid_chip_request_cycle(const hyoid_chip *chip);

/* Switches a fault on (strength above 0, at most 1) or off (0). Acts from the next clock on; a stuck request pin
 * shows at once. Errors: HYOID_E_NULL, HYOID_E_RANGE. */
hyoid_status hyoid_chip_set_fault(hyoid_chip *chip, hyoid_fault fault, double strength);

/* Installs a tap, or removes it (null). It changes no bit of the output. */
void hyoid_chip_set_tap(hyoid_chip *chip, hyoid_tap *tap, void *user);

/* The phoneme's present sixteenth, 0..16; 16 when its time is over. */
unsigned hyoid_chip_slot(const hyoid_chip *chip);

/* A batch: up to HYOID_BATCH chips in step, for fitting parts and for fleets. The chips may differ in part, inputs
 * and state, but not in clocks so far, nor in where their filter cycles and audio pins stand (true of chips that
 * were powered up and advanced together, with equal filter_clocks and output_clocks). Bit for bit the same as each
 * alone. */
#define HYOID_BATCH 8

/* Advances chips[0..count) by `clocks`. New levels of chip i go to levels[i * capacity], levels[i * capacity + 1],
 * ...; *stored is their number, the same for all. Errors: HYOID_E_NULL; HYOID_E_RANGE: count not 1..HYOID_BATCH,
 * chips out of step, or capacity too small: clocks / filter_clocks of the part + 1 always does. */
hyoid_status hyoid_batch_run(hyoid_chip *const *chips, size_t count, uint64_t clocks, double *levels, size_t capacity,
                             size_t *stored);

/* ---------------------------------------------------------------------------------------------
 * The stream: host time in, host-rate samples out
 *
 * Host time is a whole number of picoseconds from 0. Writes carry the time at which they happen and must
 * come in order. The clock is constant or glides linearly in time; edge k falls where the integral of
 * f dt is k. The chip's staircase is brought to the host's rate by band-limited steps at their
 * exact sub-sample times.
 * ------------------------------------------------------------------------------------------ */

#define HYOID_PS_PER_S INT64_C(1000000000000)              /* picoseconds in a second */
#define HYOID_TIME_MAX (INT64_C(4001000) * HYOID_PS_PER_S) /* 46 days */
#define HYOID_CLOCK_MAX 100e6                              /* Hz; far beyond what silicon would stand */
#define HYOID_RATE_MIN 8000u                               /* host sample rates, Hz */
#define HYOID_RATE_MAX 192000u                             /* and the highest */

#define HYOID_TAPS 64   /* host samples that one step touches */
#define HYOID_KEPT 8    /* kernels kept for sub-sample times that come back */
#define HYOID_BLOCK 256 /* host samples that can wait before some are handed out */

/* Receives what a stream produces, in order. Each may be null. They are called from inside the stream's functions and
 * must not call back into the same stream. */
typedef struct hyoid_observer {
    void *user; /* handed to each call */
    /* host-rate samples; at most HYOID_BLOCK + HYOID_TAPS a call; frames is valid during the call only */
    void (*frames)(void *user, const float *frames, size_t count);
    /* a new level on the audio pin, with its clock and host time (ps, as a whole number and a fraction in [0, 1)) */
    void (*level)(void *user, uint64_t cycle, int64_t ps, double fraction, double value);
    /* the latch acted: clock, host time (rounded down to ps), code */
    void (*latch)(void *user, uint64_t cycle, int64_t ps, unsigned code);
    /* request changed: clock, host time (rounded down to ps), new level */
    void (*request)(void *user, uint64_t cycle, int64_t ps, int level);
} hyoid_observer;

/* A stretch of time in which the clock is constant or moves linearly. Times in ps, frequencies in Hz. */
typedef struct hyoid_clock {
    int64_t from, to;        /* the glide as it was asked for; to = INT64_MAX: constant */
    double from_hz, to_hz;   /* Hz at the glide's ends */
    int64_t start, end;      /* the piece of it in force: never crosses a whole second */
    double start_hz, end_hz; /* Hz at the piece's ends */
    uint64_t start_cycle;    /* clock edges up to and at `start` */
    double start_phase;      /* cycles since the last of them, [0, 1) */
    double period;           /* ps per cycle while constant */
} hyoid_clock;

/* Host-rate output by band-limited steps. */
typedef struct hyoid_output {
    uint32_t rate;  /* host samples per second */
    int64_t first;  /* number of the host sample in bin[0]; those before 0 are not handed out */
    int64_t filled; /* first host sample whose held level is not yet known */
    double level;   /* the staircase's present level */
    float held[HYOID_BLOCK + 2 * HYOID_TAPS]; /* the staircase's level at each host sample */
    float bin[HYOID_BLOCK + 2 * HYOID_TAPS];  /* what band-limiting adds to it */
    /* While clock and rate stand in a simple ratio, few sub-sample times keep coming back: their kernels are kept. A
     * memory of work done, not of sound: it never changes a bit. */
    uint32_t seen_count, seen[HYOID_KEPT], kept_count, kept[HYOID_KEPT];
    float kept_kernel[HYOID_KEPT][HYOID_TAPS];
} hyoid_output;

#define HYOID_IMAGE_STEPS 4096 /* most steps per filter cycle when images are left out */

/* The low-pass in the staircase's own time, when its images are left out. */
typedef struct hyoid_images {
    uint32_t left_out;              /* 0: the staircase goes to the host as it is */
    uint32_t steps, step;           /* smaller steps in the present filter cycle, and how many were handed on */
    uint64_t cycle;                 /* clock in which the pin took history[0] */
    double history[HYOID_TAPS + 1]; /* the last levels, newest first */
} hyoid_images;

/* A chip on the host's time line; the fields are for reading. */
typedef struct hyoid_stream {
    hyoid_chip chip;         /* faults and a tap may be set on it; its inputs are the functions' */
    hyoid_clock clock;       /* its clock in host time */
    hyoid_output output;     /* samples on their way out */
    hyoid_images images;     /* used while images are left out */
    hyoid_observer observer; /* who is told */
    int64_t now;             /* every clock edge before this host time has been run, ps */
    uint8_t request_told;    /* the level of request that the observer knows */
} hyoid_stream;

/* Starts a stream at time 0 with the part's nominal clock. rate: host samples per second,
 * HYOID_RATE_MIN..HYOID_RATE_MAX, or 0 for no host-rate output. observer is copied and may be null. Errors:
 * HYOID_E_NULL, HYOID_E_RANGE, HYOID_E_PART. */
hyoid_status hyoid_stream_init(hyoid_stream *stream, const hyoid_part *part, uint32_t rate,
                               const hyoid_observer *observer);

/* Each of the following first runs the stream up to `ps` (and hands out what became final), then changes an input
 * there. Errors: HYOID_E_NULL, HYOID_E_PAST (ps before stream->now), HYOID_E_RANGE. */

/* Phoneme write: code, strobe let go if it was held, up and down, at one instant. */
hyoid_status hyoid_stream_write(hyoid_stream *stream, int64_t ps, unsigned code);
/* Single pins, for hosts that drive them one by one. */
hyoid_status hyoid_stream_set_code(hyoid_stream *stream, int64_t ps, unsigned code);
hyoid_status hyoid_stream_set_strobe(hyoid_stream *stream, int64_t ps, unsigned strobe);
hyoid_status hyoid_stream_set_inflection(hyoid_stream *stream, int64_t ps, unsigned inflection);
/* Constant clock from ps on; hz 0..HYOID_CLOCK_MAX; 0 freezes the chip, its output holds. Ends a glide. */
hyoid_status hyoid_stream_set_clock(hyoid_stream *stream, int64_t ps, double hz);
/* The clock moves linearly from its present frequency at ps to hz at end_ps (> ps), then stays. */
hyoid_status hyoid_stream_glide_clock(hyoid_stream *stream, int64_t ps, int64_t end_ps, double hz);

/* Keeps (the default) or leaves out the images that the staircase has above half the filter rate. A real chip sends
 * them to its amplifier. Without them the sound comes HYOID_TAPS / 2 filter cycles later (1.6 ms at 720 kHz) and is
 * band-limited to 0.42 of the filter rate. Works down to a clock of rate * filter_clocks / HYOID_IMAGE_STEPS (422 Hz
 * at 48 kHz). Best called before time moves. Only frames differ; levels stay as they are. Errors: HYOID_E_NULL. */
hyoid_status hyoid_stream_keep_images(hyoid_stream *stream, int keep);

/* Runs every clock edge before ps and hands out every host sample that no later edge can change: those up to
 * HYOID_TAPS / 2 samples before ps. */
hyoid_status hyoid_stream_run(hyoid_stream *stream, int64_t ps);

/* Runs up to and including the clock in which request rises, but not past limit_ps. *reached_ps (if not null) is
 * then the first whole picosecond after that clock's edge: the earliest time at which a host can answer, and the
 * answer acts at the next clock. If request does not rise before limit_ps, runs to limit_ps and *reached_ps is -1.
 * If request is high already, returns at once with *reached_ps = stream->now. */
hyoid_status hyoid_stream_run_to_request(hyoid_stream *stream, int64_t limit_ps, int64_t *reached_ps);

/* Snapshots: the whole state of a stream (chip, clock, pending samples, faults; not observer and tap) as bytes, the
 * same on every machine: versioned, little-endian, with length and checksum. For keeping; within a program,
 * assigning the struct is simpler and faster. */
#define HYOID_SNAPSHOT_MAX 4096

/* Writes a snapshot and returns its length, or 0 if `room` is too small (HYOID_SNAPSHOT_MAX always does) or a
 * pointer is null. */
size_t hyoid_snapshot_write(const hyoid_stream *stream, uint8_t *bytes, size_t room);

/* Restores a snapshot into a stream that hyoid_stream_init has set up with the same part and rate; its observer and
 * tap stay. Anything else than a whole, unharmed snapshot of this version and part is refused with HYOID_E_SNAPSHOT,
 * and the stream stays as it was. */
hyoid_status hyoid_snapshot_read(hyoid_stream *stream, const uint8_t *bytes, size_t length);

/* The clock's frequency at stream->now, Hz. */
double hyoid_stream_clock_hz(const hyoid_stream *stream);

/* Levels that the audio pin takes in a second at the present clock (20000 at 720 kHz): the rate of the staircase
 * that the observer's `level` and hyoid_chip_run give. Hz; 0 while the clock stands still or if stream is null. */
double hyoid_stream_chip_rate(const hyoid_stream *stream);

/* Power off and on, at time 0 again: as after hyoid_stream_init, clock at the part's nominal one, but with the
 * same part, rate, observer, tap, faults and images kept or left out. Samples under way are dropped. Errors:
 * HYOID_E_NULL, HYOID_E_PART. */
hyoid_status hyoid_stream_reset(hyoid_stream *stream);

/* Level of the request pin as a host sees it at `ps` if nothing is written until then, without moving the stream:
 * it may be asked as often as a host polls. Works on a copy on the stack (hyoid_stream_size bytes). Errors:
 * HYOID_E_NULL, HYOID_E_PAST, HYOID_E_RANGE (ps above HYOID_TIME_MAX). */
hyoid_status hyoid_stream_request_at(const hyoid_stream *stream, int64_t ps, int *level);

/* The most host samples that a stream hands out while it runs `ps` picoseconds, over all calls to the observer
 * together: a buffer of this size is never too small. 0 if rate is 0 or ps is negative. */
uint64_t hyoid_most_frames(uint32_t rate, int64_t ps);

/* ---------------------------------------------------------------------------------------------
 * The pull: a stream for hosts that fetch audio, in blocks of any size
 *
 * Inputs are queued with the time at which they act, and act exactly then, however the audio is cut into blocks. Both
 * ways of moving time may be mixed:
 *   hyoid_pull_frames  fetches samples and moves the stream exactly as far as they need (an audio callback)
 *   hyoid_pull_run     moves the stream to the host's time; the samples that became final wait in the ring
 *                      (a main loop that then fetches hyoid_pull_ready of them)
 * A sample is final HYOID_TAPS / 2 samples after its time, so fetching runs the stream that far ahead of the samples.
 * Ring and queue are the caller's memory; assigning a hyoid_pull does not copy them.
 * ------------------------------------------------------------------------------------------ */

/* Times that are not picoseconds. */
#define HYOID_ASAP INT64_C(-1)     /* relaxed pulls only: as soon as possible */
#define HYOID_ON_REQUEST INT64_MIN /* as soon as request is high: the library shakes hands, as a waiting host would */

/* What an input changes. */
typedef enum hyoid_input_kind {
    HYOID_INPUT_WRITE,      /* phoneme write: code, strobe up and down; value 0..63 */
    HYOID_INPUT_CODE,       /* the code pins; value 0..63 */
    HYOID_INPUT_STROBE,     /* the strobe pin; value 0..1 */
    HYOID_INPUT_INFLECTION, /* the inflection pins; value 0..3 */
    HYOID_INPUT_CLOCK,      /* constant clock of hz from here on */
    HYOID_INPUT_GLIDE       /* the clock moves linearly to hz at end_ps */
} hyoid_input_kind;

/* An input that waits in the queue. */
typedef struct hyoid_input {
    int64_t ps;     /* host time at which it acts, or HYOID_ON_REQUEST */
    int64_t end_ps; /* HYOID_INPUT_GLIDE: host time at which it arrives, ps */
    double hz;      /* HYOID_INPUT_CLOCK, HYOID_INPUT_GLIDE: Hz, 0..HYOID_CLOCK_MAX */
    uint32_t kind;  /* a hyoid_input_kind */
    uint32_t value; /* code or level */
} hyoid_input;

/* How a pull is set up. */
typedef struct hyoid_pull_setup {
    const hyoid_part *part; /* must outlive the pull */
    uint32_t rate;          /* host samples per second, HYOID_RATE_MIN..HYOID_RATE_MAX */
    uint32_t
        relaxed; /* 1: an input in the past, or at HYOID_ASAP, acts at the earliest possible time; 0: it is refused */
    float *ring; /* samples that are final but not fetched */
    size_t ring_room;        /* samples; at least 1, and hyoid_most_frames of the longest span between two fetches
                                if hyoid_pull_run is used */
    hyoid_input *queue;      /* inputs that wait for their time */
    size_t queue_room;       /* inputs, at least 1 */
    hyoid_observer observer; /* level, latch and request as for a stream, and like there they must not call back into
                                the same pull; frames is not called */
} hyoid_pull_setup;

/* A stream with its ring and queue; for reading only. */
typedef struct hyoid_pull {
    hyoid_stream stream;     /* run it through the pull's functions only */
    hyoid_observer observer; /* the host's */
    uint32_t relaxed;        /* 1: late inputs act at once; 0: they are refused */
    int64_t last_ps;         /* time of the input that was queued last, ps: none may be queued before it */
    float *ring;             /* the caller's */
    size_t ring_room;        /* samples that it can hold */
    size_t ring_first;       /* where the next sample to be fetched stands */
    size_t ring_count;       /* samples that wait */
    hyoid_input *queue;      /* the caller's */
    size_t queue_room;       /* inputs that it can hold */
    size_t queue_first;      /* where the next input to act stands */
    size_t queue_count;      /* inputs that wait */
    float *out;              /* where a fetch that is under way puts samples, or null */
    size_t out_left;         /* and how many it still wants */
} hyoid_pull;

/* Starts a pull at time 0 with the part's nominal clock. Errors: HYOID_E_NULL (a pointer), HYOID_E_RANGE (rate,
 * rooms), HYOID_E_PART. */
hyoid_status hyoid_pull_init(hyoid_pull *pull, const hyoid_pull_setup *setup);

/* As hyoid_stream_reset; ring and queue are emptied. Errors: HYOID_E_NULL, HYOID_E_PART. */
hyoid_status hyoid_pull_reset(hyoid_pull *pull);

/* Each of the following queues an input for host time ps (or HYOID_ASAP, HYOID_ON_REQUEST). Inputs act in the
 * order in which they were queued; behind one that waits for request, the others wait too. In a pull that is not
 * relaxed, ps must be neither before the stream's present nor before the input queued last: HYOID_E_PAST. Further
 * errors: HYOID_E_NULL; HYOID_E_RANGE: a value as for the stream's functions, or ps above HYOID_TIME_MAX;
 * HYOID_E_FULL: the queue. */

/* Phoneme write: code 0..63, strobe up and down at one instant. Of several at one instant the chip takes the last. */
hyoid_status hyoid_pull_write(hyoid_pull *pull, int64_t ps, unsigned code);
/* The code pins alone, 0..63. */
hyoid_status hyoid_pull_set_code(hyoid_pull *pull, int64_t ps, unsigned code);
/* The strobe pin alone, 0..1. */
hyoid_status hyoid_pull_set_strobe(hyoid_pull *pull, int64_t ps, unsigned strobe);
/* The inflection pins, 0..3. */
hyoid_status hyoid_pull_set_inflection(hyoid_pull *pull, int64_t ps, unsigned inflection);
/* Constant clock, hz 0..HYOID_CLOCK_MAX. */
hyoid_status hyoid_pull_set_clock(hyoid_pull *pull, int64_t ps, double hz);
/* The clock moves linearly to hz, which it reaches at end_ps (> ps; if the glide starts too late for that, it is
 * there at once). */
hyoid_status hyoid_pull_glide_clock(hyoid_pull *pull, int64_t ps, int64_t end_ps, double hz);

/* Fetches `count` samples, the next ones in order, and moves the stream as far as they need. count 0 does nothing.
 * Errors, upon which nothing is fetched: HYOID_E_NULL; HYOID_E_RANGE: beyond HYOID_TIME_MAX. */
hyoid_status hyoid_pull_frames(hyoid_pull *pull, float *out, size_t count);

/* Moves the stream to host time ps. A ps that is past already (after a fetch) is no error in a relaxed pull and
 * does nothing. Errors: HYOID_E_NULL, HYOID_E_PAST, HYOID_E_RANGE; HYOID_E_FULL: the ring might not hold what
 * becomes final. */
hyoid_status hyoid_pull_run(hyoid_pull *pull, int64_t ps);

/* Lets all queued inputs act that are due up to limit_ps, then runs until request rises, as
 * hyoid_stream_run_to_request does: *reached_ps (may be null) is the earliest time at which a host can answer, or
 * -1 if limit_ps was reached first. Errors as for hyoid_pull_run; a limit that is past already is HYOID_E_PAST. */
hyoid_status hyoid_pull_run_to_request(hyoid_pull *pull, int64_t limit_ps, int64_t *reached_ps);

/* Level of the request pin at `ps`, with the inputs that are queued, without moving anything. A ps that is past
 * already is answered for the present in a relaxed pull. Works on a copy on the stack (hyoid_pull_size bytes).
 * Errors: HYOID_E_NULL, HYOID_E_PAST, HYOID_E_RANGE. */
hyoid_status hyoid_pull_request_at(const hyoid_pull *pull, int64_t ps, int *level);

/* Samples that can be fetched without moving the stream; 0 if pull is null. */
size_t hyoid_pull_ready(const hyoid_pull *pull);

/* Number of the sample that is fetched next, counted from 0 at time 0: its time is this / rate. 0 if pull is null. */
uint64_t hyoid_pull_position(const hyoid_pull *pull);

/* Snapshots of a pull: the stream's, with the samples and inputs that wait. */

/* Bytes that hyoid_pull_snapshot_write needs now; 0 if pull is null. Never above
 * HYOID_SNAPSHOT_MAX + 64 + 4 * ring_room + 32 * queue_room. */
size_t hyoid_pull_snapshot_size(const hyoid_pull *pull);

/* Writes a snapshot and returns its length, or 0 if `room` is too small or a pointer is null. */
size_t hyoid_pull_snapshot_write(const hyoid_pull *pull, uint8_t *bytes, size_t room);

/* Restores a snapshot into a pull that was set up with the same part and rate; observer, tap and relaxed stay as
 * they are. Errors, upon which the pull stays as it was: HYOID_E_NULL; HYOID_E_SNAPSHOT: no whole, unharmed
 * snapshot of this version, part and rate; HYOID_E_FULL: ring or queue are too small for what waited. */
hyoid_status hyoid_pull_snapshot_read(hyoid_pull *pull, const uint8_t *bytes, size_t length);

#ifdef __cplusplus
}
#endif

#endif
