/* The last step of a VCD: changes of wires, put in order and written.
 *
 * Changes come nearly in order: the fall of an implied strobe is known only when the next one rises, up to 20 us later. So
 * they wait in groups, one a nanosecond, until nothing earlier can come. Within a nanosecond the last
 * value of each wire stands. Everything at 0 goes into $dumpvars. */
#ifndef HY_VCD_QUEUE_H
#define HY_VCD_QUEUE_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Wires of one bit, packed: bits 0..5 are p0..p5, from which the vector p is made. */
enum {
    HY_VCD_CODE = 0x03f,
    HY_VCD_I0 = 0x040,
    HY_VCD_I1 = 0x080,
    HY_VCD_STROBE = 0x100,
    HY_VCD_REQUEST = 0x200,
    HY_VCD_BITS = 10
};

/* What a dump holds. Programs of logic analysers read signals of one bit alone, and stop at a vector, a real or a comment
 * behind the header (libsigrok 0.5.2 does). */
typedef enum hy_vcd_holds {
    HY_VCD_LOGIC, /* the wires, each by itself, and nothing else */
    HY_VCD_PINS,  /* also p, clock_hz and marks */
    HY_VCD_ALL    /* also audio */
} hy_vcd_holds;

typedef struct hy_vcd_group {
    int64_t ns;
    unsigned mask, bits; /* which wires are set, and to what */
    int has_clock, has_audio, merged;
    double clock, audio;
} hy_vcd_group;

typedef struct hy_vcd_mark {
    int64_t ns;
    char *name;
} hy_vcd_mark;

typedef struct hy_vcd_queue {
    FILE *out;
    hy_vcd_holds holds;
    int out_of_memory;
    hy_vcd_group *groups; /* ascending; used are [first, count) */
    size_t first, count, capacity;
    hy_vcd_mark *marks; /* the same */
    size_t first_mark, mark_count, mark_capacity;
    /* what the file says so far */
    int started; /* $dumpvars is written */
    int64_t stamp;
    unsigned bits;
    double clock_hz, level;
} hy_vcd_queue;

/* Writes the header, with note (null or empty: none) as a comment. The queue starts with the pins as after power-up: all low, request high. */
void hy_vcd_queue_start(hy_vcd_queue *queue, FILE *out, hy_vcd_holds holds, const char *note);

/* Changes at a nanosecond that has not been flushed. */
void hy_vcd_queue_bits(hy_vcd_queue *queue, int64_t ns, unsigned mask, unsigned bits);
void hy_vcd_queue_clock(hy_vcd_queue *queue, int64_t ns, double hz);
void hy_vcd_queue_audio(hy_vcd_queue *queue, int64_t ns, double level);
void hy_vcd_queue_merged(hy_vcd_queue *queue, int64_t ns);                 /* a comment: pulses had to be merged */
void hy_vcd_queue_mark(hy_vcd_queue *queue, int64_t ns, const char *name); /* times not decreasing */

/* Writes everything before `limit`. */
void hy_vcd_queue_flush(hy_vcd_queue *queue, int64_t limit);

/* Writes the rest and the last time stamp. */
void hy_vcd_queue_end(hy_vcd_queue *queue, int64_t end_ns);

void hy_vcd_queue_free(hy_vcd_queue *queue);

#endif
