/* The board around a chip: what a microcontroller does to the chip's pins is written down, and at once done to a chip that
 * answers with request. Nobody listens to that chip; sound is made later, from the log, as for every other way in. */
#ifndef HY_BOARD_H
#define HY_BOARD_H

#include <stdint.h>

#include <hyoid/hyoid.h>

#include "clocklog.h"
#include "diag.h"
#include "log.h"

/* How the firmware drives strobe, in CPU cycles; UINT64_MAX: was not seen. */
typedef struct hy_strobing {
    uint64_t strobes;     /* rising edges */
    uint64_t least_width; /* strobe high */
    uint64_t least_setup; /* from the last change of the code to strobe's rise */
    uint64_t least_hold;  /* from strobe's rise to the next change of the code */
} hy_strobing;

typedef struct hy_board {
    uint32_t mcu_hz;
    hy_log *log;
    hy_diag *diag;
    int by_edges;     /* the microcontroller makes the clock */
    int request;      /* the level that the microcontroller has been shown */
    uint64_t stirred; /* tick of the last thing that happened */
    hy_strobing strobing;

    /* by edges: the chip alone, which is brought up to date when it matters */
    hyoid_chip chip;
    uint64_t edges, due; /* so far; the edge in which something will happen to request */
    uint64_t last_edge, period;
    hy_clocklog clocklog;

    /* with a clock of its own: the chip on the host's time line, as when the log is rendered */
    hyoid_stream stream;

    /* levels of the chip's inputs, and ticks of the last changes, for the account of strobes */
    uint8_t level[HY_PINS];
    int strobe_known; /* strobe has been low: a level that stands when the chip powers up makes no edge */
    uint64_t code_changed, strobe_rose;
} hy_board;

/* Powers the chip up. clock_hz: its own clock, or < 0 if edges will come. The log must be empty. level: the inputs'
 * levels at time 0, by hy_pin. 0, or -1; hy_board_free is due either way. */
int hy_board_init(hy_board *b, const hyoid_part *part, uint32_t mcu_hz, double clock_hz, const uint8_t level[HY_PINS],
                  hy_log *log, hy_diag *diag);
void hy_board_free(hy_board *b);

/* An input changes (nothing if it doesn't). Ticks (ticks.h) must not decrease. 0, or -1. */
int hy_board_pin(hy_board *b, uint64_t tick, hy_pin pin, int level);

/* A rising edge of the clock. 0, or -1. If request changes in this clock, b->request is the new level. */
int hy_board_edge(hy_board *b, uint64_t tick);

/* With a clock of its own: the CPU cycle (after that of `tick`) from which on the microcontroller sees request change if no
 * strobe comes, or UINT64_MAX. 0, or -1. */
int hy_board_next_request(hy_board *b, uint64_t tick, uint64_t *cycle);

/* And that cycle has come. */
void hy_board_show_request(hy_board *b, uint64_t cycle);

/* Whether nothing has happened for so many ticks and nothing is under way: no phoneme's time runs. */
int hy_board_idle(const hy_board *b, uint64_t tick, uint64_t ticks);

/* `tick` has come, and the log ends at `end` (or with its last row, if that is later). 0, or -1. */
int hy_board_finish(hy_board *b, uint64_t tick, uint64_t end);

#endif
