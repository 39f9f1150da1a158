/* What was said to a chip, as its sequencer sees it: phonemes in a row, each until the next. */
#ifndef HY_SPEECH_H
#define HY_SPEECH_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

typedef struct hy_said {
    uint8_t code;
    uint8_t level;
    uint8_t waits;  /* the host waits for request: the phoneme lasts its own time */
    uint32_t ticks; /* filter cycles: after request if it waits, from strobe to strobe if not */
} hy_said;

/* Filter cycles that an item lasts with this part. */
uint32_t hy_said_ticks(const hyoid_part *part, const hy_said *said);

/* Filter cycles of a pitch period while the F1 register rests where the item wants it. */
uint32_t hy_said_period(const hyoid_part *part, const hy_said *said);

/* The dividers that run free: formants and noise spectrum, amplitudes, closure. */
enum { HY_DIVIDERS = 3 };

/* What a chip that has been on for a while brings along. */
typedef struct hy_start {
    int settled;                   /* formant registers stand where item 0 wants them; 0: as at power-up */
    uint32_t pitch;                /* where the pitch counter stands; it may be anywhere in its period */
    uint32_t noise;                /* the noise register; 0: as at power-up */
    uint32_t divider[HY_DIVIDERS]; /* how far the dividers of the transitions are on their way to the next move */
} hy_start;

/* Says items [0, count) from power-up, but for `start`, and stores the staircase, one level per filter cycle, the first one that the
 * latch of item 0 can have changed first. onset (count + 1 entries, or null) gets the index at which each item's time
 * begins, and the end. Stops at `room` levels. Returns the number stored. */
size_t hy_speech_render(const hyoid_part *part, hy_start start, const hy_said *said, size_t count, float *levels,
                        size_t room, uint32_t *onset);

#endif
