/* A microcontroller's time. It counts ticks, four to a CPU cycle, which keep apart what happens in one cycle:
 *
 *     4 c        a timer moves its output pin, or the chip's request comes in
 *     4 c + 2    the instruction that starts in cycle c moves a port's pins
 *     4 c + 3    such a pin is the chip's clock: data moved by the same instruction are there first
 *
 * Ticks become the log's whole picoseconds by integers only, rounded down. */
#ifndef HY_TICKS_H
#define HY_TICKS_H

#include <stddef.h>
#include <stdint.h>

enum { HY_TICKS = 4 };

/* The time of a tick, and what was rounded off: 0 <= *fraction < 1 ps (null: not wanted). mcu_hz: 1..25e6. */
int64_t hy_ticks_ps(uint64_t tick, uint32_t mcu_hz, double *fraction);

/* The first CPU cycle that starts at or after ps. */
uint64_t hy_ticks_cycle(int64_t ps, uint32_t mcu_hz);

#endif
