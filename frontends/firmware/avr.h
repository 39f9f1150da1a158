/* The microcontroller: libsimavr, its ports wired to a board. avr.c powers it up and runs it, avr_pins.c is the wiring. */
#ifndef HY_AVR_H
#define HY_AVR_H

#include <stdint.h>

#include <sim_avr.h>

#include <avr_timer.h>

#include "avr_text.h"
#include "board.h"
#include "simulate.h"

enum {
    HY_AVR_PORTS = 'L' - 'A' + 1,
    HY_AVR_CLOCK = HY_PINS, /* the lead behind the chip's inputs */
    HY_AVR_LEADS
};

/* A timer's output that drives a lead. */
typedef struct hy_avr_outlet {
    struct hy_avr *machine;
    avr_timer_t *timer; /* null: the lead's pin is no timer's */
    int comparator;
    int level;
} hy_avr_outlet;

typedef struct hy_avr {
    const hy_simulation *simulation;
    const hy_wiring *wiring;
    avr_t *avr;
    hy_board board;
    hy_diag *diag;
    uint8_t port[HY_AVR_PORTS], ddr[HY_AVR_PORTS]; /* as last written */
    struct hy_avr_port {
        struct hy_avr *machine;
        int port;
    } param[HY_AVR_PORTS];
    hy_avr_outlet outlet[HY_AVR_LEADS];
    int clock;          /* the level of a clock that the firmware makes */
    avr_irq_t *request; /* the pin that the chip's request drives, or null */
    int was_reset;
    hy_simulated *simulated;
    hy_avr_text text;
} hy_avr;

/* Connects ports, timers, request and UART; -1 with the place in the wiring file if the microcontroller lacks one. */
int hy_avr_wire(hy_avr *m);

/* The level that the chip sees on a lead: a hy_pin or HY_AVR_CLOCK. */
int hy_avr_level(hy_avr *m, int lead);

/* Puts the level of request on its pin. */
void hy_avr_show_request(hy_avr *m);

/* A reset has set every port to 0 and forgotten the alarm for request. */
void hy_avr_ports_reset(hy_avr *m);

#endif
