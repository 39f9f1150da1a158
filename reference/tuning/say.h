/* Speaks codes with a part: a host that answers each request at once, its sound at any host rate. */
#ifndef TUNING_SAY_H
#define TUNING_SAY_H

#include <stddef.h>
#include <stdint.h>

#include <hyoid/hyoid.h>

typedef struct sound {
    float *frames;
    size_t count, room;
    uint32_t rate;
} sound;

/* Says codes[0..count) at an inflection level and a clock, then lets the last one ring for tail_ms more. The first sound starts
 * one clock after power-up. Appends to *out, which must be zeroed before its first use. */
void say(sound *out, const hyoid_part *part, const uint8_t *codes, size_t count, unsigned level, double clock_hz,
         uint32_t rate, double tail_ms);

/* Writes one code and lets it sound for ms (it goes on after its time is up, as the chip does). */
void hold(sound *out, const hyoid_part *part, unsigned code, unsigned level, double clock_hz, uint32_t rate,
          double ms);

void sound_free(sound *s);

#endif
