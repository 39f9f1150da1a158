/* What the examples say, as codes with inflection: "High water at six." (hyoid spell, then hyoid render --log). */
#ifndef SPEECH_H
#define SPEECH_H

#include <avr/pgmspace.h>
#include <stdint.h>

static const struct {
    uint8_t code, level;
} speech[] PROGMEM = {
    {0x1b, 1}, {0x15, 3}, {0x0a, 3}, {0x2d, 1}, {0x13, 2}, {0x04, 1}, {0x3a, 1},
    {0x2f, 1}, {0x2a, 1}, {0x1f, 1}, {0x0b, 2}, {0x19, 0}, {0x1f, 0}, {0x3e, 0},
};
#define SPEECH_LENGTH (sizeof speech / sizeof speech[0])

#endif
