/* hyoid timing: handshake and phoneme timing of a captured board or part, judged. */
#ifndef HY_TIMING_H
#define HY_TIMING_H

#include "measure.h"
#include "outfile.h"

/* The table and the summary as text, on standard output; `quiet`: the summary only. 0, or -1 if it can't be written. */
int hy_timing_print(const hy_timing *timing, const char *name, const char *part, int quiet);

/* What a report says of the test beside what was measured; null: not known. */
typedef struct hy_timing_paper {
    const char *capture; /* the file's name */
    const char *item, *instrument, *date, *command;
    const char *part_name; /* its folder; null: built-in */
    const hyoid_part *part;
    const char *map; /* for the pictures, which read the capture again */
    double sample_hz;
    int64_t glitch_ps;
    uint64_t fingerprint; /* of the file's bytes, FNV-1a */
} hy_timing_paper;

/* JSON with the keys of docs/captures.md, finished but not committed. Null on error. */
hy_outfile *hy_timing_json(const hy_timing *timing, const hy_timing_paper *paper, const char *path, hy_diag *diag);

/* The page, finished but not committed. `in` is the capture, read again for pictures of the pins. Null on error. */
hy_report *hy_timing_report(const hy_timing *timing, const hy_timing_paper *paper, FILE *in, const char *path,
                            hy_diag *diag);

/* One line: "FAIL: 1 of 31 rows fails (...)". */
typedef struct hy_timing_line {
    char text[300];
} hy_timing_line;
hy_timing_line hy_timing_summary(const hy_timing *timing);

/* "719.98 kHz +- 0.01 kHz, counted on its pin (1234 edges)". */
hy_timing_line hy_timing_clock(const hy_timing *timing);

/* "to +-42 ns (24 MHz samples; two pins to +-84 ns)". */
hy_timing_line hy_timing_resolution(const hy_timing *timing);

/* The verb: argv[0] is its name; returns the exit status. */
int hy_timing_main(int argc, char **argv);

#endif
