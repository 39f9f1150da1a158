/* What comes out of the simulator as text: the firmware's own, and the simulator's complaints. */
#ifndef HY_AVR_TEXT_H
#define HY_AVR_TEXT_H

#include <stdarg.h>
#include <stddef.h>

#include "diag.h"
#include "wiring.h"

typedef struct hy_avr_text {
    int descriptor;
    char line[512];
    size_t used;
    int open;         /* the last line that was written has no end yet */
    char trouble[80]; /* the simulator's last complaint, in our words */
} hy_avr_text;

/* From here on the simulator's own standard output goes nowhere. */
void hy_avr_text_start(hy_avr_text *text, int descriptor);

/* A character from the UART. A line is shown when it ends or grows long; carriage returns are left out, and what a terminal might
 * take for a command is shown as \xNN. */
void hy_avr_text_put(hy_avr_text *text, unsigned char c);
void hy_avr_text_finish(hy_avr_text *text);

void hy_avr_text_trouble(hy_avr_text *text, const char *format, va_list args) __attribute__((format(printf, 2, 0)));
const char *hy_avr_text_reason(const hy_avr_text *text);

/* "found X; ..." for a microcontroller of an unknown type; -1. */
int hy_avr_unknown(const hy_wiring *wiring, const char *wiring_name, const char *const *names, size_t count,
                   hy_diag *diag);

#endif
