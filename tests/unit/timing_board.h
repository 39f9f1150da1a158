/* A board with the model on it, and an instrument at its pins: captures with known faults for the tests of hyoid timing. */
#ifndef HY_TEST_TIMING_BOARD_H
#define HY_TEST_TIMING_BOARD_H

#include <stdint.h>
#include <stdio.h>

#include <hyoid/hyoid.h>

enum { BOARD_STROBE = 8, BOARD_REQUEST = 9, BOARD_CLOCK = 10, BOARD_PINS = 11 }; /* 0..5 code, 6 and 7 inflection */

typedef struct board_edge {
    double s; /* time */
    int pin;
    char level;   /* 0, 1, x */
    size_t order; /* of being added */
} board_edge;

typedef struct board {
    hyoid_chip chip;
    double hz, slope; /* the clock: hz (1 + slope s) */
    uint64_t seed;
    board_edge *edge;
    size_t count, room;
    unsigned levels;
    double end;
} board;

/* Powers up; times begin a little after 0. */
void board_start(board *b, double hz, double slope, uint64_t seed);
/* The same with another part than the default, which must outlive the board. */
void board_start_part(board *b, const hyoid_part *part, double hz, double slope, uint64_t seed);
void board_free(board *b);

/* Strobes a code `answer` clocks from now on (a fraction of one too), and waits for request; or, with hold > 0, so many clocks. The
 * strobe is 7 clocks wide. */
void board_say(board *b, unsigned code, double answer, double hold);
void board_inflect(board *b, unsigned level,
                   double clocks); /* so many clocks behind the last strobe, while the phoneme lasts */

/* A random number below `below`. */
unsigned board_random(board *b, unsigned below);

/* Edges by hand, afterwards. */
void board_edge_add(board *b, double s, int pin, char level);
board_edge *board_find(board *b, int pin, char level, unsigned which); /* the which-th such edge from 0 */
void board_remove(board *b, board_edge *edge);
void board_add_clock(board *b);

/* What an instrument with `rate` samples a second writes (0: a simulator, to the nanosecond), as a dump in a temporary file. The
 * code's pins are p0..p5. `jitter`: of every edge, s, as large as that in either direction. */
FILE *board_capture(board *b, double rate, double jitter);

#endif
