/* Firmware and chip in lockstep: what comes of it is the write log of all that the firmware did to the chip's pins. */
#ifndef HY_SIMULATE_H
#define HY_SIMULATE_H

#include <stdint.h>

#include <hyoid/hyoid.h>

#include "board.h"
#include "diag.h"
#include "log.h"
#include "wiring.h"

typedef enum hy_ended {
    HY_ENDED_LIMIT, /* the time asked for was over */
    HY_ENDED_IDLE,  /* nothing has happened for so long */
    HY_ENDED_ASLEEP /* the firmware slept with interrupts off: nothing can wake it */
} hy_ended;

typedef struct hy_simulation {
    const char *firmware; /* path of the ELF file */
    const hy_wiring *wiring;
    const char *wiring_name; /* for messages */
    const hyoid_part *part;
    uint64_t limit, idle; /* CPU cycles; idle UINT64_MAX: never */
    int text;             /* descriptor for what the firmware's UART says */
} hy_simulation;

typedef struct hy_simulated {
    hy_ended ended;
    uint64_t cycles; /* CPU cycles that were run */
    uint64_t resets; /* by the watchdog */
    uint64_t edges;  /* of a clock that the firmware makes */
    int fights;      /* the firmware drove the pin that request drives */
    hy_strobing strobing;
} hy_simulated;

/* Null, or why nothing can be simulated: a line that says what was left out, and what to install. */
const char *hy_simulator_missing(void);

/* Runs the firmware in a process of its own, so that nothing that it does to the simulator can do harm. The caller's log, or
 * null: the diagnosis names a crash of the firmware, a pin that this microcontroller does not have, ... */
hy_log *hy_simulate(const hy_simulation *simulation, hy_simulated *simulated, hy_diag *diag);

/* What runs in there: fills the (empty) log. Only called by hy_simulate. 0, or -1. */
int hy_simulate_here(const hy_simulation *simulation, hy_log *log, hy_simulated *simulated, hy_diag *diag);

#endif
