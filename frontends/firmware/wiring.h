/* The wiring file: which pin of a microcontroller goes to which pin of the chip (docs/firmware.md, hyoid-wiring(5)).
 *
 *     mcu       atmega328p
 *     frequency 14.4M
 *     p       = PC0..PC5
 *     i0      = low
 *     i1      = PD5
 *     strobe  = PD4 inverted pull-up
 *     request = PD2
 *     clock   = PB3                 # or a clock of its own: clock = 720k
 *     uart      0 */
#ifndef HY_WIRING_H
#define HY_WIRING_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"
#include "log.h"

enum {
    HY_MCU_NAME_MAX = 31,
    HY_MCU_HZ_MAX = 25000000 /* four ticks of a cycle must stay below the chip model's fastest clock */
};

typedef enum hy_lead_kind { HY_UNWIRED, HY_TIED_LOW, HY_TIED_HIGH, HY_TO_PORT } hy_lead_kind;

/* Where a pin of the chip goes. */
typedef struct hy_lead {
    hy_lead_kind kind;
    char port;    /* 'A'..'L' */
    unsigned bit; /* 0..7 */
    int inverted; /* an inverter stands between the two */
    int pull;     /* what the line rests at while the microcontroller doesn't drive it: 1 up, -1 down, 0 nothing */
    unsigned line, column; /* of the place in the file, for messages */
} hy_lead;

typedef struct hy_wiring {
    char mcu[HY_MCU_NAME_MAX + 1];
    unsigned mcu_line, mcu_column;
    uint32_t mcu_hz;
    hy_lead pin[HY_PINS]; /* the chip's inputs; no strobe is HY_UNWIRED */
    hy_lead request;      /* HY_UNWIRED: the firmware doesn't look */
    hy_lead clock;        /* HY_UNWIRED: the chip has a clock of its own, of clock_hz */
    double clock_hz;
    int uart;                        /* number of the one whose text is shown, or -1 */
    unsigned uart_line, uart_column; /* 0: not said in the file */
} hy_wiring;

/* Reads text; `name` is for messages. 0, or -1 with FILE:LINE:COLUMN, what was found, what could stand there. */
int hy_wiring_parse(hy_wiring *wiring, const char *name, const char *text, size_t size, hy_diag *diag);

/* The same from a regular file. */
int hy_wiring_read(hy_wiring *wiring, const char *path, hy_diag *diag);

#endif
